"""What the edge has to carry out. It decides nothing."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Union


@dataclass(frozen=True)
class Say:
    """Speak `text`. `tag` is sent back as `SpokenToEnd` after its last word ("" sends nothing)."""

    text: str
    tag: str = ""
    pace: str = "prose"
    """"number" is spoken slower."""


@dataclass(frozen=True)
class Tone:
    """A short tone: heard, again (not understood), time (a clock ran out), alarm."""

    kind: str


@dataclass(frozen=True)
class Hush:
    """Stop speaking now; what was still to be said is dropped."""


Effect = Union[Say, Tone, Hush]
