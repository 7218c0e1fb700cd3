"""What a made mechanic may do next."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Optional, Union


@dataclass(frozen=True)
class Say:
    """Speak, or type where the job is typed."""

    words: str
    after_ms: int
    """Milliseconds before it: work, thinking, silence."""
    sure: bool = True
    """Whether the ear is sure of it."""
    score: Optional[int] = None
    """The ear's score in percent; None for one of its usual scores."""


@dataclass(frozen=True)
class Mumble:
    """Speak so that nothing is understood."""

    after_ms: int


@dataclass(frozen=True)
class Let:
    """Let time pass: so much, or until the next thing that falls due by itself."""

    ms: Optional[int] = None


@dataclass(frozen=True)
class SetClock:
    """Somebody sets the machine's time of day."""

    by_ms: int
    after_ms: int


@dataclass(frozen=True)
class ComeBack:
    """A job that was left is opened again, after another start of the machine."""

    after_ms: int


@dataclass(frozen=True)
class GoAway:
    """Never come back."""

    after_ms: int


Act = Union[Say, Mumble, Let, SetClock, ComeBack, GoAway]
