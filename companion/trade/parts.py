"""Parts and small things: counts out and back, numbers spelled twice, and parts that are used only once.

All common practice, no source: what is left in an engine, a number misread from a body or a washer used twice are
found only by counting, reading twice and asking.
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from companion.errors import BadInput

TAIL = 6
"""Characters spoken again as the check of a long number."""
STATES = ("new", "used", "")


@dataclass(frozen=True)
class Difference:
    """One thing whose counts do not close."""

    name: str
    """As the mechanic says it, e.g. "return line caps"."""
    out: int
    """How many went out, 0 or more."""
    back: int
    """How many came back, 0 or more."""


def reconcile(out: Mapping[str, int], back: Mapping[str, int]) -> tuple[Difference, ...]:
    """Everything whose two counts differ, in the order given out; () when the counts close.

    What is named on one side only counts as 0 on the other. Raises BadInput for a count that is no whole number from 0.
    """
    names = tuple(dict.fromkeys((*out, *back)))
    rows = (Difference(name, _count(out, name), _count(back, name)) for name in names)
    return tuple(row for row in rows if row.out != row.back)


def same_code(first: str, second: str) -> tuple[int, ...]:
    """The places, from 1, in which two readings of one code differ; () when they are the same.

    Letter case and spaces do not matter. Where one is longer, every place past the other's end differs. Raises BadInput
    for an empty reading.
    """
    one, two = _characters(first), _characters(second)
    longest = max(len(one), len(two))
    return tuple(place for place in range(1, longest + 1) if one[place - 1:place] != two[place - 1:place])


def tail(text: str, n: int = TAIL) -> str:
    """The last `n` characters, upper case without spaces, or all where there are fewer. Raises BadInput for none."""
    if n < 1:
        raise BadInput("characters to check", "must be 1 or more", f"{n}")
    return _characters(text)[-n:]


def tail_matches(whole: str, spoken: str, n: int = TAIL) -> bool:
    """Whether `spoken` is the last `n` characters of `whole`, or all of it where it is shorter.

    Letter case and spaces do not matter. Raises BadInput for an empty reading.
    """
    return tail(whole, n) == _characters(spoken)


def must_be_new(one_use: Iterable[str], fitted: Mapping[str, str]) -> tuple[str, ...]:
    """The one-use parts not known to be new, in order; () when all are. What `fitted` does not name is not known.

    `fitted` gives "new", "used" or "" (not said) for each part. Raises BadInput for another word.
    """
    strange = next((state for state in fitted.values() if state not in STATES), None)
    if strange is not None:
        raise BadInput("part fitted", 'must be "new", "used" or ""', repr(strange))
    return tuple(dict.fromkeys(name for name in one_use if fitted.get(name) != "new"))


def _count(counts: Mapping[str, int], name: str) -> int:
    count = counts.get(name, 0)
    if not isinstance(count, int) or isinstance(count, bool) or count < 0:
        raise BadInput(f"count of {name}", "must be a whole number from 0", repr(count))
    return count


def _characters(text: str) -> str:
    characters = "".join(text.split()).upper()
    if not characters:
        raise BadInput("code", "must have at least one character", repr(text[:40]))
    return characters
