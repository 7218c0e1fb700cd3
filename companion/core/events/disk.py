"""The log itself: entries that waited in memory because the disk did not take them."""
from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from companion.core.events.root import Event

CHANGED = "what is on the disk is not what was logged"
"""The one reason that does not pass: nothing more is written."""


@dataclass(frozen=True, kw_only=True)
class LogHeldBack(Event):
    """From this line on the entries were kept in memory: the log could not be written. Again where the reason changes."""

    why: str
    """the disk is full, the disk has failed …"""


@dataclass(frozen=True, kw_only=True)
class LogCaughtUp(Event):
    """Every entry since `LogHeldBack` had waited in memory, and is on the disk now."""

    since: str
    """RFC 3339: when the first of them was held back."""
    entries: int
    """How many, seals not counted."""
    why: str


@dataclass(frozen=True, kw_only=True)
class JobEndHeldBack(Event):
    """The last step has ended; the job itself ends when the log has caught up."""

    follows: ClassVar[bool] = True
