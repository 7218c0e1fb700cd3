"""Measuring tools: what a tool can measure, whether its calibration holds, and how far its reading can be trusted.

Rules: the usable range starts at the lowest marked value (ISO 6789-1:2017, 5.1.3, seen second-hand); where no mark is
known, at 20 % of the top (ISO 6789:2003, seen second-hand). Calibration lasts 12 months or 5000 operations, whichever
comes first; a user's own procedure may override both (ISO 6789, seen second-hand).
"""
from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import MAXYEAR, date
from decimal import Context, Decimal
from fractions import Fraction

from companion.errors import BadInput
from companion.trade.units import check_number, convert, rounded, unit

_SMALL_TORQUE = Decimal(10)
_LEAST = {"low": None, "high": None, "arm": None, "uncertainty": 0, "uncertainty_percent": 0, "months": 1, "uses": 0,
          "most_uses": 1}
_ROOT_3 = Fraction(Context(prec=40).sqrt(Decimal(3)))

# Percent at or below 10 N·m, and above it. II A: ISO 6789:2003, seen second-hand; every other class: from memory.
_DEVIATIONS = {
    "I": {"A": (6, 6), "B": (6, 4), "C": (6, 4), "D": (6, 6), "E": (6, 4)},
    "II": {"A": (6, 4), "B": (6, 4), "C": (6, 4), "D": (6, 6), "E": (6, 6), "F": (6, 6), "G": (6, 6)},
}


@dataclass(frozen=True)
class Tool:
    """One measuring tool as its record gives it. Raises BadInput for a record that cannot be."""

    name: str
    """As the mechanic says it."""
    kind: str
    """What it is, e.g. "torque wrench"."""
    unit: str
    """A key of `units.UNITS`."""
    low: Decimal | None = None
    """Lowest marked value, in `unit`; None where not known."""
    high: Decimal | None = None
    """Top of its range, in `unit`; None where it has none."""
    iso_class: str = ""
    """ISO 6789 type and class of a torque tool, e.g. "II A"; "" where it has none."""
    uncertainty: Decimal | None = None
    """Expanded uncertainty (k = 2), in `unit`, 0 or more."""
    uncertainty_percent: Decimal | None = None
    """Expanded uncertainty (k = 2), percent of the reading, 0 or more."""
    arm: Decimal | None = None
    """Millimetres from the middle of the hand grip to the axis of the square drive, above 0."""
    calibrated: date | None = None
    """Day of the last calibration; None where there is none."""
    months: int = 12
    """Months a calibration lasts, 1 or more."""
    uses: int = 0
    """Operations since the last calibration, 0 or more."""
    most_uses: int = 5000
    """Operations a calibration lasts, 1 or more."""

    def __post_init__(self) -> None:
        where, torque = f"tool {self.name}", unit(self.unit).quantity == "torque"
        for name, least in _LEAST.items():
            value = getattr(self, name)
            if value is not None:
                check_number(Decimal(value), f"{where}: {name}")
                if least is not None and value < least:
                    raise BadInput(where, f"{name} must be {least} or more", str(value))
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise BadInput(where, "the range must end above its start", f"{self.low} to {self.high}")
        if torque and self.high is not None and self.high <= 0:
            raise BadInput(where, "the top of the range must be above 0", str(self.high))
        if self.arm is not None and self.arm <= 0:
            raise BadInput(where, "arm must be above 0 mm", str(self.arm))
        if self.iso_class:
            _deviations(self.iso_class)
            if not torque:
                raise BadInput(where, "an ISO 6789 class must belong to a torque tool", f"one in {self.unit}")


@dataclass(frozen=True)
class Fit:
    """Whether a tool will do, and if not, why not."""

    ok: bool
    """True where it will do."""
    why: str = ""
    """"", "below range", "above range", "other quantity", "out of date", "used up", "never calibrated" or
    "dated ahead" (calibrated on a day still to come)."""
    limit: Decimal | None = None
    """The end of the range that is passed, in the tool's unit; None for other reasons."""
    target: Decimal | None = None
    """The target in the tool's unit; None where there is none, or it is of another quantity."""
    due: date | None = None
    """The last day of the calibration; None where there is none."""


def lowest_usable(tool: Tool) -> Decimal | None:
    """The least the tool can measure, in its unit: its lowest mark, else 20 % of a torque tool's top, else None."""
    if tool.low is None and tool.high is not None and unit(tool.unit).quantity == "torque":
        return rounded(Fraction(tool.high) / 5)
    return tool.low


