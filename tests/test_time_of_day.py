"""The clocks of a job: the time of day may be set, the machine may sleep or start anew; waits heed only the clock that counts."""
from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.__main__ import main
from companion.core import events as ev
from companion.core.job.inputs import CameBack
from companion.core.log.rfc3339 import is_stamp, milliseconds, stamp
from companion.edge.cards import read_card
from companion.edge.device import device_key
from companion.edge.job import _new_path
from companion.edge.logfile import LogFile
from companion.edge.loop import replayed
from companion.core.log.journal import Entry, public_hex
from simulator import at

HOUR_S = 3_600


def set_clock(job, seconds: float):
    """Somebody, or the network, sets the time of day; no time passes."""
    job.at += round(seconds * 1000)
    return job


def steps(job) -> list[int]:
    return [event.by_ms for event in job.kinds(ev.TimeOfDaySet)]


# -- the time of day is set --------------------------------------------------------------------------------------------

@pytest.mark.parametrize("seconds", [-26 * HOUR_S, -HOUR_S, -3, 3, HOUR_S, 400 * 24 * HOUR_S])
def test_a_time_of_day_that_was_set_is_logged_once_and_said_to_nobody(seconds):
    """Before the fact that came next, in the same decision; what was heard belongs to that fact alone."""
    job = at("rags").wait(60)
    spoken = len(job.spoken)
    set_clock(job, seconds)
    assert not steps(job)
    job.say("three")
    assert steps(job) == [seconds * 1000]
    place = job.events.index(job.kinds(ev.TimeOfDaySet)[0])
    assert isinstance(job.events[place + 1], ev.CountLogged) and job.events[place].heard is None
    assert not any("time" in text.lower() for text in job.spoken[spoken:])
    job.wait(60).say("repeat")
    assert len(steps(job)) == 1


@pytest.mark.parametrize("seconds", [-2, 0, 2])
def test_two_seconds_are_no_step(seconds):
    """The network slews the clock by so much in an hour of silence (500 parts in a million)."""
    assert not steps(set_clock(at("rags"), seconds).say("three"))


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 300), st.integers(-100_000, 100_000)), min_size=1, max_size=8))
def test_no_setting_of_the_clock_moves_a_wait_a_run_or_a_timer(story):
    """Two jobs through the same minutes, one of them on a machine whose clock is set again and again: marks, questions and
    ends come at the same moments of the clock that counts; and all steps together are as far as the clocks are apart."""
    for step in ("pressure-wait", "watch", "torque"):
        calm, set_again = at(step), at(step)
        for job in (calm, set_again):
            job.say("timer two minutes") if step == "torque" else None
        for seconds, by in story:
            calm.wait(seconds)
            set_clock(set_again, by).wait(seconds)
        moments = [[(event, now.up_ms) for event, now in zip(job.events, job.stamps)
                    if not isinstance(event, ev.TimeOfDaySet)] for job in (calm, set_again)]
        assert moments[0] == moments[1]
        last = set_again.stamps[-1]
        apart = (last.at_ms - set_again.stamps[0].at_ms) - (last.up_ms - set_again.stamps[0].up_ms)
        assert abs(sum(steps(set_again)) - apart) <= 2_000 * len(set_again.events)


def test_a_clock_set_during_a_wait_is_logged_at_its_next_mark():
    """Nobody needs to speak for it."""
    job = set_clock(at("pressure-wait").wait(1), HOUR_S).wait(239)
    assert steps(job) == [HOUR_S * 1000] and job.job.at == "rail-pressure"


# -- asleep ------------------------------------------------------------------------------------------------------------

def test_a_wait_that_the_machine_slept_over_ends_at_once_and_a_run_is_broken():
    """The clock that counts went on in its sleep, and the wait with it; nobody watched the run."""
    job = at("pressure-wait").wait(10).jump(8 * HOUR_S)
    assert job.job.at == "rail-pressure" and not steps(job)
    job = at("watch").wait(10).jump(8 * HOUR_S)
    assert job.kinds(ev.RunBroken)[-1].why == "a gap in time" and not steps(job)
    assert "Stop the engine now" in " ".join(job.spoken[-3:])


