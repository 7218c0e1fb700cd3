"""The one module that wires a job: inputs to `decide`, events to the disk, then to the state, then to the mouth.

Nothing is acknowledged before it is durable: the words of an answer are rendered while the entry is written, and spoken
only after it is. Where the disk fails the job goes on by voice: what is said then is called "not logged yet", and it waits
in memory until it can be written.
"""
from __future__ import annotations

import queue
from dataclasses import dataclass
from decimal import Decimal
from typing import Callable, Iterable, Optional

from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.job.effects import Effect, Hush, Say, Tone
from companion.core.events import Event, Hearing, JobEnded
from companion.core.grammar import Listen
from companion.core.log.journal import Entry, Sealed
from companion.core.job.inputs import Faltered, Heard, Input, LogFailed, LogWritten, Now, Tick, Unheard
from companion.core.job.listen import listen
from companion.core.job.planned import planned, planned_unlogged
from companion.core.log.rfc3339 import milliseconds, stamp
from companion.core.spelling import say_spelling
from companion.core.job.state import Job
from companion.core.job.ticks import due
from companion.edge import clips
from companion.edge.backlog import AT_ONCE, MOST, Backlog
from companion.edge.clock import Clock
from companion.edge.ear.memory import give_back
from companion.edge.logfile import LogFile, NotWritten
from companion.edge.mouth import Mouth
from companion.edge.threads import cause, printed_fault
from companion.errors import BadEvidence, BrokenMachine


class Companion:
    """One job being worked: its log, its state, its mouth."""

    def __init__(self, log: LogFile, clock: Clock, mouth: Mouth, job: Optional[Job] = None) -> None:
        self.log, self.clock, self.mouth, self.job = log, clock, mouth, job
        self.events = 0
        self._backlog = Backlog(log)

    def take(self, what: Input) -> tuple[Event, ...]:
        """Decide, write, apply, speak. A disk that fails holds nothing up: entries wait in memory, and it is said.

        Raises BrokenMachine, after saying so, where the job's first entry cannot be written, or too many wait.
        """
        now = self.clock.now()
        if self._backlog.due is not None and self._backlog.due <= now.up_ms:
            self._catch_up(now)
        return self._take(what, now)

    def _take(self, what: Input, now: Now) -> tuple[Event, ...]:
        what = clips.named(what, self.job, self.log)
        made = decide(self.job, what, now)
        if not made:
            return ()
        job, sounds = planned(self.job, made, now)
        if isinstance(what, Heard):
            self._heard(what)
        self.mouth.prepare(tuple(sounds))
        if not clips.kept(what, made, self.log):
            what = clips.without(what)
            made = decide(self.job, what, now)
            job, sounds = planned(self.job, made, now)
        try:
            self._backlog.keep(made, now)
        except NotWritten as fault:
            made, job, sounds = self._held_back(what, fault, now)
        except BrokenMachine:
            self.mouth.carry_out(Say("Too much waits to be written. The job stops here. Make the place safe."))
            raise
        self._follow(made, job, sounds)
        clips.settle(made, self.log)
        return made

    def _follow(self, made: tuple[Event, ...], job: Job, sounds: Iterable[Effect]) -> None:
        self.job = job
        self.events += len(made)
        for effect in sounds:
            self.mouth.carry_out(effect)
        if isinstance(made[-1], JobEnded):
            self._say_seal()

    def _heard(self, what: Heard) -> None:
        """At once, before anything is written: whoever answers need not hear the rest of the question. Noise that is taken for
        words silences no alarm."""
        if not (self.job.must_be_heard_out or self.job.mode == "alarm" and not what.sure):
            self.mouth.carry_out(Hush())
        if what.hearing.score is not None:
            self.mouth.carry_out(Tone("heard"))

    # -- a disk that fails ---------------------------------------------------------------------------------------------

    def _held_back(self, what: Input, fault: NotWritten, now: Now) -> tuple[tuple[Event, ...], Job, list[Effect]]:
        """From now on entries wait in memory, this one first."""
        if self.job is None:
            self.mouth.carry_out(Say("The log cannot be written. The job is not begun."))
            raise fault
        self._backlog.hold(fault, now)
        made, job, sounds = planned_unlogged(self.job, what, fault.why, now)
        self._backlog.keep(made, now)
        return made, job, sounds

    def _catch_up(self, now: Now, most: int = AT_ONCE) -> None:
        """Write what waits, and once all of it is on the disk an entry that tells so."""
        try:
            if not self._backlog.catch_up(now, most):
                return
            made = decide(self.job, LogWritten(self._backlog.entries), now)
            job, sounds = planned(self.job, made, now)
            self.log.append(made, stamp(now.at_ms), now.up_ms)
        except NotWritten as fault:
            self._backlog.hold(fault, now)
            self._take(LogFailed(fault.why), now)
        else:
            self._backlog.over()
            self._follow(made, job, sounds)

    def last_try(self) -> int:
        """The program is about to end: try once more to write what waits; how many entries are not on the disk, and are
        lost."""
        if self._backlog.due is not None:
            self._catch_up(self.clock.now(), most=MOST)
        return self._backlog.unwritten

    def _say_seal(self) -> None:
        groups = ". ".join(say_spelling(group) for group in self.log.closing_seal.split())
        self.mouth.carry_out(Say(f"The closing seal. Write it on the customer's sheet. {groups}.", pace="number"))

    @property
    def listening(self) -> Listen:
        """What may be said now."""
        return listen(self.job) if self.job is not None else Listen()

    @property
    def due(self) -> Optional[int]:
        """The up-clock moment of the next fact that time alone brings, or at which the disk is tried again."""
        moments = (due(self.job) if self.job is not None else None, self._backlog.due)
        return min((moment for moment in moments if moment is not None), default=None)

    @property
    def over(self) -> bool:
        """Whether the job is done or left, and written as far as it can be."""
        return self.job is not None and self.job.mode == "ended" and self._backlog.due is None


