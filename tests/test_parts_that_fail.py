"""Parts that fail: the ear, the voice, threads, memory. Each fault is said by what still works, logged, and healed.

Nothing here waits for time: fakes fail when they are told to, and pauses between attempts are events of the test's own.
"""
from __future__ import annotations

import gc
import io
import json
import queue
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import soxr

from companion.__main__ import main
from companion.core import events as ev
from companion.core.grammar import Listen
from companion.core.job.effects import Hush, Say, Tone
from companion.core.job.inputs import Faltered, SoundFound, SoundLost, SpokenToEnd, Stuttered
from companion.core.log.journal import public_hex
from companion.edge.cards import read_card
from companion.edge.device import boot_id, device_key
from companion.edge.ear import NOTHING, Guess, LivePath
from companion.edge.ear import steady as steady_ear
from companion.edge.ear.steady import FAULTS, SteadyEar
from companion.edge.clock import RealClock
from companion.edge.live import Live, MicrophoneListener
from companion.edge.logfile import LogFile
from companion.edge.loop import Closed, Companion, run, typed
from companion.edge.mouth import PrintedMouth
from companion.edge.opening import opened
from companion.edge.sound import FRAME, Frame, NullSink
from companion.edge.sound.spells import LONGEST_S, OVER_S, Spells
from companion.edge.threads import MOST_LEFT, Helper, Stalled, cause, going_on, pauses
from companion.edge.voice import mechanic_voice
from companion.edge.voice import steady as steady_voice
from companion.edge.voice.base import RATE
from companion.edge.voice.steady import SteadyVoice
from companion.errors import BadInput, BrokenMachine
from simulator import at

SOUND = np.zeros(8_000, np.float32)
PATIENCE_S = 20
"""So long a test waits for a thread before it fails; none of them takes that long."""


class Told:
    """What a part told, in order, from any thread."""

    def __init__(self) -> None:
        self.news: "queue.Queue[tuple]" = queue.Queue()

    def faltered(self, part: str, why: str) -> None:
        self.news.put(("faltered", part, why))

    def noticed(self, part: str, there: bool, why: str) -> None:
        self.news.put(("found" if there else "lost", part, why))

    def next(self) -> tuple:
        """The next news; waits for it."""
        return self.news.get(timeout=PATIENCE_S)


class Pause:
    """Stands for the time between two attempts: over when the test says so."""

    def __init__(self) -> None:
        self.asked: "queue.Queue[float]" = queue.Queue()
        self._over: "queue.Queue[bool]" = queue.Queue()

    def __call__(self, seconds: float) -> bool:
        self.asked.put(seconds)
        try:
            return self._over.get(timeout=PATIENCE_S)
        except queue.Empty:  # its test is over
            return True

    def ends(self) -> float:
        """Lets the next one be over; how long it would have taken."""
        seconds = self.asked.get(timeout=PATIENCE_S)
        self._over.put(False)
        return seconds

    def close(self) -> None:
        """Whoever still waits, or will, is told that all is closed."""
        for _ in range(10):
            self._over.put(True)


class FakeEar:
    """Hears "next" in everything, unless `act` does something else."""

    name = "fake"

    def __init__(self, act: Callable[[], None] = lambda: None) -> None:
        self.act = act

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        self.act()
        return Guess("next", 1.0, True, True, None)

    def draft(self, samples: np.ndarray) -> str:
        self.act()
        return "words"


