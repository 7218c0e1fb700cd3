"""The pictures of compared readings: a bar for each cylinder, their median as a line, the outlier hatched and named."""
from __future__ import annotations

from decimal import Decimal
from typing import Iterator, Optional, Sequence

from companion.office.record.paper.chart import Chart, Mark, Strip, Upright
from companion.office.record.rows import Row, number
from companion.office.record.worked_cells import finding

_LEGEND = "Outlined: a cylinder's reading. Hatched: the one that stands out. Dashed line: the median."


def side_by_side(data: Row) -> Iterator[Chart]:
    """A picture for each comparison whose readings are numbers; one made again with the same ones is drawn once."""
    last = {(one["name"], *one["cylinders"], *one["values"]): one for one in data["comparisons"]}
    return (chart for one in last.values() if (chart := _chart(one)))


def _chart(one: Row) -> Optional[Chart]:
    values = [number(value) for value in one["values"]]
    middle = number(one["median"] or "")
    known = [value for value in (*values, middle) if value is not None]
    if None in values or not any(known):
        return None
    ends = min([Decimal(0), *known]), max([Decimal(0), *known])
    strips = tuple(_strip(one, place, value, ends) for place, value in enumerate(values))
    says = f"median {one['median']} {one['unit']}"
    median = () if middle is None else (Upright("median", _place(middle, ends), says),)
    return Chart(f"readings-{one['line']}", one["name"], _in_words(one), f"{one['name']}. {_LEGEND}", strips, median)


def _in_words(one: Row) -> str:
    """The picture for whoever cannot see it."""
    said = [f"{label} {value} {one['unit']}" + (f", {found}" if (found := finding(one, label)) else "")
            for label, value in zip(one["cylinders"], one["values"])]
    return "; ".join(said + ([f"median {one['median']} {one['unit']}"] if one["median"] else []))


def _strip(one: Row, place: int, value: Decimal, ends: Sequence[Decimal]) -> Strip:
    """A cylinder's name, its reading, what was found of it, and its bar from zero."""
    label = one["cylinders"][place]
    found = finding(one, label)
    start, end = sorted((Decimal(0), value))
    left = _place(start, ends)
    shape = "outlier" if label == one["outlier"] else "reading"
    bar = Mark(shape, left, max(_place(end, ends), left + 0.2))
    return Strip(label, f"{one['values'][place]} {one['unit']}" + (f" – {found}" if found else ""), (bar,))


def _place(value: Decimal, ends: Sequence[Decimal]) -> float:
    """From the left edge; the bars take 99 parts of 100, so that the last one's outline is seen."""
    return round(float(99 * (value - ends[0]) / (ends[1] - ends[0])), 2)
