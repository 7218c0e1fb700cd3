"""Numbering of cylinders: from either end, as positions in the mechanic's words, and in firing order.

The first cylinder is at the end that the card names; an engine in line is meant. Common practice, no source.
"""
from __future__ import annotations

import re
from collections.abc import Sequence

from companion.errors import BadInput

MOST = 16
"""Most cylinders that positions are given for."""
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
            "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth")
_FIGURE = re.compile(r"([1-9][0-9]?)(?:st|nd|rd|th)")
_PLACE = re.compile(r"(?:the )?(\w+)(?: one| cylinder)? (?:from|at) (?:the )?(.+)")


def from_other_end(n: int, count: int) -> int:
    """The number, counted from the other end, of cylinder `n` of `count`; its own inverse. Raises BadInput outside."""
    check_cylinder(n, count)
    return count + 1 - n


def positions(count: int, end: str) -> tuple[str, ...]:
    """Every position, first to last, e.g. "second from the belt end" for the `end` "belt end" or "the belt end".

    Raises BadInput for a count outside 1 to 16 or an end without a name.
    """
    check_cylinder(1, count)
    name = " ".join(end.split()).removeprefix("the ")
    if not _end_name(name):
        raise BadInput("end of the engine", "must have a name", repr(end))
    return tuple(f"{ordinal} from the {name}" for ordinal in ORDINALS[:count])


def read_position(text: str, count: int, end: str, other_end: str = "") -> int | None:
    """The cylinder, counted from `end`, that words such as "the second one from the belt end" mean.

    "2nd" and "last" are understood, and "the belt" or "the belt side" for "belt end". None where the text names neither
    end (a bare "second" has two meanings), or a place past the other end. Raises BadInput as `positions` does.
    """
    positions(count, end)
    match = _PLACE.fullmatch(_words(text))
    place = _place(match[1], count) if match else None
    if match is None or place is None:
        return None
    named, near, far = _end_name(match[2]), _end_name(end), _end_name(other_end)
    if near == far:
        return None
    if named == near:
        return place
    return from_other_end(place, count) if far and named == far else None


def firing_order(text: str, count: int) -> tuple[int, ...]:
    """The order in "1-3-4-2", "1 3 4 2" or, below ten cylinders, "1342". Raises BadInput unless each fires once."""
    check_cylinder(1, count)
    figures = re.findall(r"[0-9]+", text, re.ASCII)
    if len(figures) == 1 and count < 10:
        figures = list(figures[0])
    order = tuple(int(figure[:9]) for figure in figures)
    if re.search(r"[^0-9\s,-]", text) or sorted(order) != list(range(1, count + 1)):
        raise BadInput("firing order", f"must hold each of 1 to {count} once, such as 1-3-4-2", repr(text[:60]))
    return order


def paired(order: Sequence[int], n: int) -> int | None:
    """The cylinder whose piston moves with that of `n`, one turn apart: half the order later. None for an odd count.

    Holds for a four-stroke engine that fires at equal intervals. Raises BadInput for a cylinder not in the order.
    """
    if n not in order:
        raise BadInput("cylinder", f"must be one of {', '.join(map(str, order))}", f"{n}")
    if len(order) % 2:
        return None
    return order[(order.index(n) + len(order) // 2) % len(order)]


def check_cylinder(n: int, count: int = MOST) -> None:
    """Raises BadInput unless there are 1 to 16 cylinders and `n` is one of them."""
    if not 1 <= count <= MOST:
        raise BadInput("cylinders", f"must be 1 to {MOST}", f"{count}")
    if not 1 <= n <= count:
        raise BadInput("cylinder", f"must be 1 to {count}", f"{n}")


def _place(word: str, count: int) -> int | None:
    """1 for "first" or "1st", `count` for "last"; None for any other word, or past the last cylinder."""
    figure = _FIGURE.fullmatch(word)
    if word == "last":
        return count
    place = int(figure[1]) if figure else ORDINALS.index(word) + 1 if word in ORDINALS else 0
    return place if 1 <= place <= count else None


def _end_name(end: str) -> str:
    """What tells one end from the other: "belt" of "belt end", "belt side" or "belt"."""
    return re.sub(r"^the(?: |$)| (?:end|side)$", "", _words(end))


def _words(text: str) -> str:
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text.lower()).split())
