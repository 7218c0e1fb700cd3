"""What the mechanic answered: choices, values, counts, fault codes, spellings."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Optional

from companion.core.events.root import Event, Words


@dataclass(frozen=True, kw_only=True)
class AnswerGiven(Event):
    """Done, affirm, negative or a choice. `name` is the card's name for it ("" for none)."""

    answer: Words
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class ValueLogged(Event):
    """A measured value in the card's unit; as it was said beside it. Digits as text keep trailing zeros."""

    name: str
    value: Words
    unit: str
    said: Words
    said_unit: str
    low: Optional[Decimal] = None
    high: Optional[Decimal] = None
    verdict: str = "inside"
    """inside, outside, too close (to call, given the uncertainty), or none where the card sets no limit."""
    reason: str = ""
    corrects: bool = False
    side: str = ""
    """Where the bare reading lies when it is too close to call: inside or outside."""
    tool: str = ""
    """The tool of the list that it was read on."""
    uncertainty: Optional[Decimal] = None
    """Of the instrument, expanded (k = 2), in `unit`; None where nobody knows it."""
    probability: Optional[Decimal] = None
    """That the true value lies inside the limits (JCGM 106), 0 to 1."""
    arm: Optional[Decimal] = None
    """Of the wrench, millimetres, where an adaptor stands between it and the bolt: `said` is then the wrench's reading."""
    adaptor: Optional[Decimal] = None
    """Its length, millimetres."""
    adaptor_angle: Optional[Decimal] = None
    """Degrees between arm and adaptor."""
    rose_from: Optional[Decimal] = None
    """The earlier reading, in `unit`, that this one must not lie above, and does."""


@dataclass(frozen=True, kw_only=True)
class ReadingNoted(Event):
    """A value the card did not ask for."""

    value: str
    unit: str


@dataclass(frozen=True, kw_only=True)
class CountLogged(Event):
    name: str
    count: int
    must_be: Optional[int] = None
    verdict: str = "right"


@dataclass(frozen=True, kw_only=True)
class CodeHeard(Event):
    """One fault code, read back at once. `replaces` is the code it corrects."""

    code: str
    replaces: str = ""


@dataclass(frozen=True, kw_only=True)
class CodesLogged(Event):
    name: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SpellingLogged(Event):
    name: str
    text: Words
