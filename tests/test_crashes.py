"""Simulated crashes of a real job: a few of those that `python tests/crashes.py` makes by the thousand."""
from __future__ import annotations

import pytest

from companion.edge import durable
from crashes import run
from disk_job import Wrong
from failing_disk import KINDS, Disk


def test_no_crash_loses_what_was_acknowledged(tmp_path):
    """Every kind of crash, fifteen of each: what was acknowledged is there, the job goes on at its step with its clocks, a loss is
    said and logged, and every job ends with a log that holds."""
    tallies = run(15 * len(KINDS), 7, tmp_path)
    assert sum(tally.crashes for tally in tallies.values()) == 15 * len(KINDS)
    assert not any(tally.lost for tally in tallies.values())
    assert all(tally.acknowledged for tally in tallies.values())
    assert sum(tally.torn for tally in tallies.values()) > 20 and sum(tally.held for tally in tallies.values()) > 10


def called_again(disk: Disk, fd: int) -> None:
    try:
        real_fsync(disk, fd)
    except OSError:
        real_fsync(disk, fd)


real_fsync = Disk.fsync
CARELESS = [("no fsync at all", lambda disk, fd: None), ("a failed fsync called again", called_again)]


@pytest.mark.parametrize("fsync", [row[1] for row in CARELESS], ids=[row[0] for row in CARELESS])
def test_a_careless_program_is_found_out(fsync, tmp_path, monkeypatch):
    """The simulated disk does lose what a program did not wait for, or waited for as if nothing had happened."""
    monkeypatch.setattr(Disk, "fsync", fsync)
    with pytest.raises(Wrong, match="acknowledged|the log is there"):
        run(300, 7, tmp_path)
    assert durable.os.__name__ == "os"
