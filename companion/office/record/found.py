"""What was found, in the record: every finding with the lines that show it, and what else a reader should see first."""
from __future__ import annotations

from itertools import groupby
from typing import Iterator

from companion.office.account import Account
from companion.office.findings import KINDS, PLACES, Finding, findings
from companion.office.findings.office import office_findings
from companion.office.holds import holds_passed
from companion.office.record.paper.blocks import Block, Grid, Point, Points, Says, Section
from companion.office.record.rows import Row
from companion.office.record.tables import TABLES, over_days
from companion.office.review_log import Reviewed

_MOST_LINES = 12
"""Lines named with one point."""
_MOST_ALIKE = 3
"""Findings of one kind that are told one by one."""
NONE = "No rule found anything to object to."


def found(account: Account, office: Reviewed) -> list[Row]:
    """Every finding of the log, and of how its card and its hold points stand with the office; the names are `--json`'s."""
    every = sorted((*findings(account), *_by_office(account, office)), key=lambda one: (PLACES[one.name], one.lines))
    return [{"name": one.name, "severity": one.severity, "said": one.said, "lines": list(one.lines)} for one in every]


def _by_office(account: Account, office: Reviewed) -> tuple[Finding, ...]:
    card, opened = account.card, account.opened
    if opened is None:
        return ()
    return office_findings(account.name, card.id if card else opened.card_name, card.version if card else "", opened.card_sha256,
                           account.entries[0].at, holds_passed(account), office, account.found["key"],
                           account.entries[-1].at)


def section(data: Row, entries: bool = True) -> Section:
    """The findings, the lines that show them, and what else is worth a look.

    `entries`: whether the paper has the table of all entries too, so that links lead there."""
    shown = {one["line"] for one in data["entries"]}
    points = tuple(point for same in _by_kind(data) for point in _points(same, shown))
    blocks: list[Block] = [Points(points) if points else Says(NONE)]
    if data["look"]:
        blocks += [Says("Look at this too:", strong=True), Points(tuple(map(Point, data["look"])))]
    named = {line for point in points for line in point.lines}
    return Section("Findings", (*blocks, *_lines(data, named, linked=not entries)))


def _by_kind(data: Row) -> list[list[Row]]:
    return [list(same) for _, same in groupby(data["findings"], key=lambda one: one["name"])]


def _points(same: list[Row], shown: set[int]) -> Iterator[Point]:
    """One point a finding; the findings of one kind beyond a few in one. `shown`: lines that the paper can lead to."""
    weight = same[0]["severity"].capitalize()
    told = same if len(same) <= _MOST_ALIKE + 1 else same[:_MOST_ALIKE]
    for one in told:
        yield Point(one["said"], weight, _some(one["lines"], shown))
    if rest := same[len(told):]:
        lines = sorted({line for one in rest for line in one["lines"][-1:]})
        yield Point(f"The same {len(rest)} times more: {KINDS[same[0]['name']].says}.", weight, _some(lines, shown))


def _some(lines: list[int], shown: set[int]) -> tuple[int, ...]:
    return tuple(line for line in lines if line in shown)[:_MOST_LINES]


def every(data: Row) -> tuple[Section, ...]:
    """Each finding in full, where some were gathered."""
    if all(len(same) <= _MOST_ALIKE + 1 for same in _by_kind(data)):
        return ()
    rows = tuple((one["severity"], one["name"].replace("-", " "), one["said"], ", ".join(map(str, one["lines"])))
                 for one in data["findings"])
    grid = Grid("every-finding", f"Every finding, {len(rows)}", ("Severity", "Kind", "Finding", "Lines"), rows)
    return (Section("Every finding", (grid,), f"{len(rows)} rows"),)


def _lines(data: Row, named: set[int], linked: bool) -> tuple[Grid, ...]:
    """The entries that the findings name, as the table of all entries has them."""
    table = next(table for table in TABLES if table.key == "entries")
    entries = [one for one in data["entries"] if one["line"] in named]
    if not entries:
        return ()
    heads, rows = table.filled(entries, over_days(data))
    lines = tuple(one["line"] for one in entries) if linked else ()
    return (Grid("named", "Lines that the findings name", tuple(heads), tuple(map(tuple, rows)), lines=lines),)
