"""An answer of the bench, and its figures: whole for a program, short for the eye, in words for the ear."""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Context, Decimal
from typing import Any

from companion.core.numbers import say_number
from companion.core.saying import say_quantity

_LONG = Context(prec=12)
_FEWEST, _FOR_THE_EYE, _FOR_THE_EAR = 6, 6, 4


@dataclass(frozen=True)
class Answer:
    """What one command found."""

    answer: str
    """A decimal number as `digits` writes it, or a verdict in words."""
    unit: str
    """Of the number, a key of `units.UNITS`; "" where there is none."""
    formula: str
    """How it was found, in one line."""
    source: str
    """Where that comes from, with its status ("from memory", "common practice, no source")."""
    text: tuple[str, ...]
    """The lines to print, the answer first; at least one."""
    words: str
    """The answer as it is spoken: short sentences, no figures, no symbols."""
    extras: Mapping[str, Any] = field(default_factory=dict)
    """What else a program may want, by name: text, numbers (`Decimal` is written by `digits`), lists, None."""
    ok: bool = True
    """False where the finding is bad: what was checked does not hold."""


def digits(value: Decimal) -> str:
    """6 to 12 significant digits and never an exponent: "117.391304348", "80.0000"."""
    value = _LONG.plus(value).normalize(_LONG)
    if not value:
        return "0.00000"
    decimals = max(0, -int(value.as_tuple().exponent), _FEWEST - 1 - value.adjusted())
    return f"{value:.{decimals}f}"


def shown(value: Decimal, unit: str = "") -> str:
    """For the eye, six significant digits at most, but every whole one: "117.391 lbf·in"."""
    return f"{_short(value, _FOR_THE_EYE)} {unit}".rstrip()


def typed(value: Decimal, unit: str = "") -> str:
    """A number as it was given, trailing zeros too: "25.0 N·m"."""
    return f"{value:f} {unit}".rstrip()


def spoken(value: Decimal, unit: str = "") -> str:
    """For the ear, four significant digits at most, but every whole one."""
    said = _short(value, _FOR_THE_EAR)
    return say_quantity(said, unit) if unit else say_number(said)


def sentence(text: str) -> str:
    """`text` as the beginning of a sentence. Only its first letter changes: "Papa" and "US" stay as they are."""
    return text[:1].upper() + text[1:]


def _short(value: Decimal, most: int) -> str:
    if not value:
        return "0"
    text = f"{value:.{max(0, most - 1 - value.adjusted())}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