class FakeVoice:
    """A tenth of a second of sound for everything, unless `act` does something else."""

    rate = RATE

    def __init__(self, name: str = "fake", act: Callable[[], None] = lambda: None) -> None:
        self.name, self.act = name, act

    def render(self, text: str, pace: str = "prose", speed: float = 1.0) -> np.ndarray:
        self.act()
        return np.full(RATE // 10, 0.1, np.float32)


def throws(fault: BaseException) -> Callable[[], None]:
    def act() -> None:
        raise fault
    return act


# -- calls that take only so long --------------------------------------------------------------------------------------

def test_a_call_gives_what_it_gives_and_raises_what_it_raises():
    """On one thread, one after the other."""
    helper = Helper("test")
    names = {helper.do(lambda: threading.current_thread().name, PATIENCE_S) for _ in range(3)}
    assert names == {"test"}
    with pytest.raises(ZeroDivisionError):
        helper.do(lambda: 1 // 0, PATIENCE_S)
    helper.close()


def test_calls_that_never_end_are_left_behind_but_not_without_limit():
    """Each leaves its thread and the next has another; at the limit nothing more is begun until one has come back."""
    helper, free = Helper("stuck"), threading.Event()
    for count in range(1, MOST_LEFT + 1):
        with pytest.raises(Stalled):
            helper.do(free.wait, 0.001)
        assert helper.left == count
    with pytest.raises(Stalled, match="never ended"):
        helper.do(lambda: 1, PATIENCE_S)
    stuck = [thread for thread in threading.enumerate() if thread.name == "stuck"]
    free.set()
    for thread in stuck:
        thread.join(PATIENCE_S)
    assert helper.left == 0 and helper.do(lambda: 1, PATIENCE_S) == 1
    helper.close()


def test_a_thread_that_fails_goes_on_after_growing_pauses_and_each_fault_is_told(monkeypatch):
    """1, 2, 4 s … 60 s at the most, and 1 s again after an hour without; it ends when its work does, or when it is told to."""
    told, waited, now, lasts = [], [], [0.0], iter([1, 1, 1, 3600, 1, None])
    monkeypatch.setattr(threading, "excepthook", lambda args: told.append(args.exc_type))
    monkeypatch.setattr("companion.edge.threads.time", SimpleNamespace(monotonic=lambda: now[0]))

    def act() -> None:
        seconds = next(lasts)
        if seconds is not None:
            now[0] += seconds
            raise ValueError

    going_on(act, lambda seconds: bool(waited.append(seconds)))
    assert told == [ValueError] * 5 and waited == [1.0, 2.0, 4.0, 1.0, 2.0]
    going_on(throws(ValueError()), lambda seconds: True)
    assert [seconds for seconds, _ in zip(pauses(), range(9))] == [1, 2, 4, 8, 16, 32, 60, 60, 60]


def test_the_cause_of_a_fault_holds_nothing_that_was_said():
    """A library's message may quote the words it was given; the log must not."""
    try:
        "seven bar".encode("ascii").decode("utf-16")
    except UnicodeError as fault:
        assert "seven" not in cause(fault) and cause(fault).startswith("UnicodeDecodeError at ")
    assert cause(MemoryError()) == "memory ran out"


# -- the ear -----------------------------------------------------------------------------------------------------------

def steady(*acts: Callable[[], None]) -> tuple[SteadyEar, Told, Pause]:
    """An ear of which the first, second … that is made does the first, second … act; the last for ever."""
    left, told = list(acts), Told()
    ear = SteadyEar(lambda: FakeEar(left.pop(0) if len(left) > 1 else left[0]))
    ear.pause = pause = Pause()
    ear.tell(told.faltered, told.noticed)
    return ear, told, pause


def test_an_utterance_at_which_the_recogniser_throws_is_missed_and_told():
    """The next one is heard, and the count of faults begins anew."""
    faults = [None, ValueError(), ValueError(), None, ValueError()]

    def act() -> None:
        fault = faults.pop(0)
        if fault:
            raise fault

    ear, told, _ = steady(act)
    guesses = [ear.hear(SOUND, Listen()) for _ in range(5)]
    assert [guess.text for guess in guesses] == ["next", "", "", "next", ""] and guesses[1] == NOTHING
    assert [told.next()[:2] for _ in range(3)] == [("faltered", "ear")] * 3 and told.news.empty()
    ear.close()


@pytest.mark.parametrize("fault, utterances", [(ValueError(), FAULTS), (MemoryError(), 1)])
def test_a_recogniser_that_throws_again_and_again_is_made_anew(fault, utterances):
    """Lost is told once, and found once. One that ran out of memory is let go at once, before another is made."""
    ear, told, pause = steady(throws(fault), lambda: None)
    broken = ear._ear
    for _ in range(utterances):
        assert ear.hear(SOUND, Listen()) == NOTHING
    news = [told.next() for _ in range(utterances)]
    assert [kind for kind, *_ in news] == ["faltered"] * (utterances - 1) + ["lost"]
    fault.__traceback__ = None  # the test's own hold on it
    gc.collect()
    assert ear._ear is None and ear.hear(SOUND, Listen()) == NOTHING and ear.draft(SOUND) == ""
    assert pause.ends() == 1.0 and told.next() == ("found", "ear", "")
    assert ear.hear(SOUND, Listen()).text == "next" and ear._ear is not broken and told.news.empty()
    ear.close()


def test_a_recogniser_that_stalls_is_left_behind_and_made_anew(monkeypatch):
    """A call into its library cannot be ended: the ear is lost, another is made on another thread, and hears."""
    monkeypatch.setattr(steady_ear, "LIMIT_S", 0.01)
    free = threading.Event()
    ear, told, pause = steady(lambda: free.wait() and None, lambda: None)
    assert ear.hear(SOUND[:0], Listen()) == NOTHING
    kind, part, why = told.next()
    assert (kind, part) == ("lost", "ear") and "must answer within" in why
    monkeypatch.setattr(steady_ear, "LIMIT_S", PATIENCE_S)
    pause.ends()
    assert told.next() == ("found", "ear", "") and ear.hear(SOUND, Listen()).text == "next"
    free.set()
    ear.close()


def test_an_ear_that_fails_as_soon_as_it_is_back_is_tried_ever_more_seldom():
    """One fault is enough then. A mechanic is not told every second that the ear is gone and back."""
    ear, told, pause = steady(throws(ValueError()))
    for _ in range(FAULTS):
        ear.hear(SOUND, Listen())
    for _ in range(FAULTS - 1):
        told.next()
    for seconds in (1.0, 2.0, 4.0):
        assert told.next()[0] == "lost" and pause.ends() == seconds and told.next()[0] == "found"
        ear.hear(SOUND, Listen())
    ear.close()


def test_a_recogniser_that_cannot_be_made_is_tried_again():
    """The disk may be slow to come back, or the memory short for a while."""
    makes = iter([FakeEar(throws(MemoryError())), BrokenMachine("recogniser", "must load"), MemoryError(), FakeEar()])

    def make() -> Any:
        made = next(makes)
        if isinstance(made, Exception):
            raise made
        return made

    ear, told = SteadyEar(make), Told()
    ear.pause = pause = Pause()
    ear.tell(told.faltered, told.noticed)
    ear.hear(SOUND, Listen())
    assert told.next() == ("lost", "ear", "memory ran out")
    assert [pause.ends() for _ in range(3)] == [1.0, 2.0, 4.0] and told.next()[0] == "found"
    ear.close()


# -- the voice ---------------------------------------------------------------------------------------------------------

def test_a_voice_that_throws_once_is_tried_again_and_the_words_are_spoken():
    """With a fresh one of its kind; that it faltered is told."""
    told, voice = Told(), SteadyVoice(FakeVoice(act=throws(ValueError())), (FakeVoice,))
    voice.tell(told.faltered, told.noticed)
    assert len(voice.render("Next.")) and told.next()[:2] == ("faltered", "voice")
    assert len(voice.render("Next.")) and told.news.empty() and voice.name == "fake"
    voice.close()


def test_where_one_kind_of_voice_fails_the_other_speaks():
    """And a sentence for the screen names it; the player says the change aloud (test_player)."""
    shown: list[str] = []
    broken = throws(OSError("no model"))
    voice = SteadyVoice(FakeVoice("one", broken), (lambda: FakeVoice("one", broken), lambda: FakeVoice("two")), shown.append)
    assert len(voice.render("Next.")) and voice.name == "two" and "Another voice takes over: two" in shown[0]
    voice.close()


def test_a_voice_that_cannot_render_at_all_is_lost_and_tried_until_it_can(monkeypatch):
    """It stalls, and no other kind is there: lost at once, silent at once from then on, found after the second attempt."""
    monkeypatch.setattr(steady_voice, "LIMIT_S", 0.0)
    monkeypatch.setattr(steady_voice, "LIMIT_PER_CHARACTER_S", 0.001)
    free, told, others = threading.Event(), Told(), [throws(OSError()), throws(OSError()), lambda: None]
    voice = SteadyVoice(FakeVoice(act=lambda: free.wait() and None), (lambda: FakeVoice(act=others.pop(0)),))
    voice.pause = pause = Pause()
    voice.tell(told.faltered, told.noticed)
    for _ in range(2):
        with pytest.raises(BrokenMachine, match="voice: must be able to speak"):
            voice.render("Next.")
    assert told.next()[:2] == ("lost", "voice") and told.news.empty()
    monkeypatch.setattr(steady_voice, "LIMIT_S", PATIENCE_S)
    voice._voice = FakeVoice(act=throws(OSError()))  # the one that hangs is not asked again by this test
    assert [pause.ends(), pause.ends()] == [1.0, 2.0]
    assert [told.next()[0], told.next()[0]] == ["faltered", "found"] and len(voice.render("Next."))
    free.set()
    voice.close()


# -- what the job makes of it ------------------------------------------------------------------------------------------

def test_a_lost_ear_is_told_once_and_asked_for_nothing_until_it_is_back():
    """Sound that comes meanwhile is no failure of the mechanic; then the question is said again."""
    job = at("torque", ear="test ear")
    question, count = job.last, len(job.effects)
    job.take(SoundLost("ear", "ValueError"))
    assert job.events[-1] == ev.SoundWasLost(step="torque", part="ear", why="ValueError")
    assert job.effects[count:] == [Tone("alarm"), Say("I cannot hear you now. Use the keyboard.")]
    job.mumble(4)
    assert not job.kinds(ev.NotUnderstood) and job.job.failures == 0
    job.take(SoundFound("ear"))
    assert job.spoken[-2:] == ["I can hear you again.", question]


@pytest.mark.parametrize("part", ["ear", "microphone"])
def test_a_companion_that_stays_deaf_says_so_every_five_minutes(part):
    """Whoever has no keyboard must not think that silence is being listened to; once it hears again it stops saying so."""
    job = at("torque", ear="test ear")
    job.take(SoundLost(part))
    job.wait(299)
    assert not job.kinds(ev.StillDeaf)
    job.wait(1)
    assert len(job.kinds(ev.StillDeaf)) == 1 and job.effects[-2] == Tone("alarm") and "cannot hear you" in job.last
    job.wait(600)
    assert len(job.kinds(ev.StillDeaf)) == 3
    job.take(SoundFound(part))
    job.wait(900)
    assert len(job.kinds(ev.StillDeaf)) == 3


def test_a_deaf_companion_is_silent_on_the_road_and_heard_in_a_pause():
    """At the wheel nobody is spoken to; in a pause "resume" would be said in vain."""
    job = at("watch", ear="test ear").wait(60).say("dry").wait(60).say("dry").wait(60).say("dry")
    assert job.job.at == "drive"
    job.take(SoundLost("ear"))
    count = len(job.effects)
    job.wait(300)
    assert job.kinds(ev.StillDeaf) and len(job.effects) == count
    job = at("torque", ear="test ear").say("pause")
    job.take(SoundLost("ear"))
    job.wait(300)
    assert "still cannot hear" in job.last


def test_a_caution_shown_in_place_of_a_dead_voice_is_logged_as_such_and_said_again_when_the_voice_is_back():
    """Its words open nothing before they stand there; then its own answer is taken; and no old log reads otherwise."""
    job = at("rail-pressure", speaks=False).say("zero bar")
    assert job.job.mode == "cautioning"
    caution = job.effects[-1]
    job.take(SoundLost("voice", "gone"))
    assert job.job.mode == "cautioning" and job.last == "My voice has failed. Read the screen."
    job.take(SpokenToEnd(caution.tag, shown=True))
    assert job.events[-1] == ev.CautionHeard(step="crack", caution="pressure", how="shown") and job.job.mode == "caution"
    job.take(SoundFound("voice"))
    assert job.effects[-3:] == [Hush(), Say("My voice is back."), caution]
    assert ev.CautionHeard(caution="pressure") == ev.CautionHeard(caution="pressure", how="")


@pytest.mark.parametrize("what, said", [
    (Faltered("ear", "ValueError"), "I missed that."),
    (Faltered("voice", "OSError"), "My voice failed for a moment."),
    (Faltered("memory", "memory ran out"), "Memory runs short. Close other programs on this machine."),
    (Faltered("program", "KeyError"), "Something in me failed. I go on here."),
    (Faltered("screen", "TypeError"), "Something failed: the screen. It is logged."),
    (Stuttered("loudspeaker", 50, 60_000), "The sound stutters. Close other programs on this machine."),
    (Stuttered("microphone", 49, 60_000), None)])
def test_a_part_that_faltered_is_logged_and_told(what, said):
    """Lost sound only where there is much of it. The question stands as it stood, and is said where an answer may be lost."""
    job = at("torque", ear="test ear")
    before, question, count = job.job, job.last, len(job.spoken)
    job.take(what)
    assert type(job.events[-1]) is {Faltered: ev.PartFaltered, Stuttered: ev.SoundStuttered}[type(what)]
    asked = [question] if what.part in ("memory", "program") else []
    assert job.spoken[count:] == ([said] if said else []) + asked and job.job.mode == before.mode


# -- the deciding thread -----------------------------------------------------------------------------------------------

class Failing:
    """A companion at which the first so many inputs fail."""

    over, due = False, None

    def __init__(self, fault: Exception, times: int) -> None:
        self.fault, self.times, self.took = fault, times, []

    def take(self, what):
        if not isinstance(what, Faltered) and self.times:
            self.times -= 1
            raise self.fault
        self.took.append(what)
        return ()


def inbox(*whats):
    box: queue.Queue = queue.Queue()
    for what in (*whats, Closed("the test")):
        box.put(what)
    return box


@pytest.mark.parametrize("fault, part", [
    (MemoryError(), "memory"), (KeyError("x"), "program"), (BadInput("event", "must fit a line"), "program")])
def test_an_input_at_which_the_program_fails_ends_no_job(fault, part, capsys):
    """It is said to have been missed, and the next one is taken. One line for whoever looks after the machine."""
    worker = Failing(fault, 1)
    run(worker, inbox(typed("one"), typed("two")))
    assert worker.took[0].part == part and worker.took[1] == typed("two")
    assert capsys.readouterr().err.count("companion: the program failed (") == 1


def test_a_program_that_fails_at_everything_does_not_go_on_for_ever():
    """Three in a row are said; the fourth is raised. That too many entries wait for the disk is raised at once."""
    worker = Failing(KeyError("x"), 9)
    with pytest.raises(KeyError):
        run(worker, inbox(*[typed("one")] * 5))
    assert len(worker.took) == 3
    with pytest.raises(BrokenMachine):
        run(Failing(BrokenMachine("log", "must be written"), 1), inbox(typed("one")))


def test_memory_that_runs_out_while_an_entry_is_composed_costs_that_entry_alone(tmp_path, monkeypatch):
    """It is said and logged that it did; the step stands as it stood, what is said next is logged, and the log holds."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    path, shown, card = tmp_path / "job.jsonl", io.StringIO(), read_card("learning")
    with LogFile.create(path, device_key()) as log:
        companion = Companion(log, RealClock(), PrintedMouth(lambda tag: None, shown))
        companion.take(opened(card, boot=boot_id(), key=public_hex(device_key()), ear="typed", voice="none"))
        whole, faults = LogFile._composed, [MemoryError()]

        def composed(self, *arguments):
            if faults:
                raise faults.pop()
            return whole(self, *arguments)

        monkeypatch.setattr(LogFile, "_composed", composed)
        run(companion, inbox(typed("next"), typed("repeat")))
    told = [(entry["event"], entry["data"].get("words")) for entry in logged(path)[2:]]
    assert told == [("part_faltered", None), ("repeated", "repeat")], told
    assert "Memory runs short." in shown.getvalue() and main(["verify", str(path)]) == 0


# -- xruns -------------------------------------------------------------------------------------------------------------

def test_lost_sound_is_told_once_a_spell():
    """Over after ten quiet seconds, or after a minute of it; at a device's start it is no wonder; each device by itself."""
    told: list[tuple] = []
    spells = Spells(lambda *spell: told.append(spell))
    spells.look("loudspeaker", 7, 0.0, settled=False)
    spells.look("loudspeaker", 9, 1.0, settled=False)
    for second, count in ((2.0, 10), (3.0, 14), (5.0, 15)):
        spells.look("loudspeaker", count, second, settled=True)
        spells.look("microphone", 3, second, settled=True)
    spells.look("loudspeaker", 15, 5.0 + OVER_S, settled=True)
    assert told == []
    spells.look("loudspeaker", 15, 5.1 + OVER_S, settled=True)
    assert told == [("loudspeaker", 6, 3000)]
    spells.look("microphone", 4, 20.0, settled=True)
    for second in range(21, 23 + int(LONGEST_S)):
        spells.look("microphone", second, float(second), settled=True)
    assert told[1][:2] == ("microphone", 1 + 17 + int(LONGEST_S)) and len(told) == 2


# -- a whole job at which everything fails -----------------------------------------------------------------------------

class Sink(NullSink):
    """Plays nothing."""


def live_job(path: Path, voice: Any, lines: "queue.Queue[str]") -> tuple[Live, threading.Thread, list]:
    """The learning card in real time: typed, and spoken by `voice`. The thread that decides, and what came of it."""
    session, ended = Live(io.StringIO(), voice, Sink(), None, iter(lines.get, "")), []

    def work() -> None:
        card = read_card("learning")
        with LogFile.create(path, device_key()) as log:
            session.begin(companion := Companion(log, session.clock, session.mouth), opened(
                card, boot=boot_id(), key=public_hex(device_key()), ear="typed", voice=voice.name))
            ended.append(session.drive(companion))
            session.close()

    thread = threading.Thread(target=work, name="decider", daemon=True)
    return session, thread, ended


def logged(path: Path) -> list[dict]:
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()] if path.exists() else []


def test_a_live_job_goes_on_without_a_voice_and_with_failing_threads_and_leaves_no_thread_behind(tmp_path, monkeypatch):
    """The voice dies and heals, a thread dies, the caution is shown in the voice's place, the job reaches its seal, and what
    threads there are then are those of before."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    hook, before = threading.excepthook, set(threading.enumerate())
    path, lines = tmp_path / "job.jsonl", queue.Queue()
    dead = threading.Event()
    voice = SteadyVoice(FakeVoice(act=lambda: throws(OSError())() if dead.is_set() else None),
                        (lambda: FakeVoice(act=lambda: throws(OSError())() if dead.is_set() else None),))
    voice.pause = pause = Pause()
    session, decider, ended = live_job(path, voice, lines)
    session.parts._after = lambda seconds, act: act()
    seen = threading.Condition()
    took = session._took
    monkeypatch.setattr(session, "_took", lambda what, made: (took(what, made), _notify(seen)))
    decider.start()

    def must(name: str, **data: object) -> None:
        """Waits until the log holds it."""
        with seen:
            assert seen.wait_for(lambda: any(entry["event"] == name and data.items() <= entry["data"].items()
                                             for entry in logged(path)), PATIENCE_S), (name, logged(path)[-3:])

    lines.put("repeat")
    must("repeated")
    dead.set()
    for line in ("next", "four", "21 cm"):
        lines.put(line)
    must("sound_was_lost", part="voice")
    must("caution_heard", how="shown")
    failing = threading.Thread(target=throws(ValueError("seven bar")), name="pedal")
    failing.start()
    must("part_faltered", part="pedal")
    dead.clear()
    pause.ends()
    must("sound_was_found", part="voice")
    lines.put("stop job")
    lines.put("affirm")
    decider.join(PATIENCE_S)
    assert ended == [None] and "seven bar" not in path.read_text("utf-8")
    assert threading.excepthook is hook
    lines.put("")
    pause.close()
    _join_others(before)
    assert set(threading.enumerate()) <= before and main(["verify", str(path)]) == 0


def _join_others(before: set[threading.Thread]) -> None:
    """Waits for every thread that was not there before, also for one that another is just about to start: it is listed
    already, and cannot be joined yet."""
    until = time.monotonic() + PATIENCE_S
    while (others := set(threading.enumerate()) - before) and time.monotonic() < until:
        for thread in others:
            if thread.ident is not None:
                thread.join(PATIENCE_S)


def _notify(condition: threading.Condition) -> None:
    with condition:
        condition.notify_all()


class Frames:
    """Stands for both devices: gives the sound that is put in, as fast as it is taken; where that is a fault, it is raised."""

    def __init__(self) -> None:
        self.line: "queue.Queue[Any]" = queue.Queue()
        self.sink, self.forgotten = Sink(), threading.Event()

    def frames(self):
        while (sound := self.line.get()) is not None:
            if isinstance(sound, Exception):
                raise sound
            for at in range(0, len(sound) // FRAME * FRAME, FRAME):
                yield Frame(sound[at:at + FRAME], np.zeros(FRAME, np.float32))

    def forget(self) -> None:
        while not self.line.empty():
            self.line.get()
        self.forgotten.set()

    def close(self) -> None:
        self.line.put(None)


def test_a_live_job_outlives_its_ear_and_its_listening_thread(tmp_path, monkeypatch, capsys):
    """The recogniser throws at one utterance, then at three in a row, then the thread that listens fails: each is said and
    logged, and the word said after it is heard. By the real pause detector, on rendered speech."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    hook, before, path = threading.excepthook, set(threading.enumerate()), tmp_path / "job.jsonl"
    word = np.concatenate([soxr.resample(mechanic_voice().render("repeat"), RATE, 16_000), np.zeros(24_000, np.float32)])
    faults = iter([False, True, False, True, True, True])
    makes = iter([lambda: throws(ValueError())() if next(faults) else None, lambda: None])
    ear = SteadyEar(lambda: Repeat(next(makes)))
    ear.pause = pause = Pause()
    devices, shown = Frames(), io.StringIO()
    session = Live(shown, FakeVoice(), devices.sink, MicrophoneListener(devices, LivePath(ear)))
    session._listener._closing.wait = pause
    seen, took = threading.Condition(), session._took
    monkeypatch.setattr(session, "_took", lambda what, made: (took(what, made), _notify(seen)))
    card = read_card("learning")
    log = LogFile.create(path, device_key())
    session.begin(companion := Companion(log, session.clock, session.mouth), opened(
        card, boot=boot_id(), key=public_hex(device_key()), ear=ear.name, voice="fake"))
    decider = threading.Thread(target=session.drive, args=(companion,), daemon=True)
    decider.start()

    def must(count: int, name: str, **data: object) -> None:
        """Waits until the log holds so many of it."""
        with seen:
            assert seen.wait_for(lambda: count == sum(
                entry["event"] == name and data.items() <= entry["data"].items() for entry in logged(path)), PATIENCE_S), name

    def hears(count: int) -> None:
        devices.line.put(word)
        must(count, "repeated")

    hears(1)
    devices.line.put(word)
    must(1, "part_faltered", part="ear")
    hears(2)
    for _ in range(FAULTS):
        devices.line.put(word)
    must(1, "sound_was_lost", part="ear")
    pause.ends()
    must(1, "sound_was_found", part="ear")
    hears(3)
    devices.line.put(RuntimeError("a fault of the tests"))
    must(1, "part_faltered", part="microphone")
    devices.line.put(word)  # said while nobody listened: not to be obeyed later
    pause.ends()
    assert devices.forgotten.wait(PATIENCE_S)
    hears(4)
    session.put(typed("stop job"))
    session.put(typed("affirm"))
    decider.join(PATIENCE_S)
    session.close()
    log.close()
    for said in ("I missed that.", "I cannot hear you now.", "I can hear you again.", "Something failed: the microphone."):
        assert said in shown.getvalue()
    assert main(["verify", str(path)]) == 0 and threading.excepthook is hook
    _join_others(before)
    assert set(threading.enumerate()) <= before


class Repeat(FakeEar):
    """Hears "repeat"."""

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        self.act()
        return Guess("repeat", 1.0, True, True, None)
