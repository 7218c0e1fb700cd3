"""A disk that does not take the log: the job goes on by voice, calls nothing logged, and catches up when there is room."""
from __future__ import annotations

import errno
import os
import queue
import re

import pytest

from companion.core import events as ev
from companion.core.job.inputs import LogFailed
from companion.core.log.chain import Chain, replay
from companion.core.log.evidence import examine
from companion.core.log.journal import Sealed
from companion.edge import backlog, durable
from companion.edge.logfile import NotWritten
from companion.edge.loop import Closed, replayed, run
from companion.edge.screen.board import board
from companion.errors import BrokenMachine
from disk_job import DiskJob, Faulty, WHOLE, failing, read
from simulator import TO, at

FULL = "The log cannot be written. The disk is full. What you say is kept in memory only. Make room."


@pytest.fixture
def job(tmp_path) -> DiskJob:
    return DiskJob(tmp_path / "van.jsonl")


@pytest.fixture
def disk(monkeypatch):
    """Makes the disk fail with an errno, and work again where that is 0."""
    def conduct(number: int, call: str = "write") -> None:
        monkeypatch.setattr(durable, "os", Faulty(**{call: failing(number)}) if number else os)
    return conduct


def events(path) -> list[ev.Event]:
    """The events of a whole log, without seals."""
    entries = replay(path.read_bytes().splitlines(keepends=True), {}, Chain())
    return [entry.event for entry in entries if not isinstance(entry.event, Sealed)]


def holds(path) -> bool:
    return examine(lambda: path.read_bytes().splitlines(keepends=True)).holds


def test_a_full_disk_is_said_at_once_and_nothing_is_called_logged(job, disk):
    """The words come before the answer, and the next step reminds of it, after which it goes on as ever."""
    job.to("codes")
    size, count = job.path.stat().st_size, len(job.spoken)
    disk(errno.ENOSPC)
    job.say("no codes")
    assert job.spoken[count:count + 3] == [FULL, "No codes. Not logged yet.", "Spell the part's code."]
    job.say(1, "alfa one bravo two", "affirm")
    assert "Not logged yet. The log is still not written. Stage: make safe." in job.since(count)
    assert job.path.stat().st_size == size and job.job.at == "key-out"
    assert board(job.job, job.job.last_up_ms).sound == "log not written"


WORDS = [(errno.EDQUOT, "write", "The disk is full."), (errno.EIO, "write", "The disk has failed."),
         (errno.EIO, "fsync", "The disk has failed."), (errno.EROFS, "write", "The disk cannot be written to.")]


@pytest.mark.parametrize("number, call, words", WORDS, ids=[f"{errno.errorcode[row[0]]} {row[1]}" for row in WORDS])
def test_every_way_of_failing_is_told_and_caught_up(job, disk, number, call, words):
    """What is on the disk is what was acknowledged; when the disk works again, all is written, in order, with its own times."""
    job.to("codes")
    disk(number, call)
    job.say("no codes", 7, "alfa one bravo two", 3, "affirm")
    assert f"The log cannot be written. {words}" in " ".join(job.spoken)
    disk(0)
    count = len(job.spoken)
    job.say(5)
    assert "The log is written again." in job.since(count)
    job.close()
    entries = read(job.path)
    told = [entry for entry in entries if isinstance(entry.event, (ev.LogHeldBack, ev.LogCaughtUp))]
    assert [type(entry.event) for entry in told] == [ev.LogHeldBack, ev.LogCaughtUp] and holds(job.path)
    held = [entry for entry in entries if told[0].n <= entry.n < told[1].n]
    assert told[1].event.since == told[0].at == held[0].at
    assert told[1].event.entries == sum(not isinstance(entry.event, Sealed) for entry in held) == 9
    assert sorted({entry.up - told[0].up for entry in held}) == [0, 7000, 10_000]
    assert replayed(entries) == job.job


def test_a_disk_that_fails_twice_is_told_twice_and_each_time_counted_anew(job, disk):
    """What was held the first time fills no memory the second time."""
    for lines in (("next",), ("alfa bravo", "affirm", "next")):
        disk(errno.ENOSPC)
        job.say(*lines)
        disk(0)
        job.say(5)
    job.close()
    entries = read(job.path)
    first, second = (entry for entry in entries if isinstance(entry.event, ev.LogCaughtUp))
    begun = [entry.n for entry in entries if isinstance(entry.event, ev.LogHeldBack)]
    for start, end in zip(begun, (first, second)):
        assert end.event.entries == sum(not isinstance(entry.event, Sealed) for entry in entries[start:end.n])


