"""What every fact carries: who it belongs to, how it was heard, and what of it is personal."""
from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import ClassVar, Optional, Union


@dataclass(frozen=True)
class Personal:
    """Words about a person. The log's chain holds only a salted hash; the words lie in the sidecar file beside it."""

    text: str


Words = Union[str, Personal]


def plain(words: Words) -> str:
    """The words whether personal or not, for speaking and comparing."""
    return words.text if isinstance(words, Personal) else words


def added() -> str:
    """A text that logs older than the field lack: where it is "", it is left out of the log, as it was then."""
    return field(default="", metadata={"added": True})


@dataclass(frozen=True)
class Hearing:
    """How something was heard; kept with every event that came from it."""

    words: Words
    score: Optional[Decimal] = None
    """0 to 1, two decimals; None for a typed line."""
    ear: str = "typed"
    by: str = added()
    """What made the companion attend to it: "" for open listening, else attention word, key held or pressed."""


@dataclass(frozen=True, kw_only=True)
class Event:
    """Root of all facts; in the log `ValueLogged` is "value_logged".

    `step` is the id of the step it belongs to ("" before the first).
    """

    seals: ClassVar[bool] = False
    follows: ClassVar[bool] = False
    """Only follows from another event of the same decision, so it does not carry what was heard."""
    step: str = ""
    heard: Optional[Hearing] = None