def fits(tool: Tool, target: Decimal, target_unit: str) -> Fit:
    """Whether `target` lies in the tool's usable range, both ends included.

    With an adaptor on the wrench the target is the setting (`torque.setting`). Raises BadInput for an unknown unit.
    """
    if unit(target_unit).quantity != unit(tool.unit).quantity:
        return Fit(False, "other quantity")
    value, low = convert(target, target_unit, tool.unit), lowest_usable(tool)
    if low is not None and value < low:
        return Fit(False, "below range", low, value)
    if tool.high is not None and value > tool.high:
        return Fit(False, "above range", tool.high, value)
    return Fit(True, target=value)


def in_calibration(tool: Tool, on: date) -> Fit:
    """Whether the tool's calibration holds on that day. It holds through its last day and its last operation."""
    if tool.calibrated is None:
        return Fit(False, "never calibrated")
    due = _months_after(tool.calibrated, tool.months)
    if tool.calibrated > on:
        return Fit(False, "dated ahead", due=due)
    if on > due:
        return Fit(False, "out of date", due=due)
    return Fit(False, "used up", due=due) if tool.uses >= tool.most_uses else Fit(True, due=due)


def judge_tool(tool: Tool, targets: Sequence[tuple[Decimal, str]], on: date) -> tuple[Fit, ...]:
    """Every reason the tool will not do for all these (value, unit) on that day; () where it will."""
    found = (in_calibration(tool, on), *(fits(tool, value, symbol) for value, symbol in targets))
    return tuple(fit for fit in found if not fit.ok)


def would_do(tools: Sequence[Tool], targets: Sequence[tuple[Decimal, str]], on: date) -> tuple[Tool, ...]:
    """Those of `tools` that will do for all these (value, unit) on that day."""
    return tuple(tool for tool in tools if not judge_tool(tool, targets, on))


def permitted_deviation(iso_class: str, torque_n_m: Decimal) -> Decimal:
    """The most a torque tool of this ISO 6789 class may be out, percent, by whether the torque is above 10 N·m.

    Class II A is seen second-hand, every other class is from memory. Raises BadInput for an unknown class, or a torque
    of 0 or less.
    """
    check_number(torque_n_m, "torque")
    if torque_n_m <= 0:
        raise BadInput("torque", "must be above 0 N·m", str(torque_n_m))
    small, large = _deviations(iso_class)
    return Decimal(small if torque_n_m <= _SMALL_TORQUE else large)


def expanded_at(tool: Tool, reading: Decimal, reading_unit: str) -> Decimal | None:
    """Expanded uncertainty (k = 2) of `reading`, in `reading_unit`, to 28 digits; None where nothing is known.

    The tool's own uncertainty comes first, then its percentage of the reading, then its class: a tolerance of plus or
    minus a, taken as rectangular, has the standard uncertainty a over root 3 (JCGM 100:2008, 4.3.7, from memory), so
    U = 2·a/√3. Raises BadInput where the reading is of another quantity than the tool's.
    """
    own = Fraction(convert(reading, reading_unit, tool.unit))
    if tool.uncertainty is not None:
        expanded = Fraction(tool.uncertainty)
    elif tool.uncertainty_percent is not None:
        expanded = abs(own) * Fraction(tool.uncertainty_percent) / 100
    elif tool.iso_class and own > 0:
        percent = permitted_deviation(tool.iso_class, convert(reading, reading_unit, "N·m"))
        expanded = own * Fraction(percent) / 50 / _ROOT_3
    else:
        return None
    # A difference, not a reading: two temperature scales share no zero, so only the factors count.
    return rounded(expanded * unit(tool.unit).factor / unit(reading_unit).factor)


def _deviations(iso_class: str) -> tuple[int, int]:
    match = re.fullmatch(r"(I{1,2})[ -]?([A-G])", iso_class.strip().upper())
    found = match and _DEVIATIONS[match[1]].get(match[2])
    if not found:
        raise BadInput("ISO 6789 class", "must be I A to I E or II A to II G", repr(iso_class))
    return found


def _months_after(day: date, months: int) -> date:
    """The same day of a later month, or that month's last day where it has no such day."""
    years, month = divmod(day.month - 1 + months, 12)
    year, month = min(day.year + years, MAXYEAR), month + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))
