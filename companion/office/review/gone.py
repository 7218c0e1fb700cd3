"""Logs that were indexed once and are gone. The index keeps a row of each, so that nobody makes a job unseen by removing
its log; it is dropped when the log is back."""
from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Optional

import duckdb

from companion.edge.device import wall
from companion.errors import BrokenMachine
from companion.office.review.live import live_rows, live_table, parts_of, rows_of_live
from companion.office.review.store import Store
from companion.office.review.tables import TABLES

GONE, LOOKED = "gone.parquet", "looked.json"
"""The rows, and when the folder was last looked at."""
_PERSONAL = ("mechanic", "vehicle", "cylinder", "complaint", "part")
"""Columns of a job that are not kept of one whose log is gone."""
_COLUMNS = {**{name: kind for name, kind in TABLES["jobs"].items() if name not in _PERSONAL},
            "seen": "VARCHAR", "missed": "VARCHAR"}
"""With the looks (RFC 3339, UTC) at which it was there for the last time, and missing for the first."""


def note_gone(index: Store, listed: dict[str, str]) -> None:
    """Keep a row of each log that the index has and the folder no more; say when the folder was looked at. One that is
    back is dropped when it has been read: till then `cut` must know how it ended.

    To be called before parts of the index are cleared. Raises OSError."""
    now = wall()
    was = {log: ("", run) for log, _, run, _ in rows_of_live(index)}
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        lay_gone(database, index, Path(folder))
        before = {log for log, in database.execute("SELECT log FROM gone").fetchall()}
        missing = {log: run for log, run in was.items() if log not in listed and log not in before}
        back = before & listed.keys() & was.keys()
        if missing or back:
            _add(database, index, missing, looked(index, Path(folder)), now, Path(folder))
            database.execute("DELETE FROM gone WHERE list_contains($listed, log)", {"listed": list(back)})
            made = Path(folder) / "made.parquet"
            database.execute(f"COPY (SELECT * FROM gone ORDER BY log) TO '{made}' (FORMAT parquet, COMPRESSION zstd)")
            index.put(made, GONE)
        made = Path(folder) / "made.json"
        made.write_text(json.dumps({"at": now}), encoding="utf-8")
        index.put(made, LOOKED)


def lay_gone(database: duckdb.DuckDBPyConnection, index: Optional[Store] = None, folder: Path = Path()) -> None:
    """Make the table `gone` of a database, where it has none; filled from the index, by way of a folder of this machine.
    Raises OSError."""
    database.execute(f"CREATE TABLE IF NOT EXISTS gone ({', '.join(f'{name} {kind}' for name, kind in _COLUMNS.items())})")
    if index is not None and index.has(GONE):
        index.fetch(GONE, folder / GONE)
        try:
            _insert(database, f"SELECT * FROM read_parquet('{folder / GONE}')")
        except duckdb.Error as error:
            raise BrokenMachine(f"{index.address}/{GONE}", f"cannot be read: {str(error).splitlines()[0]}",
                                do="Restore it from a copy; or remove it, and which logs were gone is forgotten") from None


def _add(database: duckdb.DuckDBPyConnection, index: Store, missing: dict[str, tuple[str, int]], seen: str, now: str,
         folder: Path) -> None:
    """What the index knew of them; where it is spoiled, their names alone."""
    live_table(database, missing)
    runs = {run for _, run in missing.values()}
    parts = parts_of(index.within("jobs"), runs, None if index.local else folder / "jobs")
    try:
        _insert(database, live_rows("jobs", parts))
    except duckdb.Error:
        print("companion: a part of the index is spoiled: of logs that are gone only the names are known", file=sys.stderr)
    database.execute("INSERT INTO gone (log) SELECT log FROM live WHERE log NOT IN (SELECT log FROM gone)")
    database.execute("UPDATE gone SET seen = $seen, missed = $now WHERE missed IS NULL", {"seen": seen, "now": now})


def _insert(database: duckdb.DuckDBPyConnection, rows: str) -> None:
    """Add rows that may be of another form of the index: only columns that are known."""
    there = {name for name, *_ in database.execute(f"DESCRIBE {rows}").fetchall()}
    names = ", ".join(name for name in _COLUMNS if name in there)
    database.execute(f"INSERT INTO gone BY NAME SELECT {names} FROM ({rows})")


def looked(index: Store, folder: Path) -> str:
    """When the folder was last looked at (RFC 3339, UTC); "" where that is not known. Raises OSError."""
    if not index.has(LOOKED):
        return ""
    index.fetch(LOOKED, folder / LOOKED)
    try:
        with open(folder / LOOKED, encoding="utf-8") as file:
            return str(json.loads(file.read(1000))["at"])[:40]
    except (ValueError, KeyError, TypeError, RecursionError):
        return ""
