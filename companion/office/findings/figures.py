"""Figures and texts of a log, as they stand in a finding's sentence."""
from __future__ import annotations

import re
from decimal import Decimal
from typing import Iterable, Optional

from companion.core.events import Personal, Words
from companion.core.log.codec import ERASED
from companion.trade.units import UNITS, say_unit

_FIGURE = re.compile(r"-?[0-9]{1,30}(?:\.[0-9]{1,30})?", re.ASCII)
_LONGEST = 200
"""Characters of a text that is quoted; a log may hold anything."""


def figure(words: Words) -> Optional[Decimal]:
    """The number that was logged; None for anything that is none, and for a personal one that is erased."""
    text = words.text if isinstance(words, Personal) else words
    return Decimal(text) if text != ERASED and _FIGURE.fullmatch(text) else None


def quoted(text: str) -> str:
    """A text of the log on one line, cut where it is long."""
    line = " ".join(text.split())
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]} …"


def sentence(text: str) -> str:
    """It begins with a capital and ends with one point."""
    line = quoted(text).rstrip(".")
    return f"{line[:1].upper()}{line[1:]}."


def measured(digits: str, unit: str) -> str:
    """"9.1 newton metres"."""
    return f"{digits} {say_unit(unit, digits) if unit in UNITS else quoted(unit)}"


def limits(low: Optional[Decimal], high: Optional[Decimal]) -> str:
    """"7.5 to 8.5", "at most 4", "at least 7"."""
    if low is not None and high is not None:
        return f"{low:f} to {high:f}"
    return f"at most {high:f}" if high is not None else f"at least {low:f}" if low is not None else "no limits"


def because(reason: str) -> str:
    """The end of a sentence that gives the mechanic's reason."""
    return f"; because: {quoted(reason)}" if reason.strip() else "; no reason was given"


def lasted(ms: int) -> str:
    """A span of time: "1 h 2 min", "1 min 40 s", "6.5 s"."""
    if ms < 60_000:
        return f"{Decimal(ms // 100) / 10:g} s"
    minutes, seconds = divmod(ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    parts = ((hours, "h"), (minutes, "min"), (0 if hours else seconds, "s"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number)


def listed(words: Iterable[str]) -> str:
    """"a", "a and b", "a, b and c"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
