"""Working alone: what was agreed, checks and their answers, the alarm, messages to the contacts, signing off."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Optional

from companion.core.events.root import Event, Personal


@dataclass(frozen=True, kw_only=True)
class LoneWorkAgreed(Event):
    """How whoever works alone is looked after: at the opening by the card and the command line, later by voice."""

    follows: ClassVar[bool] = True
    every_ms: int
    """For so long at the most nothing is heard; 0: nobody checks."""
    at_risk_ms: int
    """The same while a risk lasts."""
    within_ms: int
    """A check is to be answered within it."""
    contacts: int
    """How many people or devices get a message when help is called."""
    by: str
    """card, operator, mechanic, or nobody."""
    place: Optional[Personal] = None
    """Where the work is, for the messages."""
    call_by: str = ""
    """RFC 3339: when a contact calls, if nothing was heard until then; "" where none was agreed."""
    call_by_said: str = ""
    """The same as it is said there: "sixteen forty"."""


@dataclass(frozen=True, kw_only=True)
class ChecksAsked(Event):
    """"Check on me every ten minutes": what was heard; `LoneWorkAgreed` says what holds from then on."""

    every_ms: int


@dataclass(frozen=True, kw_only=True)
class CheckedOn(Event):
    """Nothing was heard for the agreed time, or somebody is not back: "Checking on you"."""

    number: int
    """Of this check in the job, from 1."""
    why: str
    """silence or return time."""


@dataclass(frozen=True, kw_only=True)
class CheckAnswered(Event):
    """"I am okay." Any other sure answer settles a check too."""

    number: int


@dataclass(frozen=True, kw_only=True)
class AlarmRaised(Event):
    """A check was not answered: the alarm sounds, louder each time."""

    seals: ClassVar[bool] = True
    level: int
    """1, 2 or 3."""
    times: int
    """How often it has sounded since the check, this time included."""


@dataclass(frozen=True, kw_only=True)
class AlarmAnswered(Event):
    """The first part of ending an alarm: "I am okay". Before the next alarm the second must follow."""


@dataclass(frozen=True, kw_only=True)
class AlarmEnded(Event):
    """The second part: "alarm over"."""

    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class HelpCalled(Event):
    """A message goes to the contacts."""

    seals: ClassVar[bool] = True
    why: str
    """no answer, or emergency."""
    contacts: int


@dataclass(frozen=True, kw_only=True)
class AllClearGiven(Event):
    """On resume: help was called before the program stopped, and is not needed any more."""

    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class HelpStillNeeded(Event):
    """On resume: it still is, and is called again."""

    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class MessageSent(Event):
    """What became of a message to the contacts."""

    kind: str
    """help, all clear, call by, signed off, or test."""
    sent: bool
    """Whether all that carry it on have taken it; that somebody has read it, nobody can tell."""
    why: str = ""
    """Why it could not be sent."""
    unreached: int = 0
    """How many contacts could not be reached."""


@dataclass(frozen=True, kw_only=True)
class CallByNear(Event):
    """The agreed contact calls soon."""


@dataclass(frozen=True, kw_only=True)
class AlarmSounded(Event):
    """The day's test of the alarm: it was sounded at its loudest, and the microphone listened. Levels in dB(A) re full scale."""

    verdict: str
    """clear (15 dB or more above the noise), weak, or not measured (nothing of it reached a microphone)."""
    noise_db: Optional[Decimal] = None
    ratio_db: Optional[Decimal] = None
    """Alarm above noise."""


@dataclass(frozen=True, kw_only=True)
class AlarmTestAnswered(Event):
    """Whether the mechanic heard the day's test."""

    heard_it: bool


@dataclass(frozen=True, kw_only=True)
class SignedOff(Event):
    """Nobody has to look after the mechanic from here on."""

    follows: ClassVar[bool] = True