def test_cautions_clocks_runs_and_emergencies_go_on_while_the_log_is_held_back(tmp_path, disk):
    """A whole job on a disk that is full from its second step: as with a disk that works, but for what is said of the log."""
    plain, held = DiskJob(tmp_path / "plain.jsonl"), DiskJob(tmp_path / "held.jsonl")
    plain.say(*WHOLE[:-1])
    held.say(WHOLE[0])
    disk(errno.ENOSPC)
    held.say(*WHOLE[1:-1])
    words = [text.replace("Not logged yet.", "Logged.") for text in held.spoken
             if text not in (FULL, "The log is still not written.")]
    assert words == plain.spoken
    count = len(held.spoken)
    held.say("emergency")
    assert "Go to hospital" in held.since(count)
    same = "at", "trail", "outcomes", "answers", "clocks", "safeguards"
    assert all(getattr(held.job, name) == getattr(plain.job, name) for name in same)


def test_the_end_waits_for_the_log(job, disk):
    """No closing seal before all is on the disk; then the job ends, sealed, and nothing is lost."""
    job.say(*WHOLE[:-3])
    disk(errno.ENOSPC)
    job.say(*WHOLE[-3:])
    assert job.job.mode == "unwritten" and not job.companion.over and not job.log.closing_seal
    assert job.spoken[-1].startswith("The last step is done. The log cannot be written yet.")
    job.say(30, "repeat", "next")
    assert "Only the log is not written yet" in job.spoken[-1] and "seal" not in job.since(10)
    disk(0)
    job.say(5)
    assert job.companion.over and job.log.closing_seal and "The closing seal" in job.spoken[-1]
    kinds = [type(event) for event in events(job.path)[-2:]]
    assert kinds == [ev.LogCaughtUp, ev.JobEnded] and holds(job.path)


def test_the_end_that_meets_the_full_disk_itself_waits_too(job, disk):
    """The very decision that would have ended the job is the first that cannot be written."""
    job.say(*WHOLE[:-1])
    disk(errno.ENOSPC)
    job.say(WHOLE[-1])
    assert job.job.mode == "unwritten" and not job.job.done
    disk(0)
    job.say(5)
    assert job.companion.over and holds(job.path)


def test_a_job_that_is_left_is_kept_only_when_it_is_written(job, disk):
    """"stop job" while the disk is full: the program goes on until the log is written, and says which it is."""
    job.to("tidy")
    disk(errno.ENOSPC)
    job.say("stop job", "affirm")
    assert "It is not on the disk yet." in job.spoken[-1] and not job.companion.over
    disk(0)
    job.say(5)
    assert "The job is kept." in job.spoken[-1] and job.companion.over and holds(job.path)


def test_a_disk_that_fills_again_while_it_is_caught_up_loses_nothing(job, disk, monkeypatch):
    """Room for a part only, twice: what was written is not written again, the rest follows in order."""
    monkeypatch.setattr(backlog, "AT_ONCE", 3)
    job.to("codes")
    disk(errno.ENOSPC)
    job.say("no codes", "alfa one bravo two", "affirm", "next", 240, "zero bar")
    room = [1500]

    def write(fd, data):
        if not room[0]:
            failing(errno.ENOSPC)()
        written = os.write(fd, data[:room[0]])
        room[0] -= written
        return written

    for _ in range(2):
        monkeypatch.setattr(durable, "os", Faulty(write=write))
        job.say(60)
        assert job.job.held and not room[0]
        room[0] = 1500
    disk(0)
    job.say(60)
    assert not job.job.held and holds(job.path)
    job.close()
    entries = read(job.path)
    assert replayed(entries) == job.job and sum(isinstance(entry.event, ev.LogCaughtUp) for entry in entries) == 1


def test_a_reason_that_changes_is_told_anew(job, disk):
    """A full disk that then fails altogether."""
    job.to("torque")
    disk(errno.ENOSPC)
    job.say("7.5")
    disk(errno.EIO)
    count = len(job.spoken)
    job.say(20)
    assert job.since(count).count("The disk has failed.") == 1
    disk(0)
    job.say(10)
    assert [event.why for event in events(job.path) if isinstance(event, ev.LogHeldBack)] == [
        "the disk is full", "the disk has failed"]


def test_a_changed_file_is_never_written_to_again(job):
    """Another program changed what was acknowledged: it is said, the job goes on, the file is left as it is, and the end
    of the program tells how much is not in it."""
    job.to("torque")
    text = job.path.read_bytes().replace(b'"welcome"', b'"welcame"') + b"\n"
    job.path.write_bytes(text)
    count = len(job.spoken)
    job.say("7.5")
    assert "What is on the disk is not what was logged. What you say is kept in memory only." in job.since(count)
    job.say(60, "cylinder two")
    assert job.path.read_bytes() == text and job.companion.last_try() > 3 and job.job.at == "rags"
    job.say("stop job", "affirm")
    assert "It is not whole on the disk." in job.spoken[-1] and job.companion.over and job.path.read_bytes() == text


