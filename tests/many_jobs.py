"""Small tables of many jobs in memory, as the index has them: what a row does not say is what an honest job has."""
from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Iterable

import duckdb

from companion.office.review.tables import TABLES

_KINDS = {**TABLES, "jobs": {**TABLES["jobs"], "findings": "VARCHAR[]", "weight": "INTEGER", "worst": "VARCHAR",
                                              "aside": "VARCHAR"}}
_USUAL = {"holds": True, "finished": True, "stopped": False, "practice": True, "simulated": True, "vehicle": "VAN1",
          "card": "made-up-card", "cylinder": "cylinder one", "mechanic": "A B", "began": "2026-01-01T08:00:00.000Z",
          "ended": "2026-01-01T12:00:00.000Z", "day": "2026-01-01", "severity": "fault", "line": 1,
          "tools_name": "tools.yaml"}
_NONE = {"VARCHAR": "", "BOOLEAN": False, "INTEGER": 0, "BIGINT": 0, "VARCHAR[]": [], "INTEGER[]": [], "DOUBLE": None}


def database(**rows: Iterable[dict[str, Any]]) -> duckdb.DuckDBPyConnection:
    """A database with the four tables; `jobs=[{"log": "a"}]` fills one."""
    db = duckdb.connect()
    for table, kinds in _KINDS.items():
        columns = ", ".join(f'"{name}" {kind}' for name, kind in kinds.items())
        db.execute(f'CREATE TABLE "{table}" ({columns})')
        filled = [[{"number": place, **row}.get(name, _USUAL.get(name, _NONE[kind])) for name, kind in kinds.items()]
                  for place, row in enumerate(rows.get(table, ()))]
        if filled:
            values = ", ".join(f"unnest(${place + 1}::{kind}[])" for place, kind in enumerate(kinds.values()))
            db.execute(f'INSERT INTO "{table}" SELECT {values}', [list(column) for column in zip(*filled)])
    return db


def on(day: int, hour: int = 8) -> str:
    """The moment so many days after the first of January 2026, as a log has it."""
    return f"{date(2026, 1, 1) + timedelta(days=day)}T{hour:02d}:00:00.000Z"


def job(log: str, day: int, hours: int = 4, **more: Any) -> dict[str, Any]:
    """A job that begins at eight on a day, as many days after the first of January 2026."""
    return {"log": log, "began": on(day), "ended": on(day, 8 + hours), "day": on(day)[:10], **more}
