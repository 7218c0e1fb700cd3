"""Asking the index: jobs by day, mechanic, vehicle, card and finding. All of it is SQL over the tables of `tables`."""
from __future__ import annotations

import tempfile
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path
from typing import Any, Iterator, Optional

import duckdb

from companion.errors import BadInput, BrokenMachine
from companion.office.findings.kinds import PLACES, SEVERITIES
from companion.office.review.aside import set_aside
from companion.office.review.cut import lay_cut
from companion.office.review.gone import lay_gone
from companion.office.review.live import index_of, live, live_rows, live_table, parts_of, whole
from companion.office.review.store import Store
from companion.office.review.tables import TABLES

Row = dict[str, Any]
ORDERS = {"newest": "began DESC, log", "oldest": "began, log", "worst": "weight DESC, began = '' DESC, began DESC, log"}
"""The orders of a list of jobs."""


@dataclass(frozen=True)
class Filters:
    """Which jobs are wanted; "" is any."""

    since: str = ""
    """First day, YYYY-MM-DD. A log that tells no day, because it cannot be read, is of every day: nobody may hide so."""
    until: str = ""
    """Last day."""
    mechanic: str = ""
    vehicle: str = ""
    """Whole, or its last characters."""
    card: str = ""
    finding: str = ""
    """Name of a kind; "any" for jobs with some finding, "none" for those without."""
    severity: str = ""
    """serious, fault or note: jobs with a finding of that weight."""
    text: str = ""
    """Stands in the log's name, or in what a finding says."""

    def where(self) -> tuple[str, dict[str, str]]:
        """As an SQL condition on `jobs`, with its values."""
        chosen = {one.name: getattr(self, one.name) for one in fields(self) if getattr(self, one.name)}
        some = _SOME.get(self.finding)
        if some:
            del chosen["finding"]
        return " AND ".join([*([some] if some else []), *(_TERMS[name] for name in chosen)]) or "true", chosen


_SOME = {"any": "len(findings) > 0", "none": "len(findings) = 0"}
_TERMS = {
    "since": "(day >= $since OR day = '')", "until": "(day <= $until OR day = '')",
    "mechanic": "lower(mechanic) = lower($mechanic)",
    "vehicle": "ends_with(upper(vehicle), upper($vehicle))", "card": "card = $card",
    "finding": "list_contains(findings, $finding)",
    "severity": "log IN (SELECT log FROM findings WHERE severity = $severity)",
    "text": "(contains(lower(log), lower($text)) "
            "OR log IN (SELECT log FROM findings WHERE contains(lower(said), lower($text))))"}


def must_be_day(where: str, day: str) -> None:
    """Raises BadInput where `day` is neither a day of the calendar, as YYYY-MM-DD, nor ""."""
    try:
        if not day or date.fromisoformat(day).isoformat() == day:
            return
    except ValueError:
        pass
    raise BadInput(where, "must be a day such as 2026-10-01", ascii(day[:60]))


