"""What the companion worked out from what was answered; the figures stand beside the verdict."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Optional

from companion.core.events.root import Event


@dataclass(frozen=True, kw_only=True)
class ToolJudged(Event):
    """Whether the chosen tool can measure what its steps ask for, and is in calibration."""

    follows: ClassVar[bool] = True
    name: str
    """The answer that it was chosen for."""
    tool: str
    verdict: str
    """fit or unfit."""
    why: str = ""
    """below range, above range, other quantity, out of date, used up, never calibrated, dated ahead."""
    unit: str = ""
    limit: Optional[Decimal] = None
    """The end of the tool's range that is passed, in `unit`."""
    target: Optional[Decimal] = None
    """What a step needs, in `unit`."""
    due: str = ""
    """The last day of its calibration, as in RFC 3339."""
    would_do: tuple[str, ...] = ()
    """Tools of the list that would do."""


@dataclass(frozen=True, kw_only=True)
class ReadingsCompared(Event):
    """One reading of every cylinder, held against the others."""

    follows: ClassVar[bool] = True
    name: str
    unit: str
    cylinders: tuple[str, ...]
    values: tuple[str, ...]
    median: Optional[Decimal] = None
    outlier: str = ""
    """The one cylinder that stands out; "" for none, or more than one."""
    unusual: str = ""
    """The one that both statistical tests name, whatever the card's limits say."""
    by: tuple[str, ...] = ()
    """The tests that name it."""
    over_limit: tuple[str, ...] = ()
    """All that lie outside the card's own limits."""


@dataclass(frozen=True, kw_only=True)
class EvidenceCompared(Event):
    """What the mechanic said, held against what was found."""

    follows: ClassVar[bool] = True
    name: str
    said: str
    found: str
    """What the logged facts point to; "" where they point nowhere."""
    verdict: str
    """agree, disagree or none."""
    why: tuple[str, ...] = ()
    """What disagrees, each a sentence."""


@dataclass(frozen=True, kw_only=True)
class CodesCompared(Event):
    """Codes before against after. A code made by our own test counts in `ours_left` only."""

    follows: ClassVar[bool] = True
    name: str
    gone: tuple[str, ...] = ()
    still_there: tuple[str, ...] = ()
    new: tuple[str, ...] = ()
    came_back: tuple[str, ...] = ()
    ours_left: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SpellingsCompared(Event):
    """A spelling, or its last characters, spelled a second time."""

    follows: ClassVar[bool] = True
    name: str
    against: str
    verdict: str
    """same or different."""
    places: tuple[str, ...] = ()
    """Places, from 1, that differ."""


@dataclass(frozen=True, kw_only=True)
class VinChecked(Event):
    """A vehicle identification number's structure holds; its check character may fit, not fit, or not apply."""

    follows: ClassVar[bool] = True
    name: str
    verdict: str
    """fits, does not fit, or does not apply: outside North America position nine need not be a check character."""


@dataclass(frozen=True, kw_only=True)
class LineKeptClosed(Event):
    """A line is not to be opened yet; the job goes back to `again`."""

    follows: ClassVar[bool] = True
    seals: ClassVar[bool] = True
    why: str
    """wait not over, no reading, pressure left, or pressure rose."""
    again: str
