"""What was asked back, misheard, refused or told; silences, and emergencies."""
from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from companion.core.events.root import Event, Words


@dataclass(frozen=True, kw_only=True)
class Asked(Event):
    """Something waits for the mechanic's word.

    `about`: doubt, undo, outside, leave out, end the wait, stop job, spelling, digits, unit, mechanic, emergency over.
    `needs`: affirm, reason, unit or initials. `rule` and `slots` keep the act that waits ("name=text" each).
    """

    about: str
    needs: str
    rule: str = ""
    slots: tuple[str, ...] = ()
    value: Words = ""
    """What is read back: digits, a spelling, a phrase."""
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Settled(Event):
    """The question was answered: `answer` is affirm, negative, or "replaced" by a new value or by a run's question."""

    about: str
    answer: str


@dataclass(frozen=True, kw_only=True)
class NotUnderstood(Event):
    """Sound or a line that fits nothing that makes sense now. `failures` counts them since the last understood one."""

    failures: int
    taken_for: str = ""
    """The answer it was taken for, without being sure; said once more and taken for the same, it counts."""


@dataclass(frozen=True, kw_only=True)
class DigitsBegun(Event):
    """The value is now taken digit by digit."""


@dataclass(frozen=True, kw_only=True)
class DigitHeard(Event):
    digits: Words
    """All so far."""


@dataclass(frozen=True, kw_only=True)
class KeyOffered(Event):
    """Speech failed too often here: the Enter key, or a typed line, serves instead."""


@dataclass(frozen=True, kw_only=True)
class Refused(Event):
    """An act that does not fit here, and why."""

    act: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Paused(Event):
    word: str = "pause"


@dataclass(frozen=True, kw_only=True)
class Resumed(Event):
    """After a pause, by the mechanic's word."""


@dataclass(frozen=True, kw_only=True)
class Repeated(Event):
    """The companion said again what it last asked."""


@dataclass(frozen=True, kw_only=True)
class Told(Event):
    """A question of the mechanic was answered, from the card and the log. `topic` is the command."""

    topic: str


@dataclass(frozen=True, kw_only=True)
class BriefSet(Event):
    on: bool


@dataclass(frozen=True, kw_only=True)
class EmergencyCalled(Event):
    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class EmergencyEnded(Event):
    seals: ClassVar[bool] = True
