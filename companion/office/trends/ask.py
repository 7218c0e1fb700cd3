"""Asking the index's tables about the jobs that are wanted, in SQL."""
from __future__ import annotations

from typing import Any

import duckdb

from companion.office.review.query import Filters

Database = duckdb.DuckDBPyConnection
"""With the tables jobs, findings, stages and values; each thread brings a cursor of its own."""


def ask(db: Database, filters: Filters, sql: str, **values: Any) -> list[tuple[Any, ...]]:
    """The rows of a query that begins with WITH; `chosen` in it has the jobs that `filters` want, each
    once, `$name` a value."""
    where, wanted = filters.where()
    assert sql.startswith("WITH ") and not wanted.keys() & values.keys(), sql
    made = f"WITH chosen AS (SELECT * FROM jobs WHERE {where} AND aside = ''), {sql[5:]}"
    return db.execute(made, {**wanted, **values}).fetchall()
