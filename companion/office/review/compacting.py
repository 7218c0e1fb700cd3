"""Merging the parts of many runs into one, so that an index that grew day by day is read as fast as a new one."""
from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Optional

import duckdb

from companion.office.review.live import live_rows, live_table, parts_of, write_live
from companion.office.review.store import Store
from companion.office.review.tables import TABLES

MOST_RUNS = 40
"""Runs whose parts are left as they are."""
_ORDER = {"jobs": "log", "findings": "log, name, lines", "stages": "log, number", "values": "log, line"}


def compact(index: Store, logs: dict[str, tuple[str, int]], most: Optional[int] = None) -> bool:
    """Where `logs` (as `live` gives them) stand in too many runs, or more than `most`, merge them into a new one; whether it
    was done.

    The old parts stay for whoever reads them now; the next run clears them away."""
    runs = {run for _, run in logs.values()}
    if len(runs) <= (MOST_RUNS if most is None else most):
        return False
    run = max(runs) + 1
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        live_table(database, logs)
        for table in reversed(list(TABLES)):
            made = Path(folder) / f"{table}.parquet"
            parts = parts_of(index.within(table), runs, None if index.local else Path(folder) / table)
            database.execute(f"COPY ({live_rows(table, parts)} ORDER BY {_ORDER[table]}) TO '{made}' "
                             "(FORMAT parquet, COMPRESSION zstd)")
            index.put(made, f"{table}/{run:06d}-00000.parquet")
    write_live(index, {log: (mark, run) for log, (mark, _) in logs.items()})
    return True
