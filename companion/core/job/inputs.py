"""What reaches the core from outside. Time is always an argument: `Now`."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Optional, Union

from companion.core.events import Hearing


@dataclass(frozen=True)
class Now:
    """Two clocks at one moment."""

    at_ms: int
    """Wall clock, milliseconds since 1970 UTC; may step."""
    up_ms: int
    """Milliseconds of a clock that never steps back and counts suspend where the system has one."""


@dataclass(frozen=True)
class Opened:
    """A new job. The card's text is whole, so that the log holds it."""

    card_name: str
    card_text: str
    card_sha256: str
    program: str
    boot: str
    key: str
    ear: str
    voice: str
    brief: bool = False
    mechanic: str = ""
    tools_name: str = ""
    """The list of measuring tools, whole like the card; "" where there is none."""
    tools_text: str = ""
    tools_sha256: str = ""


@dataclass(frozen=True)
class CameBack:
    """An unfinished log was opened again."""

    boot: str
    same_boot: bool
    torn_bytes: int = 0
    ear: str = ""
    mechanic: str = ""
    """Given by whoever starts the program; "" when not given."""


@dataclass(frozen=True)
class Heard:
    """Words that fit what was listened for. `sure` is the ear's own judgement; typed lines are sure."""

    hearing: Hearing
    sure: bool = True


@dataclass(frozen=True)
class Unheard:
    """Somebody spoke, and nothing of it was accepted."""

    hearing: Optional[Hearing] = None


@dataclass(frozen=True)
class SpokenToEnd:
    """The last word of the speech tagged `tag` has sounded."""

    tag: str


@dataclass(frozen=True)
class Tick:
    """Time has passed."""


Input = Union[Opened, CameBack, Heard, Unheard, SpokenToEnd, Tick]
