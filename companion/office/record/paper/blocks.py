"""What a paper of a job is made of. Texts are plain: a block never holds markup of any kind."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Union

from companion.office.record.paper.chart import Chart


@dataclass(frozen=True)
class Says:
    """A paragraph."""

    said: str
    strong: bool = False


@dataclass(frozen=True)
class Fact:
    """A heading with what is to be said under it."""

    heading: str
    said: tuple[str, ...]
    code: bool = False
    """Letters that are compared one by one, such as a seal or a hash."""


@dataclass(frozen=True)
class Facts:
    """A table of facts."""

    caption: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Point:
    """One point of a list."""

    said: str
    mark: str = ""
    """How much it weighs, in a word; "" for none."""
    lines: tuple[int, ...] = ()
    """Lines of the log, from 1, that show it."""


@dataclass(frozen=True)
class Points:
    """A list."""

    points: tuple[Point, ...]


@dataclass(frozen=True)
class Grid:
    """A table with a heading to each column."""

    key: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    bad: frozenset[int] = frozenset()
    """Places of the rows, from 0, that are in bold."""
    lines: tuple[int, ...] = ()
    """For each row, the line of the log that links lead to; () where none do."""


@dataclass(frozen=True)
class Sound:
    """A sound file beside the log that the page can play; on a sheet of paper only its words."""

    name: str
    file: str
    draft: str


@dataclass(frozen=True)
class Seal:
    """A closing seal, in letters, in words to be said, and as a QR code."""

    seal: str
    spoken: str
    encoded: str
    """What the QR code holds."""
    says: str
    """What it is for."""


@dataclass(frozen=True)
class Label:
    """A tag to be cut out."""

    heading: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it."""

    heading: str
    blocks: tuple[Block, ...]
    folded: str = ""
    """Of use to few: on the page closed behind these words until someone opens it; "" for open."""
    printed: bool = True
    """Whether it goes on paper too."""


Block = Union[Says, Facts, Points, Grid, Chart, Sound, Seal, Label]


@dataclass(frozen=True)
class Paper:
    """A whole paper."""

    kind: str
    """record, customer or claim."""
    title: str
    state: str
    """What kind of paper it is, and whether the log holds, in a few words: stands in the window's title."""
    stamp: str
    """Stands on every page; "" for none."""
    defers: str
    banner: tuple[str, ...]
    """What is wrong with the log, before all else."""
    head: Facts
    sections: tuple[Section, ...]
    foot: str
    ended: str
    """RFC 3339 time of the log's last entry, the only date that the paper bears; "" where there is none."""
