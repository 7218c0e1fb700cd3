"""Tests that need a part of the machine: they skip with a reason, or fail where nothing may be skipped."""
from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import parts_needed

NEEDY = ("from parts_needed import PARTS, needs\n"
         "PARTS['a lathe'] = (lambda: {}, 'buy one')\n"
         "def test_it(): needs('a lathe')\n")
WHOLE_FILE = "import pytest\npytest.importorskip('no_such_module')\n"


def run_of(folder: Path, text: str, forbidden: str) -> subprocess.CompletedProcess:
    """One run of pytest over a file with `text`, under this project's own conftest."""
    (folder / "conftest.py").write_text((Path(__file__).parent / "conftest.py").read_text("utf-8"), "utf-8")
    (folder / "test_needy.py").write_text(text, "utf-8")
    return subprocess.run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "."], cwd=folder, text=True,
                          env=os.environ | {"COMPANION_NO_SKIPS": forbidden, "PYTHONPATH": str(Path(__file__).parent)},
                          capture_output=True, check=False)


@pytest.mark.parametrize("text, forbidden, code", [
    (NEEDY.format(False), "0", 0), (NEEDY.format(False), "1", 1), (NEEDY.format(True), "1", 0),
    (WHOLE_FILE, "1", 1)], ids=["skips", "fails", "has it", "a whole file fails"])
def test_a_skip_fails_where_nothing_may_be_skipped(tmp_path: Path, text: str, forbidden: str, code: int) -> None:
    """A missing part skips on a bare machine and fails on one that has it all, even if a whole file is skipped."""
    done = run_of(tmp_path, text, forbidden)
    assert done.returncode == code, done.stdout
    assert ("COMPANION_NO_SKIPS is set" in done.stdout) == (code == 1)
    assert code != 1 or "buy one" in done.stdout or "no_such_module" in done.stdout


def test_each_part_can_be_looked_for_and_says_how_to_get_it() -> None:
    """No look raises, whatever the machine has."""
    for there, get in parts_needed.PARTS.values():
        assert there() in (True, False) and get
