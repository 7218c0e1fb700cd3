"""The record as plain text, for a terminal or a mail."""
from __future__ import annotations

import io
from typing import Iterable

from rich.box import ASCII_DOUBLE_HEAD
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from companion.office.record.found import NONE
from companion.office.record.markup import clean
from companion.office.record.rows import Row
from companion.office.record.summary import banner, behind, facts, title
from companion.office.record.tables import empty, tables

WIDTH = 110


def as_text(data: Row) -> str:
    """The whole record but its long lists: every step, every entry."""
    page = Console(file=io.StringIO(), width=WIDTH, color_system=None, highlight=False)
    stamp = [data["stamp"]] if data["stamp"] else []
    _say(page, [*stamp, title(data), data["card"]["defers"], *banner(data), ""])
    head = Grid.grid(padding=(0, 2, 0, 0))
    for heading, said in (*facts(data), *behind(data)):
        head.add_row(Text(heading), Text("\n".join(map(clean, said))))
    page.print(head)
    _say(page, ["", "FINDINGS", *_findings(data)])
    if data["look"]:
        _say(page, ["", "LOOK AT THIS TOO", *(f"- {said}" for said in data["look"])])
    for table, heads, rows in tables(data, folded=False):
        _say(page, ["", table.caption.upper()])
        page.print(_grid(heads, rows))
    _say(page, ["", f"None of these: {empty(data)}.", "All times are UTC.", *stamp])
    return "".join(f"{line.rstrip()}\n" for line in page.file.getvalue().splitlines())


def _findings(data: Row) -> Iterable[str]:
    """Each finding with its lines."""
    for one in data["findings"]:
        lines = f" (line {', '.join(map(str, one['lines']))})" if one["lines"] else ""
        yield f"- {one['severity']}: {one['said']}{lines}"
    if not data["findings"]:
        yield NONE


def _say(page: Console, lines: Iterable[str]) -> None:
    for line in lines:
        page.print(Text(clean(line)))


def _grid(heads: list[str], rows: list[list[str]]) -> Grid:
    grid = Grid(box=ASCII_DOUBLE_HEAD, header_style="")
    for head in heads:
        grid.add_column(Text(head), overflow="fold")
    for cells in rows:
        grid.add_row(*(Text(clean(cell)) for cell in cells))
    return grid
