"""What may be said next, as plain data: one small grammar value, `Listen`.

A `Listen` is rendered to the ear's own grammar (edge), to the spoken list of options, and to the parser that reads
both typed lines and recognised words (`core.understand`). Nothing here knows a microphone or a model.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Union


@dataclass(frozen=True)
class Phrase:
    """Fixed words: lower case, single spaces, no punctuation but an inner hyphen or apostrophe."""

    text: str


@dataclass(frozen=True)
class Number:
    """A spoken number. The reader keeps the digits as said ("seven point five zero" is 7.50)."""

    name: str = "number"
    signed: bool = True
    """Whether "minus" may come first."""
    decimals: int = 4
    """Most digits after the point that may be said; 0 for whole numbers."""
    most: int = 999_999
    """Largest whole part that may be said."""


@dataclass(frozen=True)
class Unit:
    """A spoken unit out of `symbols` (keys of `trade.units`). Ambiguous spoken forms ("pounds") are understood too."""

    symbols: tuple[str, ...]
    name: str = "unit"


@dataclass(frozen=True)
class Spelling:
    """Letters and digits spelled one by one: ICAO words, plain letters, digits singly or in groups."""

    least: int = 1
    most: int = 17
    name: str = "spelled"


@dataclass(frozen=True)
class Free:
    """Any words at all. A recogniser leaves such a rule out; only a typed line can fill it."""

    name: str = "words"


@dataclass(frozen=True)
class Sequence:
    """Parts one after the other."""

    parts: tuple["Expr", ...]


@dataclass(frozen=True)
class Choice:
    """One of several; `name` is the slot that takes the chosen option's words ("" keeps none)."""

    options: tuple["Expr", ...]
    name: str = ""


@dataclass(frozen=True)
class Maybe:
    """A part that may be left out."""

    part: "Expr"


Expr = Union[Phrase, Number, Unit, Spelling, Free, Sequence, Choice, Maybe]


@dataclass(frozen=True)
class Rule:
    """One thing that can be said."""

    name: str
    """The act, e.g. `next`, `value`, `affirm`."""
    expr: Expr
    records: bool = False
    """Whether the act changes the record (a stricter floor applies) or only asks."""
    shown: str = ""
    """How the list of options names it, in words a voice can say; "" leaves it out of the list."""


@dataclass(frozen=True)
class Listen:
    """All that makes sense now. Earlier rules win where two could match."""

    rules: tuple[Rule, ...] = ()


@dataclass(frozen=True)
class Reading:
    """What a line of words means under a `Listen`."""

    rule: str
    slots: tuple[tuple[str, str], ...] = ()
    """Slot name to text: a number as decimal digits ("7.50"), a unit as its symbol ("N·m") or "?pounds" when the spoken
    form is ambiguous, a spelling as upper-case characters, a choice as its phrase."""

    def get(self, name: str, default: str = "") -> str:
        """The text of slot `name`, or `default`."""
        return dict(self.slots).get(name, default)
