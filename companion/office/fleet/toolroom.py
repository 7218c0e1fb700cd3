"""The measuring tools in each mechanic's van, as their list stood on the day of a job."""
from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache
from random import Random

from companion.edge.opening import Tools

_FIRST_DAY = date(2025, 1, 6)
_BETWEEN = timedelta(days=300)
"""Between two calibrations: shorter than the twelve months that one lasts."""

#: name, lowest mark and top in N·m, arm in millimetres, expanded uncertainty (k = 2) in percent
_WRENCHES = (
    ("short wrench", 5, 30, 210, 3.0),
    ("middle wrench", 21, 100, 340, 3.0),
    ("long wrench", 60, 300, 560, 2.4),
)


def tools_on(seed: int, van: int, day: date, ends: bool = False) -> Tools:
    """The list of van `van` (from 0) on that day; `ends`: the calibration of its wrenches ends on that very day."""
    wrenches = day.replace(year=day.year - 1) if ends else _last(seed, van, "wrenches", day)
    return Tools(tools_name(van), _listed(seed, van, wrenches, _last(seed, van, "meter", day)))


def tools_name(van: int) -> str:
    """What the list of van `van` (from 0) is called in a log."""
    return f"van-{van + 1}-tools.yaml"


def _last(seed: int, van: int, what: str, day: date) -> date:
    """The day of the last calibration up to `day`; the turn of each comes on another day."""
    first = _FIRST_DAY + timedelta(days=Random(f"{seed} {what} {van}").randrange(200))
    return first + (day - first) // _BETWEEN * _BETWEEN


@lru_cache(maxsize=64)
def _listed(seed: int, van: int, wrenches: date, meter: date) -> str:
    random = Random(f"{seed} list {van} {wrenches}")
    lines = [f"# The measuring tools of invented van {van + 1}. Every figure here is invented.", "tool_list: 1",
             "practice: true", "tools:"]
    for name, low, high, arm, percent in _WRENCHES:
        lines.append(f"  - {{name: {name}, kind: torque wrench, unit: N·m, low: {low}, high: {high}, iso_class: II A,\n"
                     f"     uncertainty_percent: {percent}, arm: {arm}, calibrated: {wrenches}, uses: {random.randrange(3000)}}}")
    lines.append("  - {name: old wrench, kind: torque wrench, unit: N·m, low: 5, high: 60, iso_class: II A, arm: 300, "
                 f"calibrated: {wrenches - timedelta(days=400)}, uses: 4100}}")
    lines.append("  - {name: hand meter, kind: resistance meter, unit: Ω, low: 0.1, high: 2000, uncertainty: 0.06, "
                 f"calibrated: {meter}}}")
    return "\n".join(lines) + "\n"
