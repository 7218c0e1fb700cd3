"""A picture as data: rows of marks on a scale from 0 to 100 parts of the width, and the same in words.

`svg` draws it on a page and `sheet.typ` on paper; both tell kinds of mark apart by shape, never by colour alone.
"""
from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """Something on a row. `end` is `start` for a point."""

    shape: str
    """stage, waits, runs, reading, outlier or limits, all bars; whisker, a line with end caps; inside, close or
    outside, all points."""
    start: float
    end: float
    says: str = ""


@dataclass(frozen=True)
class End:
    """Words under a place of a row."""

    at: float
    says: str


@dataclass(frozen=True)
class Strip:
    """A row: its name, what is said beside it, its marks."""

    name: str
    note: str
    marks: tuple[Mark, ...]
    ends: tuple[End, ...] = ()


@dataclass(frozen=True)
class Upright:
    """A line through all rows."""

    shape: str
    """tick, gaps, emergencies or median."""
    at: float
    says: str = ""


@dataclass(frozen=True)
class Chart:
    """A whole picture."""

    key: str
    """Its name within the paper."""
    title: str
    words: str
    """The picture for whoever cannot see it."""
    legend: str
    strips: tuple[Strip, ...]
    uprights: tuple[Upright, ...] = ()
