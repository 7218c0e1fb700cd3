"""Eight hours of work on the simulated clock. By itself: `python tests/long_work.py`, with every `fsync` done."""
from __future__ import annotations

import os

import pytest

from long_work import work


def test_eight_hours_and_5000_utterances_drift_by_nothing_and_grow_by_nothing(tmp_path, monkeypatch: pytest.MonkeyPatch):
    """Every mark and end of 120 waits and hundreds of timers at its very millisecond; the job's state and the program's memory
    at the end as after the first sixteenth; the log holds, and replays to the same state. (Without waiting for the disk.)"""
    monkeypatch.setattr(os, "fsync", lambda fd: None)
    found = work(8, 5_000, tmp_path)
    assert found.utterances == 5_000 and found.waits == 120 and found.clocks > 700 and found.late == []
    assert found.growth <= 0.05, found.memory_mb
    assert found.state_kb[-1] <= 1.05 * found.state_kb[0], found.state_kb
    assert found.holds
