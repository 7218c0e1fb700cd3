"""Input that is hostile by its size: a message, soon, and little memory. `python tests/heavy.py` tries all there is."""
from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from heavy import HEAVY, MOST_MB

MANY = """
import json, sys
from companion.__main__ import main
for argv in json.loads(sys.argv[1]):
    try:
        print("exit", main(argv))
    except SystemExit as end:
        print("exit", end.code)
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""
CHOSEN = ("billion laughs", "a card of 1 GB", "a card 200,000 levels deep", "a log that is one line of 1 GB")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a process's peak is told otherwise there")
def test_what_is_huge_is_refused_soon_and_in_little_memory(tmp_path) -> None:
    """A gigabyte as card, log or key, anchors upon anchors, brackets upon brackets: all in one process, within 300 MB."""
    commands = []
    for place, one in enumerate(heavy for heavy in HEAVY if heavy.what in CHOSEN and heavy.command[0] in ("check", "verify", "record")):
        path = tmp_path / f"{place}-{Path(one.file).name}"
        one.make(path)
        commands.append([part.replace("FILE", str(path)) for part in one.command])
    done = subprocess.run([sys.executable, "-c", MANY, json.dumps(commands)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                          env={**os.environ, "COMPANION_HOME": str(tmp_path / "home")})
    *said, peak = done.stdout.splitlines()
    assert done.returncode == 0 and said.count("exit 1") + said.count("exit 2") == len(commands), said
    assert "Traceback" not in done.stdout and len(done.stdout) < 5_000
    assert int(peak) // 1024 <= MOST_MB, f"{int(peak) // 1024} MB"