def test_a_clock_that_does_not_count_sleep_makes_waits_longer_never_shorter():
    """Where a system has no clock that counts suspend, the time of day alone goes on: logged as set, and the wait goes on."""
    job = set_clock(at("pressure-wait").wait(10), 8 * HOUR_S).wait(229)
    assert job.job.at == "pressure-wait" and job.job.clocks["bleed-down"].left(job.up) == 1_000
    assert steps(job) == [8 * HOUR_S * 1000]


# -- away --------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("set_by_s, same_boot, away_s, logged", [
    (0, True, 160, []), (-HOUR_S, True, 160, [-HOUR_S]), (HOUR_S, True, 160, [HOUR_S]),
    (0, False, 160, []), (-HOUR_S, False, 0, [160 - HOUR_S]), (HOUR_S, False, 160 + HOUR_S, [])])
def test_time_away_is_told_by_the_clock_that_counts_and_else_by_the_time_of_day(set_by_s, same_boot, away_s, logged):
    """From the last entry on. After another start of the machine a time before that entry is a sure sign that the clock was
    set; one after it tells nothing, and so the companion says by what it goes."""
    job = set_clock(at("pressure-wait").wait(100), set_by_s).come_back(60, same_boot)
    assert job.kinds(ev.JobResumed)[-1].away_ms == away_s * 1000
    assert steps(job) == [by * 1000 for by in logged]
    said = next(text for text in job.spoken if text.startswith("Job resumed"))
    assert ("by the time of day" in said) == (not same_boot and away_s > 0)
    assert ("time of day was set back. No time away counts" in said) == (not same_boot and away_s == 0)
    assert ("say negative when asked about the wait" in said) == (not same_boot and away_s > 0)


@pytest.mark.parametrize("back_s", [1, HOUR_S, 400 * 24 * HOUR_S])
def test_a_clock_set_back_while_away_never_shortens_a_wait(back_s):
    """Promise 1: even where the mechanic affirms that the key was out, not a second counts that cannot be shown."""
    job = at("pressure-wait").wait(100)
    left = job.job.clocks["bleed-down"].left(job.job.last_up_ms)
    set_clock(job, -100).come_back(-back_s, same_boot=False).say("same mechanic", "affirm", "affirm")
    assert job.job.clocks["bleed-down"].left(job.up) == left
    job.wait(left / 1000 - 0.001)
    assert job.job.at == "pressure-wait"
    assert job.wait(0.001).job.at == "rail-pressure"


def test_who_doubts_the_time_of_day_has_the_wait_from_its_beginning():
    """As the companion says on coming back."""
    job = set_clock(at("pressure-wait").wait(100), HOUR_S).come_back(1, same_boot=False)
    assert job.say("same mechanic", "affirm", "negative").job.clocks["bleed-down"].left(job.up) == 240_000


# -- leap seconds, and an hour that comes twice ------------------------------------------------------------------------

LEAP = "2016-12-31T23:59:60.500Z"
"""The last leap second so far (IERS Bulletin C 52, from memory)."""


def test_a_log_with_a_leap_second_is_read_and_no_clock_is_moved_by_it():
    """Python writes none, but another writer of this format may: 23:59:60 counts as the second after it, as in POSIX."""
    assert is_stamp(LEAP) and milliseconds(LEAP) == milliseconds("2017-01-01T00:00:00.500Z")
    assert stamp(milliseconds(LEAP)) == "2017-01-01T00:00:00.500Z"
    begun = at("pressure-wait")
    entries = [Entry(n, stamp(now.at_ms), now.up_ms, event) for n, (event, now) in enumerate(zip(begun.events, begun.stamps))]
    job = replayed(entries[:-1] + [entries[-1]._replace(at=LEAP)])
    assert job.last_at_ms == milliseconds(LEAP) and job.clocks == begun.job.clocks


