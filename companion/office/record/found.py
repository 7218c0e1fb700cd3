"""What was found, in the record: every finding with the lines that show it, and what else a reader should see first."""
from __future__ import annotations

from itertools import groupby
from typing import Iterator

from companion.office.account import Account
from companion.office.findings import KINDS, findings
from companion.office.record.paper.blocks import Block, Grid, Point, Points, Says, Section
from companion.office.record.rows import Row
from companion.office.record.tables import TABLES, over_days

_MOST_LINES = 12
"""Lines named with one point."""
_MOST_ALIKE = 3
"""Findings of one kind that are told one by one."""
NONE = "No rule found anything to object to."


def found(account: Account) -> list[Row]:
    """Every finding of the log, under the names `--json` has."""
    return [{"name": one.name, "severity": one.severity, "said": one.said, "lines": list(one.lines)}
            for one in findings(account)]


def section(data: Row) -> Section:
    """The findings, the lines that show them, and what else is worth a look."""
    points = tuple(point for _, same in groupby(data["findings"], key=lambda one: one["name"])
                   for point in _points(list(same)))
    blocks: list[Block] = [Points(points) if points else Says(NONE)]
    if data["look"]:
        blocks += [Says("Look at this too:", strong=True), Points(tuple(map(Point, data["look"])))]
    return Section("Findings", (*blocks, *_lines(data, {line for point in points for line in point.lines})))


def _points(same: list[Row]) -> Iterator[Point]:
    """One point a finding; the findings of one kind beyond a few in one, which has their lines."""
    shown = same if len(same) <= _MOST_ALIKE + 1 else same[:_MOST_ALIKE]
    for one in shown:
        yield Point(one["said"], one["severity"].capitalize(), tuple(one["lines"][:_MOST_LINES]))
    if len(shown) < len(same):
        rest = same[len(shown):]
        lines = sorted({line for one in rest for line in one["lines"][-1:]})
        said = f"The same {len(rest)} times more: {KINDS[same[0]['name']].says}."
        yield Point(said, same[0]["severity"].capitalize(), tuple(lines[:_MOST_LINES]))


def every(data: Row) -> tuple[Section, ...]:
    """Each finding in full, where some were gathered."""
    rows = tuple((one["severity"], one["name"].replace("-", " "), one["said"], ", ".join(map(str, one["lines"])))
                 for one in data["findings"])
    if len(rows) <= _MOST_ALIKE + 1:
        return ()
    grid = Grid("every-finding", f"Every finding, {len(rows)}", ("Severity", "Kind", "Finding", "Lines"), rows)
    return (Section("Every finding", (grid,), f"{len(rows)} rows"),)


def _lines(data: Row, named: set[int]) -> tuple[Grid, ...]:
    """The entries that the findings name, as the table of all entries has them."""
    table = next(table for table in TABLES if table.key == "entries")
    entries = [one for one in data["entries"] if one["line"] in named]
    if not entries:
        return ()
    heads, rows = table.filled(entries, over_days(data))
    return (Grid("named", "Lines that the findings name", tuple(heads), tuple(map(tuple, rows))),)
