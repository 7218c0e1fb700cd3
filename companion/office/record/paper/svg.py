"""A chart as a drawing within a page.

Places along the scale are in percent and text is in pixels, so that it stays readable on a narrow screen.
"""
from __future__ import annotations

from typing import Iterator

from companion.office.record.markup import Markup, tag
from companion.office.record.paper.chart import Chart, Mark, Strip, Upright

ROW, BAR, FOOT, END = 34, 12, 24, 14
"""Pixels: a row, the height of a bar, the scale's words below all rows, the words under one row."""
_POINT = 5
_RAISED = 17
"""From the top of a row to its bar."""
_LINE = 14
_WIDEST = 42
"""Letters of name and note that fit beside each other on the narrowest screen, 320 pixels wide."""


def drawing(chart: Chart) -> Markup:
    """The figure, with its legend below."""
    tops = _tops(chart)
    bottom = tops[-1]
    height = bottom + (FOOT if chart.uprights else 0)
    key = chart.key
    strips = [_strip(strip, top, key) for strip, top in zip(chart.strips, tops)]
    uprights = [_upright(one, bottom) for one in chart.uprights]
    drawn = tag("svg", tag("title", chart.title, id=f"{key}-title"), tag("desc", chart.words, id=f"{key}-words"),
                _hatch(key), uprights, strips, width="100%", height=height, role="img",
                aria_labelledby=f"{key}-title {key}-words")
    return tag("figure", drawn, tag("figcaption", chart.legend))


def _tops(chart: Chart) -> list[int]:
    """Where each row begins, and at last where the rows end."""
    tops = [0]
    for strip in chart.strips:
        tops.append(tops[-1] + ROW + (END if strip.ends else 0) + _second(strip))
    return tops


def _second(strip: Strip) -> int:
    """The height of a second line, for a note that does not fit beside the name."""
    return _LINE if len(strip.name) + len(strip.note) > _WIDEST and strip.note else 0


def _hatch(key: str) -> Markup:
    """Its own in each drawing: a name stands once on a page."""
    return tag("defs", tag("pattern", tag("path", d="M0 6 6 0", class_="line"), id=f"{key}-hatch", width=6, height=6,
                           patternUnits="userSpaceOnUse"))


def _strip(strip: Strip, top: int, key: str) -> Markup:
    lower = _second(strip)
    below = {"x": 0, "dy": lower} if lower else {}
    note = tag("tspan", ("" if lower else "  ") + strip.note, class_="faint", **below) if strip.note else ""
    ends = [tag("text", end.says, class_="faint", x=_percent(end.at), y=top + lower + ROW + 9,
                text_anchor=_anchor(end.at)) for end in strip.ends]
    marks = [_mark(mark, top + lower + _RAISED, key) for mark in strip.marks]
    return tag("g", tag("text", strip.name, note, x=0, y=top + 13), marks, ends)


def _mark(mark: Mark, top: int, key: str) -> Markup:
    middle = top + BAR // 2
    says = tag("title", mark.says) if mark.says else ""
    if mark.shape == "whisker":
        return tag("g", says, list(_whisker(mark, middle)), class_="whisker")
    if mark.shape in ("inside", "close"):
        return tag("circle", says, class_=mark.shape, cx=_percent(mark.start), cy=middle, r=_POINT)
    if mark.shape == "outside":
        return tag("rect", says, class_=mark.shape, x=_percent(mark.start), y=middle - _POINT, width=2 * _POINT,
                   height=2 * _POINT, transform=f"translate(-{_POINT} 0)")
    hatched = f"url(#{key}-hatch)" if mark.shape in ("waits", "outlier") else ""
    return tag("rect", says, class_=mark.shape, x=_percent(mark.start), y=top, width=_percent(mark.end - mark.start),
               height=BAR, fill=hatched)


def _whisker(mark: Mark, middle: int) -> Iterator[Markup]:
    """A line, and an upright at each end."""
    start, end = _percent(mark.start), _percent(mark.end)
    yield tag("line", class_="line", x1=start, x2=end, y1=middle, y2=middle)
    for at in (start, end):
        yield tag("line", class_="line", x1=at, x2=at, y1=middle - _POINT, y2=middle + _POINT)


def _upright(one: Upright, bottom: int) -> Iterator[Markup]:
    yield tag("line", class_=one.shape, x1=_percent(one.at), x2=_percent(one.at), y1=0, y2=bottom)
    if one.says:
        yield tag("text", one.says, class_="faint", x=_percent(one.at), y=bottom + 16, text_anchor=_anchor(one.at))


def _anchor(at: float) -> str:
    """Words near an edge stay within the picture."""
    return "start" if at < 15 else "end" if at > 85 else "middle"


def _percent(at: float) -> str:
    return f"{at:.2f}%"