def replayed(entries: Iterable[Entry]) -> Optional[Job]:
    """The state after a log's entries: the same fold as the live job's.

    Raises BadEvidence where there is none: lines may be rightly chained and yet tell of steps that their card does not have."""
    job = None
    for entry in entries:
        try:
            if not isinstance(entry.event, Sealed):
                job = apply(job, entry.event, Now(milliseconds(entry.at), entry.up))
        except NO_SUCH_JOB as error:
            raise BadEvidence(f"log:{entry.n + 1}", "must follow from the lines before it on the job's card",
                              do="Look at it with record, and begin a new job") from error
    return job


NO_SUCH_JOB = (LookupError, AttributeError, TypeError, ValueError, ArithmeticError, AssertionError)
"""What the fold raises at a line that no job could have led to."""


MOST_TYPED = 2_000
"""Characters of a typed line, some twenty rows: more is a file at the wrong place."""


def typed(line: str) -> Heard:
    """A typed line as an input; what is no text in it is replaced, and what nobody types is left out, so that it can be
    logged."""
    text = line.encode("utf-8", "replace").decode().strip()
    return Heard(Hearing(text if len(text) <= MOST_TYPED else f"{text[:MOST_TYPED]}…", None, "typed"))


def guessed(guess, ear: str, text: Optional[str] = None, by: str = "") -> Input:
    """What an ear made of one utterance, as an input; `text` without an attention word, `by` as `Hearing.by` has it."""
    hearing = Hearing(guess.text if text is None else text, Decimal(f"{guess.score:.2f}"), ear, by)
    return Heard(hearing, guess.sure, clips.clip_of(guess.sound)) if guess.accepted else Unheard(hearing)


# -- real time ---------------------------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Closed:
    """An input came to its end: the terminal closed, the sound file is over, the microphone failed."""

    what: str
    fault: Optional[Exception] = None


OnChange = Callable[[Input, tuple[Event, ...]], None]
_LOOK_S = 1.0
_IDLE_S = 60.0
"""Where nothing falls due the clocks are still looked at so often: a time of day that was set is logged soon."""
_MOST_FAULTS = 3
"""So many inputs in a row may fail: then the program is at fault, not the moment."""


def run(companion: Companion, inbox: "queue.Queue", on_change: OnChange = lambda what, made: None) -> Optional[Closed]:
    """Take inputs as they come and ticks as they fall due, until the job is over or the last input closes.

    `on_change` is told each input and the events it made, at least once a second while a clock runs.
    """
    faults = 0
    while not companion.over:
        what = _next(companion, inbox)
        if isinstance(what, Closed):
            return what
        if _until_due(companion) == 0:  # what fell due before it was heard comes first: a window has closed
            faults, _ = _taken(companion, Tick(), faults)
        faults, made = _taken(companion, what, faults)
        on_change(what, made)
    return None


def _taken(companion: Companion, what: Input, faults: int) -> tuple[int, tuple[Event, ...]]:
    """How many inputs in a row have failed now, and the events that `what` made. One input at which the program fails, or
    for which there is no memory, ends no job."""
    try:
        return 0, companion.take(what)
    except BrokenMachine:
        raise
    except Exception as fault:
        if faults >= _MOST_FAULTS:
            raise
        return faults + 1, companion.take(_failed(fault))


def _failed(fault: Exception) -> Faltered:
    printed_fault("the program", fault)
    give_back()
    return Faltered("memory" if isinstance(fault, MemoryError) else "program", cause(fault))


def _until_due(companion: Companion) -> float:
    """Seconds until something falls due. 1 at most: the queue's own clock stands still while the machine sleeps."""
    moment = companion.due
    return _IDLE_S if moment is None else min(_LOOK_S, max(0.0, (moment - companion.clock.now().up_ms) / 1000))


def _next(companion: Companion, inbox: "queue.Queue"):
    try:
        return inbox.get(timeout=_until_due(companion))
    except queue.Empty:
        return Tick()
