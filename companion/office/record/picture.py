"""The record's picture: each stage as a bar in time, with its waits and runs on it.

Places along the time axis are in percent and text is in pixels, so that it stays readable on a narrow screen.
"""
from __future__ import annotations

from typing import Any, Iterator

from companion.office.record.markup import Markup, join, tag
from companion.office.record.rows import Row
from companion.office.record.cells import shown, span

ROW, BAR, AXIS = 34, 12, 24
"""Pixels: from one stage to the next, the height of a bar, the height of the time axis."""
_STEPS = [minutes * 60_000 for minutes in (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)]


def picture(data: Row) -> Markup:
    """The figure, or a sentence where no time passed on the job's clock."""
    stages = data["stages"]
    total = max((to for stage in stages for _, to in stage["stretches"]), default=0)
    if not total:
        return tag("p", "No time passed on this job's clock, so there is no picture of it.")
    height = ROW * len(stages) + AXIS
    bars = [_stage(stage, data, place * ROW, total) for place, stage in enumerate(stages)]
    drawn = tag(
        "svg", tag("title", "The stages of the job in time", id="picture-title"),
        tag("desc", _in_words(data), id="picture-words"), _HATCH, _axis(total, height - AXIS),
        _marks(data, total, height - AXIS), bars,
        width="100%", height=height, role="img", aria_labelledby="picture-title picture-words")
    return tag("figure", drawn, tag("figcaption", _LEGEND))


_HATCH = tag("defs", tag("pattern", tag("path", d="M0 6 6 0", class_="line"), id="hatch", width=6, height=6,
                         patternUnits="userSpaceOnUse"))
_LEGEND = ("Outlined: a stage. Hatched: a wait. Black: a run. Dashed line: the program had stopped. Thick line: an "
           "emergency. Time away is left out of the scale.")


def _in_words(data: Row) -> str:
    """The picture for whoever cannot see it."""
    said = [f"{one['stage']} from {shown(one['at'])}, {span(one['took'])}" for one in data["stages"]]
    return "; ".join(said + [f"{one['say']} from {shown(one['at'])}, {span(one['to_ms'] - one['from_ms'])}"
                             for one in data["waits"] + data["runs"]])


def _stage(stage: Row, data: Row, top: int, total: int) -> Markup:
    """A stage's name, its bars, and the clocks that were started in it."""
    again = f", {len(stage['stretches'])} times" if len(stage["stretches"]) > 1 else ""
    bars = [_bar("stage", from_ms, to_ms, top, total, stage["stage"]) for from_ms, to_ms in stage["stretches"]]
    for kind in ("waits", "runs"):
        bars += [_bar(kind, one["from_ms"], one["to_ms"], top, total, one["say"])
                 for one in data[kind] if one["stage"] == stage["stage"]]
    name = tag("text", stage["stage"], tag("tspan", f"  {span(stage['took'])}{again}", class_="faint"), x=0, y=top + 13)
    return tag("g", name, bars)


def _bar(kind: str, from_ms: int, to_ms: int, top: int, total: int, title: str) -> Markup:
    width = max(to_ms - from_ms, total / 400)
    return tag("rect", tag("title", f"{title}, {span(to_ms - from_ms)}"), class_=kind, width=_place(width, total),
               x=_place(min(from_ms, total - width), total), y=top + 17, height=BAR)


def _axis(total: int, bottom: int) -> Iterator[Markup]:
    step = next((step for step in _STEPS if total / step <= 6), total)
    for at in range(0, total + 1, step):
        anchor = "start" if not at else "end" if at > total * 0.9 else "middle"
        yield _line("tick", at, total, bottom)
        yield tag("text", span(at) if at else "0", class_="faint", x=_place(at, total), y=bottom + 16,
                  text_anchor=anchor)


def _marks(data: Row, total: int, bottom: int) -> Iterator[Markup]:
    elapsed = {entry["line"]: entry["elapsed"] for entry in data["entries"]}
    for kind in ("gaps", "emergencies"):
        yield join(_line(kind, elapsed[one["line"]], total, bottom) for one in data[kind])


def _line(kind: str, at: int, total: int, bottom: int) -> Markup:
    return tag("line", class_=kind, x1=_place(at, total), x2=_place(at, total), y1=0, y2=bottom)


def _place(ms: Any, total: int) -> str:
    return f"{100 * ms / total:.2f}%"