def test_a_log_written_through_a_leap_second_holds_resumes_and_is_told(tmp_path, monkeypatch, capsys):
    """verify, record, review and the resumed job all read it."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    path, job = tmp_path / "leap.jsonl", at("rags")
    key, begun = device_key(), replace(job.events[0], key=public_hex(device_key()))
    with LogFile.create(path, key) as log:
        for event, now in zip((begun, *job.events[1:]), job.stamps):
            log.append([event], LEAP, now.up_ms)
    resumed, entries, _ = LogFile.resume(path, key)
    resumed.close()
    assert replayed(entries).at == "rags" and {entry.at for entry in entries} == {LEAP}
    assert main(["verify", str(path)]) == 0 and main(["record", str(path), "--text"]) == 0
    assert main(["review", str(tmp_path)]) in (0, 1) and "leap" in capsys.readouterr().out


def test_new_logs_are_named_by_utc_so_that_they_sort_and_never_collide(tmp_path, monkeypatch):
    """The night on which an hour comes twice, at half past two the first time and the second, and twice in one second."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    summer, winter = timezone(timedelta(hours=2)), timezone(timedelta(hours=1))
    moments = [datetime(2026, 10, 25, 2, 50, tzinfo=summer), datetime(2026, 10, 25, 2, 10, tzinfo=winter)]

    class Night(datetime):
        """At each of these moments in turn."""

        @classmethod
        def now(cls, tz=None):
            return moments[0].astimezone(tz)

    monkeypatch.setattr("companion.edge.job.datetime", Night)
    names = []
    while moments:
        path = _new_path(read_card("learning"))
        path.touch()
        assert _new_path(read_card("learning")) != path
        names.append(path.name)
        moments.pop(0)
    assert names == ["learning-20261025-005000Z.jsonl", "learning-20261025-011000Z.jsonl"] == sorted(names)


# -- the real clocks ---------------------------------------------------------------------------------------------------

SET_IN_THE_MIDDLE = """
    import io, sys, threading, time
    from companion.__main__ import main
    from companion.core.job.inputs import Heard
    from companion.edge.live import Live
    real, took, by, answered = time.time_ns, Live._took, 0, threading.Semaphore(0)
    def lines():
        global by
        for line, by in (("repeat", 0), ("timer one minute", -7200), ("how long", 3600), ("stop job", 3600), ("affirm", 3600)):
            yield line + chr(10)
            answered.acquire()
    def tell(live, what, made):
        took(live, what, made)
        if isinstance(what, Heard):
            answered.release()
    class Typed(io.StringIO):
        def __iter__(self):
            return lines()
    Live._took, time.time_ns, sys.stdin = tell, lambda: real() + by * 1_000_000_000, Typed()
    sys.exit(main(["job", "learning", "--typed", "--voice", "none", "--log", sys.argv[1]]))
"""


def test_the_real_program_logs_a_clock_that_is_set_under_it_and_its_timer_does_not_heed_it(tmp_path):
    """A process whose time of day is set back two hours and on three, between its inputs: the log shows each step, holds,
    and what it says is left on the timer is still a minute."""
    log, env = tmp_path / "job.jsonl", {"COMPANION_HOME": str(tmp_path / "home")}
    script = textwrap.dedent(SET_IN_THE_MIDDLE)
    done = subprocess.run([sys.executable, "-c", script, str(log)], env={**os.environ, **env}, capture_output=True,
                          text=True, timeout=60, cwd=Path(__file__).parents[1])
    assert done.returncode == 0, done.stderr
    entries = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
    by = [entry["data"]["by_ms"] for entry in entries if entry["event"] == "time_of_day_set"]
    assert len(by) == 2 and abs(by[0] + 7_200_000) < 1_000 and abs(by[1] - 10_800_000) < 1_000
    assert [entry["up"] for entry in entries] == sorted(entry["up"] for entry in entries)
    assert "left on your timer" in done.stdout and "hour" not in done.stdout.split("left on your timer")[0][-60:]


def test_another_start_of_the_machine_begins_its_own_count():
    """`up` of two starts is never compared, however the clock of day stands."""
    job = at("torque").wait(500)
    job.at, job.up = job.at + 1_000, 7
    job.take(CameBack("boot two", False))
    assert not steps(job) and job.job.last_up_ms == 7
