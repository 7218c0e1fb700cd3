"""An index of many invented jobs, made in its tables, for the tests of what must be fast or must count right."""
from __future__ import annotations

import duckdb

from companion.office.findings.kinds import KINDS
from companion.office.review.overlay import OFFICE_KINDS
from companion.office.review.query import Index
from companion.office.review.tables import TABLES

CARD_SHA256 = "ab" * 32


def many_jobs(count: int) -> Index:
    """Jobs `job-000000.jsonl` on, three an hour from 2026-01-01; job n has the k-th kind of those that a log alone
    shows where n is a multiple of 7 + k."""
    db = duckdb.connect()
    db.execute("SET threads = 2")
    made = {"log": "format('job-{:06d}.jsonl', n)", "fingerprint": "'1:1'", "day": "left(began, 10)", "ended": "began",
            "began": "strftime(TIMESTAMP '2026-01-01' + n * INTERVAL 20 MINUTE, '%Y-%m-%dT%H:%M:%S.000Z')",
            "mechanic": "format('M{}', n % 40)", "vehicle": "format('INVENTED{:09d}', n % 5000)",
            "card": "format('card-{}', n % 5)", "card_version": "'1'", "card_sha256": f"'{CARD_SHA256}'",
            "title": "format('An invented card {}', n % 5)", "practice": "n % 2 = 0", "holds": "true",
            "finished": "true", "stopped": "false", "entries": "700", "worked_ms": "3600000", "away_ms": "0",
            "simulated": "true",
            "last": "format('{:064x}', n)",
            "passed_holds": "[]", "hold_marks": "[]", "tail": "format('{:064x}', n)", "fault": "''"}
    columns = ", ".join(f"({made.get(name, repr(''))})::{kind} AS {name}" for name, kind in TABLES["jobs"].items())
    db.execute(f"CREATE TABLE facts AS SELECT {columns} FROM (SELECT n, {made['began']} AS began FROM range({count}) "
               "AS made(n))")
    kinds = [kind for name, kind in KINDS.items() if name not in OFFICE_KINDS]
    db.execute("CREATE TABLE findings AS SELECT format('job-{:06d}.jsonl', n) AS log, name, severity, "
               f"[12, 34] AS lines, 'An invented sentence: ' || says AS said, '' AS mark FROM range({count}) AS made(n), "
               "(SELECT unnest(range($kinds)) AS k, unnest($names) AS name, unnest($weights) AS severity, "
               "unnest($says) AS says) WHERE n % (7 + k) = 0",
               {"kinds": len(kinds), "names": [one.name for one in kinds], "weights": [one.severity for one in kinds],
                "says": [one.says for one in kinds]})
    for table in ("stages", "values"):
        columns = ", ".join(f"NULL::{kind} AS {name}" for name, kind in TABLES[table].items())
        db.execute(f'CREATE TABLE "{table}" AS SELECT {columns} WHERE false')
    index = Index(db)
    index.weigh()
    return index
