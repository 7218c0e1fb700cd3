"""What a review says on a terminal: how many jobs, what was found how often, and which jobs to look at first."""
from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from companion.office.findings.kinds import KINDS, SEVERITIES
from companion.office.record.markup import clean
from companion.office.review.query import Filters, Index

_WIDTH = 120
"""Columns where the output is no terminal."""


def tell_jobs(index: Index, filters: Filters, new: int, most: int) -> None:
    """The jobs wanted: counts by kind of finding, then the worst jobs."""
    console, count = console_of(), index.count(filters)
    if not index.count():
        console.print("There is no job log (.jsonl) in this folder.")
        return
    if not count:
        console.print(f"No job is like that, of {index.count()}; {new} read now.")
        return
    console.print(f"{_jobs(count)}, {new} read now. {_clean(index, filters)} without findings.")
    if filters.finding != "none":
        console.print(_kinds(index, filters))
    listed = _listed(index, filters, most)
    if listed.row_count:
        console.print(f"\nSerious first, then the newest; {listed.row_count} of {count} (--most shows more):"
                      if count > most else "\nSerious first, then the newest:")
        console.print(listed)
    console.print('\n"companion record LOG" shows one job, "companion page FOLDER" all of them.')


def _listed(index: Index, filters: Filters, most: int) -> Table:
    """The jobs; what was found in words where one kind is asked for."""
    table = Table("log", "day", "mechanic", "findings", box=None, header_style="bold", pad_edge=False)
    for job in index.jobs(filters, limit=most, order="worst"):
        if job["findings"] or filters.finding == "none":
            said = [one["said"] for one in index.findings_of(job["log"]) if one["name"] == filters.finding]
            table.add_row(*(Text(clean(cell)) for cell in (
                job["log"], job["day"], job["mechanic"], " ".join(said) or ", ".join(job["findings"]))))
    return table


def _clean(index: Index, filters: Filters) -> int:
    where, values = filters.where()
    return index.rows(f"SELECT count(*) AS n FROM jobs WHERE {where} AND len(findings) = 0", values)[0]["n"]


def _kinds(index: Index, filters: Filters) -> Table:
    """How many jobs have each kind, the heaviest first."""
    where, values = filters.where()
    found = {row["name"]: row["n"] for row in index.rows(
        f"SELECT name, count(*) AS n FROM (SELECT unnest(findings) AS name FROM jobs WHERE {where}) GROUP BY name", values)}
    table = Table("", "jobs", "finding", "which means that", box=None, header_style="bold", pad_edge=False)
    for severity in SEVERITIES:
        for name, kind in KINDS.items():
            if kind.severity == severity and found.get(name):
                table.add_row(severity, str(found[name]), name, kind.says)
    return table


def _jobs(count: int) -> str:
    return "1 job" if count == 1 else f"{count} jobs"


def console_of() -> Console:
    console = Console(highlight=False, soft_wrap=False)
    return console if console.is_terminal else Console(highlight=False, width=_WIDTH)
