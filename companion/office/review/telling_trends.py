"""What a review says of trends on a terminal: each sheet's heading, how it was counted, and its table."""
from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from companion.office.record.markup import clean
from companion.office.review.query import Filters, Index
from companion.office.review.telling import console_of
from companion.office.trends.sheets import Sheet, sheets

MOST_ROWS = 25
"""Rows of one table; `companion page` shows all, with the pictures."""


def tell_trends(index: Index, filters: Filters) -> None:
    """Every trend over the jobs wanted."""
    console = console_of()
    for sheet in sheets(index.db.cursor(), filters):
        _tell(console, sheet)
    console.print('"companion page FOLDER" draws them.')


def _tell(console: Console, sheet: Sheet) -> None:
    console.print(Text(clean(sheet.title), style="bold"))
    console.print(Text(clean(sheet.says)))
    table = Table(*sheet.heads, box=None, header_style="bold", pad_edge=False)
    for row in sheet.rows[:MOST_ROWS]:
        table.add_row(*(Text(clean(cell)) for cell in row))
    console.print(table if sheet.rows else "Nothing yet.")
    if len(sheet.rows) > MOST_ROWS:
        console.print(f"and {len(sheet.rows) - MOST_ROWS} more rows")
    console.print()
