"""The record's picture of time: each stage as a bar, with its waits and runs on it."""
from __future__ import annotations

from typing import Any, Iterator, Optional

from companion.office.record.cells import shown, span
from companion.office.record.paper.chart import Chart, Mark, Strip, Upright
from companion.office.record.rows import Row

_STEPS = [minutes * 60_000 for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)]
_LEGEND = ("Outlined: a stage. Hatched: a wait. Black: a run. Dashed line: the program had stopped. Thick line: an "
           "emergency. Time away is left out of the scale.")


def timeline(data: Row) -> Optional[Chart]:
    """The picture; None where no time passed on the job's clock."""
    stages = data["stages"]
    total = max((to for stage in stages for _, to in stage["stretches"]), default=0)
    if not total:
        return None
    strips = tuple(_strip(stage, data, total) for stage in stages)
    uprights = (*_axis(total), *_events(data, total))
    return Chart("picture", "The stages of the job in time", _in_words(data), _LEGEND, strips, uprights)


def _in_words(data: Row) -> str:
    """The picture for whoever cannot see it."""
    said = [f"{one['stage']} from {shown(one['at'])}, {span(one['took'])}" for one in data["stages"]]
    return "; ".join(said + [f"{one['say']} from {shown(one['at'])}, {span(one['to_ms'] - one['from_ms'])}"
                             for one in data["waits"] + data["runs"]])


def _strip(stage: Row, data: Row, total: int) -> Strip:
    """A stage's name, its bars, and the clocks that were started in it."""
    again = f", {len(stage['stretches'])} times" if len(stage["stretches"]) > 1 else ""
    marks = [_mark("stage", from_ms, to_ms, total, stage["stage"]) for from_ms, to_ms in stage["stretches"]]
    for kind in ("waits", "runs"):
        marks += [_mark(kind, one["from_ms"], one["to_ms"], total, one["say"])
                  for one in data[kind] if one["stage"] == stage["stage"]]
    return Strip(stage["stage"], f"{span(stage['took'])}{again}", tuple(marks))


def _mark(shape: str, from_ms: int, to_ms: int, total: int, says: str) -> Mark:
    """A bar, wide enough to be seen."""
    width = max(to_ms - from_ms, total / 400)
    start = _place(min(from_ms, total - width), total)
    return Mark(shape, start, start + _place(width, total), f"{says}, {span(to_ms - from_ms)}")


def _axis(total: int) -> Iterator[Upright]:
    step = next((step for step in _STEPS if total / step <= 6), total)
    for at in range(0, total + 1, step):
        yield Upright("tick", _place(at, total), span(at) if at else "0")


def _events(data: Row, total: int) -> Iterator[Upright]:
    elapsed = {entry["line"]: entry["elapsed"] for entry in data["entries"]}
    for shape in ("gaps", "emergencies"):
        yield from (Upright(shape, _place(elapsed[one["line"]], total)) for one in data[shape])


def _place(ms: Any, total: int) -> float:
    return round(100 * ms / total, 2)