class Index:
    """The index of a folder of logs, opened for asking. Jobs and findings lie in memory, the rest is read when asked for."""

    def __init__(self, db: duckdb.DuckDBPyConnection, kept: Optional[tempfile.TemporaryDirectory] = None) -> None:
        self.db = db
        """With the tables jobs, findings, stages and values; each thread takes a `cursor()` of its own."""
        self._kept = kept

    @classmethod
    def open(cls, logs: Store, apart: str = "") -> Index:
        """The index as `indexing.update` left it; without one there are no jobs. `apart`: see there. Raises BrokenMachine
        where parts of it are missing or spoiled."""
        index = index_of(logs, apart)
        known = live(index)
        try:
            made = cls._of(index, known)
        except duckdb.IOException:
            raise
        except duckdb.Error as error:  # of many kinds, by what was spoiled
            raise _spoiled(index, f"cannot be read: {str(error).splitlines()[0]}") from None
        if not whole(index, {run for _, run in known.values()}) or made.rows("SELECT count(*) AS n FROM facts")[0][
                "n"] != len(known):
            raise _spoiled(index, "must have every job that it lists, and some are missing")
        set_aside(made.db, index)
        lay_cut(made.db, index)
        made.weigh()
        return made

    @classmethod
    def _of(cls, index: Store, known: dict[str, tuple[str, int]]) -> Index:
        db = duckdb.connect()
        db.execute("SET threads = 2")
        live_table(db, known)
        kept = None if index.local else tempfile.TemporaryDirectory(prefix="companion-review-")
        for table in TABLES:
            parts = parts_of(index.within(table), {run for _, run in known.values()}, kept and Path(kept.name) / table)
            kind = "TABLE" if table in ("jobs", "findings") else "VIEW"
            db.execute(f"CREATE {kind} {_IN[table]} AS {live_rows(table, parts)}")
        return cls(db, kept)

    def weigh(self) -> None:
        """Give each job the names of its findings, and the weight of the worst; leave out logs that are gone and explained."""
        weights = " ".join(f"WHEN '{name}' THEN {len(SEVERITIES) - place}" for place, name in enumerate(SEVERITIES))
        self.db.execute("CREATE TABLE IF NOT EXISTS aside (log VARCHAR, why VARCHAR, of VARCHAR)")
        self.db.execute("CREATE TABLE IF NOT EXISTS explained (log VARCHAR)")
        lay_gone(self.db)
        lay_cut(self.db)
        self.db.execute(f"""
            CREATE OR REPLACE TABLE jobs AS
            SELECT facts.*, coalesce(why, '') AS aside, coalesce(names, []) AS findings, coalesce(heaviest, 0) AS weight,
                   coalesce(worst, '') AS worst
            FROM facts LEFT JOIN (
                SELECT log, list_sort(list_distinct(list(name))) AS names, max(CASE severity {weights} END) AS heaviest,
                       arg_max(severity, CASE severity {weights} END) AS worst
                FROM findings GROUP BY log) USING (log) LEFT JOIN aside USING (log)
            WHERE log NOT IN (SELECT log FROM explained) ORDER BY began DESC, log""")

    def jobs(self, filters: Filters = Filters(), limit: int = 100, offset: int = 0, order: str = "newest") -> list[Row]:
        """The jobs wanted, in an order of `ORDERS`. Raises KeyError for another order."""
        where, values = filters.where()
        some = f"SELECT rowid FROM jobs WHERE {where} ORDER BY {ORDERS[order]} LIMIT $limit OFFSET $offset"
        only = f"SELECT * FROM jobs WHERE rowid IN ({some}) ORDER BY {ORDERS[order]}"  # the others are not read whole
        return self.rows(only, {**values, "limit": limit, "offset": offset})

    def count(self, filters: Filters = Filters()) -> int:
        """How many jobs are wanted."""
        where, values = filters.where()
        return self.rows(f"SELECT count(*) AS n FROM jobs WHERE {where}", values)[0]["n"]

    def job(self, log: str) -> Optional[Row]:
        """One job by its log's name."""
        return next(iter(self.rows("SELECT * FROM jobs WHERE log = $log", {"log": log})), None)

    def findings_of(self, log: str) -> list[Row]:
        """The findings of one log, the most severe first."""
        found = self.rows("SELECT * FROM findings WHERE log = $log", {"log": log})
        return sorted(found, key=lambda one: (PLACES.get(one["name"], len(PLACES)), one["lines"] or []))

    def facets(self) -> dict[str, list[str]]:
        """What can be chosen: every mechanic, card and kind of finding there is."""
        every = "SELECT DISTINCT {0} AS one FROM {1} WHERE {0} <> '' ORDER BY 1"
        return {name: [row["one"] for row in self.rows(every.format(*place))] for name, place in _FACETS.items()}

    def names(self, filters: Filters = Filters()) -> Iterator[tuple[str, list[str]]]:
        """The logs wanted, by name, each with the names of its findings."""
        where, values = filters.where()
        found = self.db.cursor().execute(f"SELECT log, findings FROM jobs WHERE {where} ORDER BY log", values)
        while rows := found.fetchmany(1000):
            yield from rows

    def rows(self, sql: str, values: Optional[dict[str, Any]] = None) -> list[Row]:
        """The rows of a query, each by its columns' names; `$name` in it stands for a value."""
        found = self.db.cursor().execute(sql, values or {})
        names = [column[0] for column in found.description]
        return [dict(zip(names, row)) for row in found.fetchall()]


def _spoiled(index: Store, why: str) -> BrokenMachine:
    return BrokenMachine(index.address, why, do="Try again; if that does not help, remove this folder: it is made anew "
                         "from the logs")


_IN = {"jobs": "facts", "findings": "findings", "stages": "stages", "values": '"values"'}
_FACETS = {"mechanic": ("mechanic", "jobs"), "card": ("card", "jobs"), "finding": ("name", "findings")}
