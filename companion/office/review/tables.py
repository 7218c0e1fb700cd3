"""The four tables of the index and their columns, as DuckDB types."""
from __future__ import annotations

TABLES: dict[str, dict[str, str]] = {
    "jobs": {
        "log": "VARCHAR", "fingerprint": "VARCHAR", "began": "VARCHAR", "ended": "VARCHAR", "day": "VARCHAR",
        "mechanic": "VARCHAR", "vehicle": "VARCHAR", "card": "VARCHAR", "card_version": "VARCHAR",
        "card_sha256": "VARCHAR", "title": "VARCHAR", "practice": "BOOLEAN", "holds": "BOOLEAN", "finished": "BOOLEAN",
        "stopped": "BOOLEAN", "entries": "INTEGER", "worked_ms": "BIGINT", "away_ms": "BIGINT", "simulated": "BOOLEAN",
        "cylinder": "VARCHAR", "part": "VARCHAR", "complaint": "VARCHAR", "last": "VARCHAR", "key": "VARCHAR",
        "tools_name": "VARCHAR", "passed_holds": "VARCHAR[]", "hold_marks": "VARCHAR[]",
        "first": "VARCHAR", "tail": "VARCHAR", "fault": "VARCHAR"},
    "findings": {"log": "VARCHAR", "name": "VARCHAR", "severity": "VARCHAR", "lines": "INTEGER[]", "said": "VARCHAR",
                 "mark": "VARCHAR"},
    "stages": {"log": "VARCHAR", "number": "INTEGER", "stage": "VARCHAR", "worked_ms": "BIGINT", "estimate_ms": "BIGINT"},
    "values": {
        "log": "VARCHAR", "line": "INTEGER", "at": "VARCHAR", "step": "VARCHAR", "item": "VARCHAR", "name": "VARCHAR",
        "value": "DOUBLE", "unit": "VARCHAR", "low": "DOUBLE", "high": "DOUBLE", "nominal": "DOUBLE",
        "uncertainty": "DOUBLE", "tool": "VARCHAR", "tools_name": "VARCHAR", "part": "VARCHAR"},
}
"""Table to its columns. The index has them in files, one set for each batch of logs."""


def columns(table: str) -> str:
    """The columns of a table as DuckDB's `read_json` wants them."""
    return "{" + ", ".join(f"'{name}': '{kind}'" for name, kind in TABLES[table].items()) + "}"
