"""Rows of the index that are no jobs of their own: logs that are gone, and second copies of a log under another name."""
from __future__ import annotations

import tempfile
from pathlib import Path

import duckdb

from companion.office.findings.kinds import KINDS
from companion.office.review.gone import lay_gone
from companion.office.review.store import Store

GONE, COPY = "gone", "copy"
"""Why a row stands aside. It is listed, and counts for no trend."""


def set_aside(database: duckdb.DuckDBPyConnection, index: Store) -> None:
    """Add the rows of logs that are gone to `facts`, and say in the table `aside` (log, why, of) which rows stand aside.

    A log that lies here under another name is not gone. Of logs that are alike to the last line, the first by name
    is the job. Raises OSError."""
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder:
        lay_gone(database, index, Path(folder))
    database.execute("DELETE FROM gone WHERE log IN (SELECT log FROM facts) "
                     "OR tail IN (SELECT tail FROM facts WHERE tail <> '')")
    database.execute(f"""CREATE OR REPLACE TABLE aside AS
        SELECT log, '{COPY}' AS why, earliest AS of FROM (
            SELECT log, first_value(log) OVER (PARTITION BY tail ORDER BY log) AS earliest FROM facts
            WHERE tail <> '' AND holds)
        WHERE log <> earliest UNION ALL SELECT log, '{GONE}', '' FROM gone""")
    database.execute("INSERT INTO facts BY NAME SELECT * EXCLUDE (seen, missed) FROM gone")
    database.execute("UPDATE facts SET " + ", ".join(
        f"{name} = coalesce({name}, '')" for name, kind, *_ in database.execute("DESCRIBE facts").fetchall()
        if kind == "VARCHAR") + " WHERE log IN (SELECT log FROM gone)")
    database.execute(f"""INSERT INTO findings BY NAME
        SELECT log, 'log-copied' AS name, $weight AS severity, []::INTEGER[] AS lines, tail AS mark,
               'This log is the same, to the last line, as ' || of || ', and counts once with it.' AS said
        FROM aside JOIN facts USING (log) WHERE why = '{COPY}'""", {"weight": KINDS["log-copied"].severity})
