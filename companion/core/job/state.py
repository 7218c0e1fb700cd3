"""Where a job stands: one frozen value, made by folding the log's events and by nothing else.

`mode` is worked out from it, never stored, so that it cannot disagree with the rest.
"""
from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Optional

from companion.core.card import Card, Nothing, RunOf, Step, WaitOf
from companion.core.events import Asked, ValueLogged
from companion.core.job.alone.state import Lone
from companion.core.toolbox import ToolList


@dataclass(frozen=True)
class Running:
    """A clock that runs, or has run out and is not yet used up."""

    name: str
    kind: str
    """wait, run or timer."""
    lasts_ms: int
    ends_up: int
    """On the up-clock of the present boot."""
    marked_ms: int
    """The last mark spoken, as milliseconds left; starts at lasts_ms."""
    ended: bool = False
    used: bool = False
    """A wait step has passed on it; the next wait step starts it anew."""

    def left(self, up_ms: int) -> int:
        """Milliseconds left, never below 0."""
        return 0 if self.ended else max(0, self.ends_up - up_ms)


@dataclass(frozen=True)
class Watch:
    """The questions of a run: the last one asked, and until when its answer is awaited."""

    number: int = 0
    asked: bool = False
    put: bool = False
    answer_by_up: int = 0


@dataclass(frozen=True)
class Job:
    """A job at one moment."""

    card: Card
    brief: bool
    mechanic: str = ""
    """Who works, where it was said at the start or on taking over."""
    ear: str = ""
    """Who listens; typed where nobody does."""
    voice_speed: int = 100
    """Percent of the voice's own speed."""
    voice_loudness: int = 0
    """Decibels above the voice's own loudness."""
    lost: tuple[str, ...] = ()
    """microphone, loudspeaker, ear, voice, sound file: what is gone."""
    deaf_told_up: int = 0
    """When it was last said that nothing can be heard."""
    at: str = ""
    """Id of the present step."""
    begun: bool = False
    done: bool = False
    """Finished: the last step has ended."""
    left: bool = False
    """Left by "stop job"; only resuming goes on."""
    cautions: tuple[str, ...] = ()
    """Still to be acknowledged before the present step's words."""
    caution_heard: bool = False
    trail: tuple[str, ...] = ()
    """Steps begun, in order, for "previous step"."""
    visits: dict[str, int] = field(default_factory=dict)
    outcomes: dict[str, str] = field(default_factory=dict)
    """Step id to outcome; "left open" and "left out" among them."""
    open: tuple[str, ...] = ()
    return_to: str = ""
    """The gate to come back to after a step left open is done."""
    answers: dict[str, str] = field(default_factory=dict)
    """The card's names to what was answered, as text for the ear."""
    value: Optional[ValueLogged] = None
    """The last value logged."""
    values: dict[str, ValueLogged] = field(default_factory=dict)
    """The last value logged under each name."""
    readings: dict[str, dict[str, str]] = field(default_factory=dict)
    """Name to item ("cylinder 1") to value, for values measured once for each item."""
    read_after: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Wait to the names of values read since it last ran out."""
    tools: Optional[ToolList] = None
    """The measuring tools, as of the day the job was opened."""
    tool_uses: dict[str, int] = field(default_factory=dict)
    """How often each tool was read on in this job."""
    ours: tuple[str, ...] = ()
    """Fault codes that our own test made."""
    opened_at_ms: int = 0
    codes: tuple[str, ...] = ()
    """Fault codes said so far in the present step."""
    asked: Optional[Asked] = None
    beneath: Optional[Asked] = None
    """What was asked already when a doubtful hearing had to be asked about; it is asked still once that is settled."""
    failures: int = 0
    taken_for: str = ""
    """The answer that the last failure was taken for, without being sure."""
    digits: Optional[str] = None
    """Digits so far when a value is taken digit by digit; None otherwise."""
    key_offered: bool = False
    clocks: dict[str, Running] = field(default_factory=dict)
    watch: Watch = Watch()
    safeguards: tuple[str, ...] = ()
    """Names of what the card says makes the place safe now."""
    proofs: tuple[str, ...] = ()
    """On resume, still to be asked: "mechanic", "safe:NAME", "clock:NAME"."""
    doubted: str = ""
    """On resume: the step to go back to."""
    away_ms: int = 0
    memos: int = 0
    """Memos begun so far."""
    memo: int = 0
    """The number of the one being recorded; 0 for none."""
    memo_by_up: int = 0
    """It is waited for until then."""
    clips: int = 0
    """Clips kept so far."""
    clips_lost: int = 0
    """Clips that could not be kept since the last one that was."""
    held: str = ""
    """Why the log cannot be written; "" while it can."""
    held_at_ms: int = 0
    """Since when, on both clocks."""
    held_up_ms: int = 0
    end_held: bool = False
    """The last step has ended, and only the log keeps the job from ending."""
    paused: bool = False
    emergency: bool = False
    lone: Optional[Lone] = None
    """How whoever works alone is looked after; None in logs that are older."""
    last_at_ms: int = 0
    last_up_ms: int = 0

    @property
    def step(self) -> Step:
        """The present step; the first one where a power cut left only the opening."""
        return self.card.step(self.at) if self.at else self.card.steps[0]

    @property
    def before(self) -> str:
        """The step gone through before the present one that took an answer; "" at the first."""
        asked = [step for step in self.trail[:-1] if not isinstance(self.card.step(step).answer, Nothing)]
        return asked[-1] if asked else ""

    @property
    def mode(self) -> str:
        """Which row of the transition table holds now."""
        return self._mode(self.asked)

    def _mode(self, asked: Optional[Asked]) -> str:
        if self.done or self.left:
            return "ended"
        if asked and asked.needs:
            return "assent" if asked.needs == "affirm" else asked.needs
        if self.emergency:
            return "emergency"
        if self.lone is not None and self.lone.level:
            return "alarm"
        if self.paused:
            return "paused"
        if self.proofs:
            return "proving"
        if not self.begun:
            return "unwritten" if self.end_held else "between"
        if self.memo:
            return "memo"
        if self.cautions:
            return "caution" if self.caution_heard else "cautioning"
        if self.digits is not None:
            return "digits"
        if isinstance(self.step.answer, WaitOf):
            return "waiting"
        if isinstance(self.step.answer, RunOf):
            return "watching"
        return "asking"

    @property
    def watched(self) -> bool:
        """Whether a run is being watched; it is also while the mechanic is asked something back."""
        return self._mode(None) == "watching"

    @property
    def must_be_heard_out(self) -> bool:
        """A caution, or a run's question, is being said whose last word opens its answer."""
        return self.mode == "cautioning" or (self.watched and self.watch.asked and not self.watch.put)

    def but(self, **changes: object) -> "Job":
        """A copy with some fields changed. (`dataclasses.replace` sets all fifty anew, at ten times the cost.)"""
        if not changes.keys() <= _FIELDS:
            raise TypeError(f"a job has no field {', '.join(changes.keys() - _FIELDS)}")
        copy = object.__new__(Job)
        copy.__dict__.update(self.__dict__)
        copy.__dict__.update(changes)
        return copy


_FIELDS = frozenset(each.name for each in fields(Job))
