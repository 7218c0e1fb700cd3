"""Clocks: waits, runs with their questions, and timers."""
from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from companion.core.events.root import Event, added


@dataclass(frozen=True, kw_only=True)
class ClockStarted(Event):
    """`kind`: wait, run or timer."""

    clock: str
    kind: str
    lasts_ms: int


@dataclass(frozen=True, kw_only=True)
class MarkReached(Event):
    clock: str
    left_ms: int


@dataclass(frozen=True, kw_only=True)
class ClockEnded(Event):
    follows: ClassVar[bool] = True
    seals: ClassVar[bool] = True
    clock: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class WaitCutShort(Event):
    """Only a wait that protects the work; never one that protects a person."""

    seals: ClassVar[bool] = True
    clock: str
    left_ms: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class TimerCancelled(Event):
    clock: str


@dataclass(frozen=True, kw_only=True)
class QuestionAsked(Event):
    """A run's question falls due and is being spoken."""

    clock: str
    number: int


@dataclass(frozen=True, kw_only=True)
class QuestionPut(Event):
    """The question's last word has sounded; the answer must come within `within_ms`."""

    clock: str
    number: int
    within_ms: int
    how: str = added()
    """"shown" where it stood on the screen in place of a voice that failed."""


@dataclass(frozen=True, kw_only=True)
class RunAnswered(Event):
    seals: ClassVar[bool] = True
    clock: str
    number: int
    """The question answered; 0 when the answer came unasked."""
    answer: str


@dataclass(frozen=True, kw_only=True)
class RunBroken(Event):
    """No answer, or the run was interrupted: the engine is to be stopped. Never a pass."""

    clock: str
    why: str
    """silence, pause, emergency, resume or timer."""


@dataclass(frozen=True, kw_only=True)
class TimeOfDaySet(Event):
    """The time of day went otherwise than the clock that counts: somebody, or the network, set it. No wait heeds it."""

    follows: ClassVar[bool] = True
    by_ms: int
    """How far on; below 0: back. Where the machine was started anew, it is at least so far back."""
