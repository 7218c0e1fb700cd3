"""The wiring in real time, without waiting: what falls due comes before what was heard later; what fails is said."""
from __future__ import annotations

import threading
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from companion.core import events as ev
from companion.core.events import Hearing
from companion.core.job.effects import Hush, Message, Say
from companion.core.job.alone.state import Lone
from companion.core.job.inputs import AlarmHeard, Heard, SoundLost, SpokenToEnd, Tick
from companion.core.job.ticks import due
from companion.edge.loop import MOST_TYPED, Closed, run, typed
from companion.edge.player import Ended
from companion.edge.live import Live
from companion.edge.resumable import Found, Offer
from companion.edge.room import measure
from companion.edge.sound import NullSink
from companion.edge.voice.builtin import BuiltinVoice
from companion.errors import BrokenMachine
from disk_job import DiskJob
from simulator import at


class Worker:
    """A simulated job, driven as the real loop drives one."""

    def __init__(self, job) -> None:
        self.job, self.clock = job, self

    def now(self):
        """The clock's moment."""
        return self

    due = property(lambda self: due(self.job.job))
    up_ms = property(lambda self: self.job.up)
    over = property(lambda self: self.job.job.mode == "ended")

    def take(self, what):
        """As a companion does."""
        return self.job.take(what)


class Inbox:
    """Gives what it holds and remembers how long it was asked to wait."""

    def __init__(self, *whats) -> None:
        self.whats, self.waits = list(whats), []

    def get(self, timeout=None):
        """As a queue does, without waiting."""
        self.waits.append(timeout)
        return self.whats.pop(0) if self.whats else Closed("the test")


def test_an_answer_that_comes_after_its_window_is_too_late():
    """Promise 1: the machine slept after the question; "dry" out of the inbox is no answer to it."""
    job = at("watch").wait(60)
    job._move(job.up + 25_000)
    run(Worker(job), Inbox(typed("dry")))
    assert job.kinds(ev.RunBroken)[-1].why == "silence" and not job.kinds(ev.RunAnswered)


def test_a_clock_is_looked_at_each_second_whatever_the_queue_thinks_of_time():
    """A machine that slept stops the queue's clock, not the job's; where nothing falls due a look a minute will do."""
    inbox = Inbox()
    run(Worker(at("pressure-wait")), inbox)
    assert inbox.waits == [1.0]
    inbox = Inbox()
    run(Worker(at("begin")), inbox)
    assert inbox.waits == [60.0]


@pytest.mark.parametrize("where, part, shown", [
    ("loudspeaker", "loudspeaker", False), ("voice", "voice", True), ("built-in voice", "voice", True),
    ("out.wav", "sound file", True)])
def test_a_companion_that_cannot_speak_says_so_and_goes_on(where, part, shown):
    """It is told once. What stands on a screen that somebody reads counts as shown in place of a voice, never of a loudspeaker."""
    reader = threading.Event()
    live = Live(None, keyboard=("" for _ in iter(reader.wait, True)))
    fault, read = BrokenMachine(where, "must play", "gone"), []
    live.parts._after = lambda seconds, act: (read.append(seconds), act())
    live._spoken(Ended("caution:pressure", "Caution. Trapped fuel builds pressure.", False, 0.0, fault))
    assert read == [2.0] * shown, "five words"
    assert _waiting(live) == [SoundLost(part, "gone"), *[SpokenToEnd("caution:pressure", shown=True)] * shown]
    live._spoken(Ended("caution:pressure", "Caution.", False, 0.0, fault))
    assert _waiting(live) == [SpokenToEnd("caution:pressure", shown=True)] * shown
    reader.set()
    live = Live(None)
    live._spoken(Ended("caution:pressure", "Caution.", False, 0.0, fault))
    assert _waiting(live) == [SoundLost(part, "gone")], "nobody reads it"


def _waiting(live) -> list:
    return [live._inbox.get_nowait() for _ in range(live._inbox.qsize())]


def test_only_what_sounded_whole_was_spoken_to_its_end():
    """What was hushed was not heard."""
    live = Live(None, None, None, None, None, None)
    live._spoken(Ended("caution:pressure", "Caution.", True, 1.0))
    assert live._inbox.get_nowait() == SpokenToEnd("caution:pressure")
    live._spoken(Ended("caution:pressure", "Caution.", False, 0.5))  # hushed
    assert live._inbox.empty()


def test_a_fault_in_the_room_check_still_counts(monkeypatch):
    """What was typed meanwhile answers no step; a voice that failed meanwhile is not forgotten."""
    live = Live(None, None, None, None, None, None)
    closed = Closed("the loudspeaker", BrokenMachine("voice", "must speak", "gone"))
    for what in (typed("next"), closed, typed("affirm")):
        live.put(what)
    monkeypatch.setattr("companion.edge.live.session.room_check", lambda say, hear: measure(np.zeros(16_000), None))
    assert live.check_room().verdict == "muted"
    assert live._inbox.get_nowait() == closed and live._inbox.empty()


def test_what_is_typed_in_the_test_of_the_alarm_answers_no_step(monkeypatch):
    live = Live(None, BuiltinVoice(), NullSink())
    live.put(typed("affirm"))
    monkeypatch.setattr("companion.edge.live.session.alarm_check", lambda say, sound, hear: AlarmHeard("clear"))
    assert live.check_alarm() == AlarmHeard("clear") and live._inbox.empty()
    live.close()


def test_typed_bytes_that_are_no_text_are_logged_as_such():
    assert typed("caf\udce9\n").hearing.words == "caf?"


@pytest.mark.parametrize("sure", [True, False])
def test_noise_silences_no_alarm(sure, tmp_path):
    """What is surely heard does: whoever speaks is to be heard out."""
    job = DiskJob(tmp_path / "van.jsonl")
    job.companion.job = job.job.but(lone=Lone(120_000, 120_000, 60_000, 0, 0, level=1, rings_up=10**12))
    job.take(Heard(Hearing("repeat", Decimal("0.30"), "test ear"), sure))
    assert (Hush() in job.mouth.effects) == sure


def test_a_file_at_the_keyboard_is_no_answer():
    """A line longer than the log takes would else end the job."""
    assert len(typed("x" * 5_000_000).hearing.words) == MOST_TYPED + 1 and typed("x" * MOST_TYPED).hearing.words[-1] == "x"


def test_an_input_is_taken_though_what_fell_due_before_it_fails():
    """It may be "emergency"."""
    job = at("watch").wait(60)
    job._move(job.up + 25_000)
    worker, failed = Worker(job), []

    def take(what):
        if isinstance(what, Tick) and not failed:
            failed.append(what)
            raise ValueError("once")
        return job.take(what)
    worker.take = take
    run(worker, Inbox(typed("emergency")))
    assert failed and job.kinds(ev.EmergencyCalled)


def test_an_emergency_before_a_job_goes_on_is_read_and_sent():
    """At the question whether to resume, too."""
    class Carried:
        effects: list = []

        def carry_out(self, effect) -> None:
            self.effects.append(effect)
    offer = Offer(Found(Path("a.jsonl"), "card", "2026-03-02T14:00:00.000Z", "step-one"), Carried(), "Get clear.", "AB calls.")
    offer.take(typed("emergency"))
    assert Carried.effects[-2:] == [Message("help", "AB calls."), Say("Get clear.")] and not offer.over
