"""Logs that no longer hold a line that had been their last: shortened, or another text stands in their place. A log that
only grew still holds it.

The index keeps each such end until the log holds it again, so that nobody takes lines away unseen."""
from __future__ import annotations

import json
import sys
import tempfile
from dataclasses import asdict, dataclass, fields, replace
from itertools import islice
from pathlib import Path
from typing import Collection, Iterable, Optional

import duckdb

from companion.core.log.journal import digest
from companion.edge.device import wall
from companion.errors import BrokenMachine
from companion.office.place import lines_in
from companion.office.review.gone import lay_gone, looked
from companion.office.review.live import live_rows, live_table, parts_of, rows_of_live
from companion.office.review.store import Store

CUT = "cut.json"
"""The ends, in the index."""


@dataclass(frozen=True)
class End:
    """Where a log once ended."""

    log: str
    tail: str
    """SHA-256, hex, of its last whole line."""
    entries: int
    """Its lines, up to there."""
    finished: bool
    seen: str
    """The look (RFC 3339, UTC) at which it was there for the last time; "" where that is not known."""
    missed: str = ""
    """The look at which it was missing for the first; "" while it was not."""


_NAMES = [field.name for field in fields(End)]
_ENDS = "SELECT log, tail, entries, finished, {} AS seen FROM ({}) WHERE tail <> '' AND log IN (SELECT unnest($logs))"


def ends_of(index: Store, logs: Collection[str]) -> list[End]:
    """How each of `logs` ended when it was last read, or before it was gone; to be asked before the index changes. What a
    spoiled index had is not known. Raises OSError."""
    was = {log: ("", run) for log, _, run, _ in rows_of_live(index)}
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        seen = looked(index, Path(folder))
        lay_gone(database, index, Path(folder))
        live_table(database, was)
        parts = parts_of(index.within("jobs"), {run for _, run in was.values()}, None if index.local else Path(folder) / "jobs")
        rows = database.execute(_ENDS.format("seen", "SELECT * FROM gone"), {"logs": list(logs)}).fetchall()
        try:
            rows += database.execute(_ENDS.format("$seen", live_rows("jobs", parts)),
                                     {"logs": list(logs), "seen": seen}).fetchall()
        except duckdb.Error:
            print("companion: a part of the index is spoiled: whether logs that it knew were shortened since cannot be told. Check "
                  "them with verify and their receipts or closing seals", file=sys.stderr)
    return [End(*row) for row in rows]


def note_cut(index: Store, logs: Store, ends: Iterable[End], run: int) -> set[str]:
    """Keep those of `ends` that their logs, as the run has read them, no longer hold; and no more those that are there
    again. The logs that could not be read for this, and must be asked for again. Raises OSError for the index."""
    before, now, unread = cut_of(index), _read_in(index, run), set()
    after: dict[tuple[str, str], End] = {}
    for end in (*before, *(replace(end, missed=wall()) for end in ends)):
        try:
            there = end.log in now and _holds(logs, end, *now[end.log])
        except OSError:
            there = False
            unread.add(end.log)
        if not there:
            after.setdefault((end.log, end.tail), end)
    if tuple(after.values()) != before:
        _keep(index, after.values())
    return unread


def _keep(index: Store, ends: Iterable[End]) -> None:
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder:
        made = Path(folder) / CUT
        made.write_text(json.dumps([asdict(end) for end in ends]), encoding="utf-8")
        index.put(made, CUT)


def cut_of(index: Store) -> tuple[End, ...]:
    """The ends that the index keeps. Raises BrokenMachine where they cannot be read, OSError."""
    if not index.has(CUT):
        return ()
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder:
        index.fetch(CUT, Path(folder) / CUT)
        try:
            return tuple(End(**one) for one in json.loads((Path(folder) / CUT).read_bytes()))
        except (ValueError, TypeError, RecursionError):
            raise BrokenMachine(f"{index.address}/{CUT}", "cannot be read", do="Restore it from a copy; or remove it, and "
                                "which logs were shortened is forgotten") from None


def lay_cut(database: duckdb.DuckDBPyConnection, index: Optional[Store] = None) -> None:
    """Make the table `cut` of a database, where it has none; filled from the index. Raises as `cut_of`."""
    database.execute("CREATE TABLE IF NOT EXISTS cut (log VARCHAR, tail VARCHAR, entries INTEGER, finished BOOLEAN, "
                     "seen VARCHAR, missed VARCHAR)")
    ends = cut_of(index) if index is not None else ()
    if ends:
        database.execute("INSERT INTO cut SELECT " + ", ".join(f"unnest(${name})" for name in _NAMES),
                         {name: [getattr(end, name) for end in ends] for name in _NAMES})


def _read_in(index: Store, run: int) -> dict[str, tuple[str, int]]:
    """The last line's hash, and how many lines hold, of each log that the run has read."""
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        parts = parts_of(index.within("jobs"), {run}, None if index.local else Path(folder) / "jobs")
        found = parts and database.execute("SELECT log, tail, entries FROM read_parquet($parts)", {"parts": parts}).fetchall()
    return {log: (tail, entries) for log, tail, entries in found}


def _holds(logs: Store, end: End, tail: str, entries: int) -> bool:
    """Whether the log still has that line among those that hold; it is read again only where its last line is another.
    Raises OSError."""
    return end.tail == tail or any(digest(line) == end.tail for line in islice(lines_in(logs, end.log), entries))
