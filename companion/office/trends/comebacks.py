"""Comebacks: a job on the same vehicle, by the same card, on the same cylinder, soon after one that was finished.

A job that names neither a cylinder nor a part, such as wheels refitted after other work, comes back from nothing. The
earlier job must have come to its proper end; the later one may end as it likes, a job that was stopped
is a van that came back all the same. A comeback of a comeback is linked to the first job of the chain.

The rate is of finished jobs that have had all their time: those that ended at least so many days before the newest
job of the index began. Younger jobs would make the rate look too good. Each counts once, however often it came back.
"""
from __future__ import annotations

from dataclasses import dataclass

from companion.office.review.query import Filters
from companion.office.trends.ask import Database, ask
from companion.office.trends.rates import GROUPS, Rate

DAYS = 90
"""Within so many days after the end of a job another one is a comeback; common practice, no source."""
_MS_A_DAY = 86_400_000


@dataclass(frozen=True)
class Comeback:
    """One job that should not have been needed."""

    log: str
    day: str
    """On which it began, YYYY-MM-DD."""
    vehicle: str
    card: str
    cylinder: str
    """"" where the card has none."""
    part: str
    """Number of the part that the first job fitted; "" where it names none."""
    before: str
    """Log of the job it came back from."""
    first: str
    """Log of the first job of the chain."""
    days: float
    """From the end of the job before to the beginning of this one."""


def comebacks(db: Database, filters: Filters = Filters(), days: int = DAYS) -> list[Comeback]:
    """Comebacks whose first job is wanted, the newest first."""
    rows = ask(db, Filters(), _LINKS, most=days * _MS_A_DAY)
    before = {row[0]: row[5] for row in rows}
    firsts = {log: _first(log, before) for log in before}
    parts = dict(ask(db, filters, _PARTS, logs=sorted(set(firsts.values()))))
    return [Comeback(log, day, vehicle, card, cylinder, parts[firsts[log]], earlier, firsts[log], gap / _MS_A_DAY)
            for log, day, vehicle, card, cylinder, earlier, gap in rows if firsts[log] in parts]


def _first(log: str, before: dict[str, str]) -> str:
    """Each job lies later than the one before it, so this ends."""
    while log in before:
        log = before[log]
    return log


BY = ("", "month", "mechanic", "card", "part")
"""What the rate is broken down by; "" for all jobs together."""


def comeback_rates(db: Database, filters: Filters = Filters(), days: int = DAYS) -> dict[str, list[Rate]]:
    """Finished jobs that came back, of those that have had their time; for each key of `BY`, in order."""
    found: dict[str, list[Rate]] = {by: [] for by in BY}
    for by, name, hits, jobs in ask(db, filters, _RATES, most=days * _MS_A_DAY):
        found[by].append(Rate(name, hits, jobs))
    return found


# Later is strictly later, so that a job of no length, as a simulated one may be, does not follow itself.
_KEYED = """keyed AS (
        SELECT log, upper(replace(vehicle, ' ', '')) AS van, card, cylinder,
               epoch_ms(try_cast(began AS TIMESTAMP)) AS from_ms, epoch_ms(try_cast(ended AS TIMESTAMP)) AS to_ms,
               finished AND NOT stopped AND to_ms >= from_ms AS proper
        FROM jobs WHERE aside = '' AND vehicle NOT IN ('', '(erased)') AND (cylinder <> '' OR part <> '')
              AND from_ms IS NOT NULL AND to_ms IS NOT NULL)"""
_SAME = "{0}.van = {1}.van AND {0}.card = {1}.card AND {0}.cylinder = {1}.cylinder"
_LINKS = f"""WITH {_KEYED}, ended AS (SELECT * FROM keyed WHERE proper),
    linked AS (SELECT keyed.log, keyed.from_ms, ended.log AS earlier, keyed.from_ms - ended.to_ms AS gap
               FROM keyed ASOF JOIN ended ON {_SAME.format("keyed", "ended")} AND keyed.from_ms > ended.to_ms)
    SELECT log, day, vehicle, card, cylinder, earlier, gap FROM linked JOIN jobs USING (log)
    WHERE gap <= $most ORDER BY from_ms DESC, log"""
_RATES = f"""WITH {_KEYED},
    counted AS (SELECT keyed.* FROM keyed JOIN chosen USING (log)
                WHERE proper AND to_ms + $most <= (SELECT max(from_ms) FROM keyed)),
    again AS (SELECT counted.log, later.from_ms - counted.to_ms <= $most AS back
              FROM counted ASOF LEFT JOIN keyed AS later
              ON {_SAME.format("counted", "later")} AND counted.to_ms < later.from_ms),
    named AS (SELECT {GROUPS["month"]} AS month, mechanic, card, part, coalesce(back, false) AS back
              FROM again JOIN chosen USING (log))
    SELECT CASE grouping(month, mechanic, card, part) WHEN 15 THEN '' WHEN 7 THEN 'month' WHEN 11 THEN 'mechanic'
                WHEN 13 THEN 'card' ELSE 'part' END AS kind, coalesce(month, mechanic, card, part, '') AS name,
           count(*) FILTER (back), count(*) AS jobs
    FROM named GROUP BY GROUPING SETS ((), (month), (mechanic), (card), (part)) HAVING jobs > 0 ORDER BY kind, name"""
_PARTS = "WITH wanted AS (SELECT unnest($logs::VARCHAR[]) AS log) SELECT log, part FROM chosen JOIN wanted USING (log)"
