"""The pictures of values against their limits: a box from limit to limit, the value a point, its uncertainty a whisker.

Each row has a scale of its own, on which its limits stand in the middle; what lies far outside stands at the edge.
"""
from __future__ import annotations

from decimal import Decimal
from typing import Optional, Sequence

from companion.office.record.cells import limits, verdict
from companion.office.record.paper.chart import Chart, End, Mark, Strip
from companion.office.record.rows import Row, number
from companion.trade.units import UNITS

_LEGEND = ("Box: from limit to limit; a side without a limit reaches the edge. Whisker: the expanded uncertainty, "
           "k = 2; without one, it is not recorded. Black dot: inside. Ring: too close to call. Black square: "
           "outside, or risen. Each row has a scale of its own.")
_SHAPES = {"inside": "inside", "too close": "close", "outside": "outside"}


def limit_bars(data: Row) -> Optional[Chart]:
    """Every value that has limits and tightens nothing; None where there is none."""
    rows = [one for one in data["values"] if not tightens(one)]
    return _chart("limit-bars", "Values against their limits", [(one, _name(one)) for one in rows])


def tightening(data: Row) -> Optional[Chart]:
    """What was tightened, by torque or angle: the stages of one fastener beneath each other, in their order."""
    found: dict[str, list[Row]] = {}
    for one in filter(tightens, data["values"]):
        found.setdefault(one["fastener"] or one["name"], []).append(one)
    rows = [(one, _stage(fastener, one, place)) for fastener, stages in found.items()
            for place, one in enumerate(stages, 1)]
    return _chart("tightening", "Torque and angle, stage by stage", rows)


def tightens(value: Row) -> bool:
    """Whether a value is a torque, or an angle that a fastener was turned by."""
    unit = UNITS.get(value["unit"])
    return bool(unit) and (unit.quantity == "torque" or bool(value["fastener"]) and unit.quantity == "angle")


def _name(value: Row) -> str:
    return f"{value['name']}, {value['item']}" if value["item"] else value["name"]


def _stage(fastener: str, value: Row, place: int) -> str:
    return f"{fastener}, stage {place}: {value['name']}" if value["fastener"] else _name(value)


def _chart(key: str, title: str, rows: Sequence[tuple[Row, str]]) -> Optional[Chart]:
    drawn = [(strip, one) for one, name in rows if (strip := _strip(one, name))]
    if not drawn:
        return None
    words = "; ".join(f"{strip.name} {strip.note}, limits {limits(one)}" for strip, one in drawn)
    return Chart(key, title, words, _LEGEND, tuple(strip for strip, _ in drawn))


def _strip(value: Row, name: str) -> Optional[Strip]:
    """One value on its scale; None for one without limits that make sense, or that is no number."""
    at, low, high = (number(value[key] or "") for key in ("value", "low", "high"))
    if at is None or low is None and high is None or None not in (low, high) and low > high:
        return None
    scale = _Scale(at, low, high)
    known = number(value["uncertainty"] or "")
    whisker = (Mark("whisker", scale.place(at - known), scale.place(at + known)),) if known else ()
    point = scale.place(at)
    beyond = low is not None and at < low or high is not None and at > high
    shape = "outside" if beyond or value["rose_from"] else _SHAPES.get(value["verdict"], "close")
    box = Mark("limits", scale.place(low) if low is not None else 0.0, scale.place(high) if high is not None else 100.0)
    ends = tuple(End(scale.place(end), f"{value[key]} {value['unit']}")
                 for key, end in (("low", low), ("high", high)) if end is not None)
    return Strip(name, _note(value, beyond), (box, *whisker, Mark(shape, point, point)), ends)


def _note(value: Row, beyond: bool) -> str:
    """The figure, how sure it is, and what was found of it; a log's own verdict is not trusted against its figures."""
    found = "outside, though logged as inside" if beyond and value["verdict"] == "inside" else verdict(value)
    rose = f", risen from {value['rose_from']} {value['unit']}" if value["rose_from"] else ""
    replaced = f", replaced in line {value['replaced_by']}" if value["replaced_by"] else ""
    sure = f" ± {value['uncertainty']}" if value["uncertainty"] else ""
    return f"{value['value']}{sure} {value['unit']} – {found}{rose}{replaced}"


class _Scale:
    """Places from 1 to 99 parts of the width."""

    def __init__(self, at: Decimal, low: Optional[Decimal], high: Optional[Decimal]) -> None:
        """A fifth of the width lies outside each limit, so that what is outside is seen to be."""
        if low is not None and high is not None:
            self.width = (high - low) / Decimal("0.6") or Decimal(1)
            self.start = (low + high - self.width) / 2
        else:
            end = high if low is None else low
            self.width = max(2 * abs(end), abs(end - at) * Decimal("1.3"), Decimal(1))
            self.start = end - self.width * Decimal("0.2" if high is None else "0.8")

    def place(self, value: Decimal) -> float:
        """Where a value stands."""
        return round(float(min(max(100 * (value - self.start) / self.width, Decimal(1)), Decimal(99))), 2)
