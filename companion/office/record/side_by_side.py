"""The pictures of compared readings: a bar for each cylinder, their median as a line, the outlier hatched and named.

Places along a bar are in percent and text is in pixels, as in the picture of the stages.
"""
from __future__ import annotations

from decimal import Decimal
from typing import Sequence

from companion.office.record.markup import Markup, join, tag
from companion.office.record.rows import Row, number
from companion.office.record.worked_cells import finding

ROW, BAR, FOOT = 34, 12, 20
"""Pixels: from one cylinder to the next, the height of a bar, the height of the median's name."""
_LEGEND = "Outlined: a cylinder's reading. Hatched: the one that stands out. Dashed line: the median."


def side_by_side(data: Row) -> Markup:
    """A figure for every comparison whose readings are numbers; one made again with the same readings is drawn once."""
    last = {(one["name"], *one["cylinders"], *one["values"]): one for one in data["comparisons"]}
    return join(_figure(one) for one in last.values())


def _figure(one: Row) -> Markup:
    values = [number(value) for value in one["values"]]
    middle = number(one["median"] or "")
    known = [value for value in (*values, middle) if value is not None]
    if None in values or not any(known):
        return join()
    ends = min([Decimal(0), *known]), max([Decimal(0), *known])
    height, name = ROW * len(values) + FOOT, f"readings-{one['line']}"
    bars = [_bar(one, place, value, ends) for place, value in enumerate(values)]
    drawn = tag("svg", tag("title", one["name"], id=f"{name}-title"), tag("desc", _in_words(one), id=f"{name}-words"),
                _pattern(one), bars, _median(one, middle, ends, height - FOOT), width="100%", height=height, role="img",
                aria_labelledby=f"{name}-title {name}-words")
    return tag("figure", tag("figcaption", f"{one['name']}. {_LEGEND}"), drawn)


def _in_words(one: Row) -> str:
    """The picture for whoever cannot see it."""
    said = [f"{label} {value} {one['unit']}" + (f", {found}" if (found := finding(one, label)) else "")
            for label, value in zip(one["cylinders"], one["values"])]
    return "; ".join(said + ([f"median {one['median']} {one['unit']}"] if one["median"] else []))


def _pattern(one: Row) -> Markup:
    """Its own in each picture: a name stands once on a page."""
    return tag("defs", tag("pattern", tag("path", d="M0 6 6 0", class_="line"), id=_pattern_name(one), width=6,
                           height=6, patternUnits="userSpaceOnUse"))


def _pattern_name(one: Row) -> str:
    return f"hatch-{one['line']}"


def _bar(one: Row, place: int, value: Decimal, ends: Sequence[Decimal]) -> Markup:
    """A cylinder's name, its reading, what was found of it, and its bar from zero."""
    label, top = one["cylinders"][place], place * ROW
    found = finding(one, label)
    reading = f"  {one['values'][place]} {one['unit']}" + (f" – {found}" if found else "")
    hatched = f"url(#{_pattern_name(one)})" if label == one["outlier"] else "#fff"
    start, end = sorted((Decimal(0), value))
    bar = tag("rect", class_="reading", x=_place(start, ends), y=top + 17, height=BAR, fill=hatched,
              width=f"{max(_percent(end, ends) - _percent(start, ends), Decimal('0.2')):.2f}%")
    return tag("g", tag("text", label, tag("tspan", reading, class_="faint"), x=0, y=top + 13), bar)


def _median(one: Row, middle: Decimal | None, ends: Sequence[Decimal], bottom: int) -> Markup:
    if middle is None:
        return join()
    at = _percent(middle, ends)
    anchor = "start" if at < 15 else "end" if at > 85 else "middle"
    line = tag("line", class_="gaps", x1=_place(middle, ends), x2=_place(middle, ends), y1=0, y2=bottom + 4)
    return join(line, tag("text", f"median {one['median']} {one['unit']}", class_="faint", x=_place(middle, ends),
                          y=bottom + 17, text_anchor=anchor))


def _place(value: Decimal, ends: Sequence[Decimal]) -> str:
    return f"{_percent(value, ends):.2f}%"


def _percent(value: Decimal, ends: Sequence[Decimal]) -> Decimal:
    """From the left edge; the bars take 99 parts of 100, so that the last one's outline is seen."""
    return 99 * (value - ends[0]) / (ends[1] - ends[0])
