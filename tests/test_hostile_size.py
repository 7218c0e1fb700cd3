"""Input that is hostile by its size: a message, soon, and little memory. `python tests/heavy.py` tries all there is."""
from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from heavy import CHECK, MOST_MB, RECORD, VERIFY
from hostile.huge import FULL, LAUGHS, text, zeros

MANY = """
import json, sys
from companion.__main__ import main
for argv in json.loads(sys.argv[1]):
    print("exit", main(argv))
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""
HUGE = ((text(LAUGHS), "laughs.yaml", CHECK), (zeros(FULL), "card.yaml", CHECK), (text("[" * 200_000), "deep.yaml", CHECK),
        (zeros(FULL), "line.jsonl", VERIFY), (zeros(FULL), "line.jsonl", RECORD))


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a process's peak is told otherwise there")
def test_what_is_huge_is_refused_soon_and_in_little_memory(tmp_path) -> None:
    """A gigabyte as card or log, anchors upon anchors, brackets upon brackets: all in one process, within 300 MB."""
    commands = []
    for make, name, command in HUGE:
        make(tmp_path / name)
        commands.append([part.replace("FILE", str(tmp_path / name)) for part in command])
    done = subprocess.run([sys.executable, "-c", MANY, json.dumps(commands)], stdout=subprocess.PIPE,
                          stderr=subprocess.STDOUT, text=True, env={**os.environ, "COMPANION_HOME": str(tmp_path / "home")})
    *said, peak = done.stdout.splitlines()
    assert done.returncode == 0 and said.count("exit 1") + said.count("exit 2") == len(commands), said
    assert "Traceback" not in done.stdout and len(done.stdout) < 5_000
    assert int(peak) // 1024 <= MOST_MB, f"{int(peak) // 1024} MB"
