"""The one module that wires a job: inputs to `decide`, events to the disk, then to the state, then to the mouth.

Nothing is acknowledged before it is durable: the words of an answer are rendered while the entry is written, and spoken
only after it is.
"""
from __future__ import annotations

import queue
from collections import deque
from dataclasses import dataclass
from decimal import Decimal
from typing import Callable, Iterable, Optional

from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.job.effects import Effect, Hush, Say, Tone
from companion.core.events import Event, Hearing, JobEnded
from companion.core.grammar import Listen
from companion.core.log.journal import Entry, Sealed
from companion.core.job.inputs import Heard, Input, Now, SpokenToEnd, Tick, Unheard
from companion.core.job.listen import listen
from companion.core.log.rfc3339 import milliseconds, stamp
from companion.core.job.speech import effects
from companion.core.spelling import say_spelling
from companion.core.job.state import Job
from companion.core.job.ticks import due
from companion.edge.clock import Clock, SimulatedClock
from companion.edge.logfile import LogFile
from companion.edge.mouth import Mouth
from companion.errors import BadEvidence, BrokenMachine


class Companion:
    """One job being worked: its log, its state, its mouth."""

    def __init__(self, log: LogFile, clock: Clock, mouth: Mouth, job: Optional[Job] = None) -> None:
        self.log, self.clock, self.mouth, self.job = log, clock, mouth, job
        self.events = 0

    def take(self, what: Input) -> tuple[Event, ...]:
        """Decide, write, apply, speak. Raises BrokenMachine, after saying so, when the disk fails."""
        now = self.clock.now()
        made = decide(self.job, what, now)
        if not made:
            return ()
        job, planned = _planned(self.job, made, now)
        if isinstance(what, Heard):
            self._heard(what)
        self.mouth.prepare(tuple(planned))
        self._write(made, now)
        self.job = job
        self.events += len(made)
        for effect in planned:
            self.mouth.carry_out(effect)
        if isinstance(made[-1], JobEnded):
            self._say_seal()
        return made

    def _heard(self, what: Heard) -> None:
        """At once, before anything is written: whoever answers need not hear the rest of the question."""
        if not self.job.must_be_heard_out:
            self.mouth.carry_out(Hush())
        if what.hearing.score is not None:
            self.mouth.carry_out(Tone("heard"))

    def _write(self, made: tuple[Event, ...], now: Now) -> None:
        try:
            self.log.append(made, stamp(now.at_ms), now.up_ms)
        except BrokenMachine:
            self.mouth.carry_out(Say("The log cannot be written. What you just said is not logged. Make the place safe."))
            raise

    def _say_seal(self) -> None:
        groups = ". ".join(say_spelling(group) for group in self.log.closing_seal.split())
        self.mouth.carry_out(Say(f"The closing seal. Write it on the customer's sheet. {groups}.", pace="number"))

    @property
    def listening(self) -> Listen:
        """What may be said now."""
        return listen(self.job) if self.job is not None else Listen()

    @property
    def due(self) -> Optional[int]:
        """The up-clock moment of the next fact that time alone brings."""
        return due(self.job) if self.job is not None else None

    @property
    def over(self) -> bool:
        """Whether the job is done or left."""
        return self.job is not None and self.job.mode == "ended"


def _planned(job: Optional[Job], made: Iterable[Event], now: Now) -> tuple[Job, list[Effect]]:
    planned: list[Effect] = []
    for event in made:
        job = apply(job, event, now)
        planned += effects(event, job)
    return job, planned  # type: ignore[return-value]


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


def typed(line: str) -> Heard:
    """A typed line as an input; what is no text in it is replaced, so that it can be logged."""
    return Heard(Hearing(line.encode("utf-8", "replace").decode().strip(), None, "typed"))


def guessed(guess, ear: str, text: Optional[str] = None, by: str = "") -> Input:
    """What an ear made of one utterance, as an input; `text` without an attention word, `by` as `Hearing.by` has it."""
    hearing = Hearing(guess.text if text is None else text, Decimal(f"{guess.score:.2f}"), ear, by)
    return Heard(hearing, guess.sure) if guess.accepted else Unheard(hearing)


# -- simulated time ----------------------------------------------------------------------------------------------------

class Simulation:
    """Runs a companion on a simulated clock, on one thread. Nothing sleeps."""

    def __init__(self, clock: SimulatedClock) -> None:
        self.clock = clock
        self.companion: Optional[Companion] = None
        self._ended: deque[str] = deque()

    def report(self, tag: str) -> None:
        """For the mouth: speech that has ended."""
        self._ended.append(tag)

    def take(self, what: Input) -> tuple[Event, ...]:
        """One input, and all that follows from it at once. Gives the events of the input itself."""
        made = self.companion.take(what)
        self._settle()
        return made

    def _settle(self) -> None:
        """Ended speech and due ticks, until nothing is left to do at this moment."""
        while not self.companion.over:
            if self._ended:
                self.companion.take(SpokenToEnd(self._ended.popleft()))
            elif self._is_due():
                if not self.companion.take(Tick()):
                    return
            else:
                return

    def _is_due(self) -> bool:
        moment = self.companion.due
        return moment is not None and moment <= self.clock.now().up_ms

    def wait(self, ms: int) -> None:
        """Let time pass, stopping at each moment at which something falls due."""
        until = self.clock.now().up_ms + ms
        while not self.companion.over:
            moment = self.companion.due
            if moment is None or moment > until:
                break
            self.clock.advance_to(moment)
            self._settle()
        self.clock.advance_to(until)
        self._settle()


# -- real time ---------------------------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Closed:
    """An input came to its end: the terminal closed, the sound file is over, the microphone failed."""

    what: str
    fault: Optional[Exception] = None


Inbox = "queue.Queue[Input | Closed]"
OnChange = Callable[[Input, tuple[Event, ...]], None]
_LOOK_S = 1.0


def run(companion: Companion, inbox: "queue.Queue", on_change: OnChange = lambda what, made: None) -> Optional[Closed]:
    """Take inputs as they come and ticks as they fall due, until the job is over or the last input closes.

    `on_change` is told each input and the events it made, at least once a second while a clock runs.
    """
    while not companion.over:
        what = _next(companion, inbox)
        if isinstance(what, Closed):
            return what
        if _until_due(companion) == 0:  # what fell due before it was heard comes first: a window has closed
            companion.take(Tick())
        on_change(what, companion.take(what))
    return None


def _until_due(companion: Companion) -> Optional[float]:
    """Seconds until something falls due, or None. 1 at most: the queue's own clock stands still while the machine sleeps."""
    moment = companion.due
    return None if moment is None else min(_LOOK_S, max(0.0, (moment - companion.clock.now().up_ms) / 1000))


def _next(companion: Companion, inbox: "queue.Queue"):
    try:
        return inbox.get(timeout=_until_due(companion))
    except queue.Empty:
        return Tick()
