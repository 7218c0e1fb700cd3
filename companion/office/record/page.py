"""The record as a paper: findings first, then pictures, tables, the closing seal, and the long lists folded."""
from __future__ import annotations

from typing import Iterable, Optional

from companion.office.record import found
from companion.office.record.closing import closing
from companion.office.record.limit_bars import limit_bars, tightening
from companion.office.record.paper.blocks import Block, Fact, Facts, Grid, Paper, Says, Section
from companion.office.record.paper.chart import Chart
from companion.office.record.picture import timeline
from companion.office.record.rows import Row
from companion.office.record.side_by_side import side_by_side
from companion.office.record.sound import players
from companion.office.record.summary import banner, behind, facts, title
from companion.office.record.tables import Table, empty, tables

FOOT = ("Made from the log's entries alone. All times are UTC. The log and its closing seal are the evidence, "
        "not this page. Personal answers shown here stay here when the file beside the log is erased.")
_BAD = {"outside", "wrong", "too close to call", "unfit", "stands out", "outside a limit", "disagree", "they disagree",
        "still there", "came back", "new since then", "our own, still there", "different", "does not fit"}
"""A line with such a cell is in bold."""


def record_paper(data: Row) -> Paper:
    """The whole record."""
    sections = (found.section(data), _time(data), *_pictured(tightening(data)), *_pictured(limit_bars(data)),
                *_tables(data), closing(data),
                Section("None of these", (Says(f"{empty(data)}."),)),
                Section("Behind this record", (Facts("Behind this record", _facts(behind(data))),)), *found.every(data),
                *_folded(data))
    head = Facts("This job", _facts(facts(data)))
    return Paper("record", title(data), state(data, "job record"), data["stamp"], data["card"]["defers"],
                 tuple(banner(data)), head, sections, FOOT, data["job"]["ended"] or "")


def state(data: Row, kind: str) -> str:
    """What kind of paper it is, and how far the log goes and holds."""
    if data["check"]["wrong"]:
        return "does not hold"
    return kind if data["check"]["finished"] else f"unfinished {kind}"


def _facts(given: Iterable[tuple[str, list[str]]]) -> tuple[Fact, ...]:
    code = ("Card SHA-256", "Tool list SHA-256", "Device key", "Closing seal")
    return tuple(Fact(heading, tuple(said), heading in code) for heading, said in given)


def _time(data: Row) -> Section:
    nothing = Says("No time passed on this job's clock, so there is no picture of it.")
    return Section("Stages in time", (timeline(data) or nothing,))


def _pictured(chart: Optional[Chart]) -> tuple[Section, ...]:
    return (Section(chart.title, (chart,)),) if chart else ()


def _tables(data: Row) -> Iterable[Section]:
    for table, heads, rows in tables(data, folded=False):
        yield Section(table.caption, (*_above(data, table), grid(table, heads, rows)))


def _above(data: Row, table: Table) -> tuple[Block, ...]:
    """What stands above a table."""
    if table.key == "comparisons":
        return tuple(side_by_side(data))
    return tuple(players(data)) if table.key == "memos" else ()


def _folded(data: Row) -> Iterable[Section]:
    for table, heads, rows in tables(data, folded=True):
        lines = tuple(int(row[0]) for row in rows) if table.key == "entries" else ()
        yield Section(table.caption, (grid(table, heads, rows, lines),), f"{len(rows)} rows", printed=False)


def grid(table: Table, heads: list[str], rows: list[list[str]], lines: tuple[int, ...] = ()) -> Grid:
    """A table of the record, with what is not in order in bold."""
    bad = frozenset(place for place, row in enumerate(rows) if _BAD & set(row))
    return Grid(table.key, f"{table.caption}, {len(rows)}", tuple(heads), tuple(map(tuple, rows)), bad, lines)