def test_a_job_whose_first_entry_cannot_be_written_is_not_begun(tmp_path, disk):
    """That is an error at the start, and is said."""
    disk(errno.ENOSPC)
    with pytest.raises(NotWritten, match="No space left"):
        DiskJob(tmp_path / "a.jsonl")
    assert (tmp_path / "a.jsonl").read_bytes() == b""


def test_a_log_that_cannot_be_made_leaves_nothing_behind(tmp_path, disk):
    """So that the next try can take the same name."""
    disk(errno.EIO, "fsync")
    with pytest.raises(BrokenMachine):
        DiskJob(tmp_path / "a.jsonl")
    assert not list(tmp_path.iterdir())


def test_a_job_is_taken_up_again_even_on_a_full_disk(job, disk):
    """The new start of the machine stands before what tells that the log is held back, for its clock counts anew."""
    job.to("torque")
    job.close()
    disk(errno.ENOSPC)
    again = DiskJob.resumed(job.path, "boot 2")
    assert again.spoken[-3].startswith("Job resumed") and again.spoken[-1] == FULL
    again.say("same mechanic", "7.5")
    disk(0)
    again.say(5)
    again.close()
    kinds = [type(entry.event) for entry in read(job.path)]
    assert kinds[kinds.index(ev.JobResumed):][:2] == [ev.JobResumed, ev.LogHeldBack] and holds(job.path)


def test_a_job_killed_while_it_catches_up_ends_when_it_is_taken_up_again(job, disk, monkeypatch):
    """All but the last entry was written: whoever goes on only says who, and the job ends."""
    job.say(*WHOLE[:-3])
    disk(errno.ENOSPC)
    job.say(*WHOLE[-3:])
    disk(0)
    job.companion._backlog.catch_up(job.clock.now(), most=1000)
    job.close()
    again = DiskJob.resumed(job.path, "boot 2")
    again.say("same mechanic")
    assert again.companion.over and holds(job.path)


def test_too_much_in_memory_stops_the_job(job, disk, monkeypatch):
    """Memory is bounded: at the bound it is said, and the job stops."""
    monkeypatch.setattr(backlog, "MOST", 20)
    job.to("tidy")
    disk(errno.ENOSPC)
    with pytest.raises(BrokenMachine, match="no more than 20 entries"):
        job.say(*["repeat"] * 30)
    assert job.spoken[-1] == "Too much waits to be written. The job stops here. Make the place safe."


class Inbox:
    """Remembers how long it was asked to wait; gives nothing."""

    def __init__(self, job: DiskJob, times: int) -> None:
        self.job, self.times, self.waits = job, times, []

    def get(self, timeout=None):
        """As a queue does; time passes on the simulated clock."""
        self.waits.append(timeout)
        if len(self.waits) > self.times:
            return Closed("the test")
        self.job.clock.advance(round(1000 * (timeout or 0)))
        raise queue.Empty


def test_the_loop_wakes_for_the_disk_when_nothing_else_is_due(job, disk):
    """Nobody speaks and no clock runs: the disk is tried again all the same, and not more often than each five seconds."""
    job.to("tidy")
    disk(errno.ENOSPC)
    job.say("next")
    tried = []
    monkey = job.log.append
    job.log.append = lambda *given: tried.append(job.clock.now().up_ms) or monkey(*given)
    run(job.companion, inbox := Inbox(job, 21))
    assert inbox.waits[0] == 1.0 and len(tried) == 4 and {b - a for a, b in zip(tried, tried[1:])} == {5000}
    disk(0)
    run(job.companion, Inbox(job, 6))
    assert not job.job.held


@pytest.mark.parametrize("step", sorted(TO))
def test_no_word_calls_logged_what_is_not(step):
    """Every kind of step, its answers and what can be said beside them, while the log is held back."""
    job = at(step)
    job.take(LogFailed("the disk is full"))
    count = len(job.spoken)
    job.say("7.5", "9", "other reason", "affirm", "three", "no codes", "papa zero two six three", "no more codes", "alfa bravo",
            "affirm", "leave this out", "other reason", "affirm", "next", "leave open", "stop job", "affirm")
    for words in job.spoken[count:]:
        assert not re.search(r"(?<!not )\blogged\b|job is left, and kept", words, re.I), words
