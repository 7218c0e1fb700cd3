"""Findings per hundred jobs, by kind, month, mechanic or card, with 95 % intervals (Wilson).

What is counted is jobs with such a finding, each once however often it has it, so that the interval is that of a share.
A finding or a weight in the filters chooses what is counted, not among which jobs.
"""
from __future__ import annotations

from dataclasses import dataclass, replace

from companion.office.findings.kinds import KINDS
from companion.office.review.query import Filters
from companion.office.trends.ask import Database, ask
from companion.trade.intervals import wilson


@dataclass(frozen=True)
class Rate:
    """How many of some jobs have what is counted."""

    name: str
    """The kind of finding, the month (YYYY-MM), the mechanic or the card; "" where the log names none."""
    hits: int
    """Jobs that have it."""
    jobs: int
    """Out of how many, 1 or more."""

    @property
    def hundred(self) -> float:
        """Per hundred jobs."""
        return 100 * self.hits / self.jobs

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval (Wilson), per hundred jobs."""
        low, high = wilson(self.hits, self.jobs)
        return 100 * low, 100 * high


GROUPS = {"month": "day[:7]", "mechanic": "mechanic", "card": "card"}
"""What jobs can be grouped by, and how that is read from the table of jobs."""


def by_kind(db: Database, filters: Filters = Filters()) -> list[Rate]:
    """Each kind that was found, the most frequent first."""
    rows = ask(db, _jobs_of(filters), f"""WITH {_FOUND}
        SELECT name, count(DISTINCT log) AS hits, (SELECT count(*) FROM chosen)
        FROM found JOIN chosen USING (log) GROUP BY name""", **_counted(filters))
    places = {name: place for place, name in enumerate(KINDS)}
    return sorted((Rate(*row) for row in rows), key=lambda one: (-one.hits, places.get(one.name, len(places))))


def by_group(db: Database, group: str, filters: Filters = Filters()) -> list[Rate]:
    """Jobs with any finding (of the kind or weight in the filters), by a key of `GROUPS`, in its order."""
    rows = ask(db, _jobs_of(filters), f"""WITH {_FOUND}, hit AS (SELECT DISTINCT log FROM found)
        SELECT {GROUPS[group]} AS name, count(hit.log), count(*) FROM chosen LEFT JOIN hit USING (log)
        GROUP BY 1 ORDER BY 1""", **_counted(filters))
    return [Rate(*row) for row in rows]


_FOUND = """found AS (SELECT log, name FROM findings WHERE ($counted = '' OR name = $counted)
                      AND ($weighing = '' OR severity = $weighing))"""


def _jobs_of(filters: Filters) -> Filters:
    return replace(filters, finding="", severity="")


def _counted(filters: Filters) -> dict[str, str]:
    """ "any" and "none" name no kind; what is counted is then any finding."""
    return {"counted": filters.finding if filters.finding in KINDS else "", "weighing": filters.severity}
