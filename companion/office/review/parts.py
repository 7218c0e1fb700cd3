"""Parts of the index: the rows of one batch of logs, as one Parquet file a table.

The bytes depend on the rows alone, so whoever makes a part, wherever, makes the same one.
"""
from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Iterable

import duckdb
import orjson

from companion.office.review.rows import Row
from companion.office.review.store import Store
from companion.office.review.tables import TABLES, columns


def write_part(store: Store, stem: str, rows: dict[str, Iterable[Row]]) -> None:
    """Write `TABLE/STEM.parquet` for every table at `store`, the table of jobs last: with it the part is whole."""
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        database.execute("SET threads = 1")  # so that rows keep their order, and the file its bytes
        for table in reversed(list(TABLES)):
            store.put(_parquet(database, Path(folder), table, rows[table]), f"{table}/{stem}.parquet")


def _parquet(database: duckdb.DuckDBPyConnection, folder: Path, table: str, rows: Iterable[Row]) -> Path:
    lines, made = folder / f"{table}.ndjson", folder / f"{table}.parquet"
    with open(lines, "wb") as file:
        for row in rows:
            file.write(orjson.dumps(row, option=orjson.OPT_APPEND_NEWLINE))
    database.execute(f"COPY (SELECT * FROM read_json('{lines}', format='newline_delimited', columns={columns(table)}, "
                     f"maximum_object_size={2**24})) TO '{made}' (FORMAT parquet, COMPRESSION zstd)")
    return made
