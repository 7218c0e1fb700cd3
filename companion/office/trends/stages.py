"""Where the time of many jobs went, stage by stage, against the card's estimate.

Jobs count that came to their proper end: one that was stopped has stages that were broken off. A stage that a job did not
reach does not count for it.
"""
from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Optional

from companion.office.record.times import BEFORE
from companion.office.review.query import Filters
from companion.office.trends.ask import Database, ask

WHOLE = "the whole job"


@dataclass(frozen=True)
class StageTime:
    """The time that one stage of one card takes; milliseconds worked, time away left out."""

    card: str
    stage: str
    """As the card names it, or `WHOLE`."""
    jobs: int
    median: float
    ninth: float
    """90th percentile: nine jobs in ten need at most so long."""
    estimate: Optional[int]
    """Of the newest job's card; None where it gives none."""
    ratio: Optional[float]
    """Median over the jobs of worked time / estimate, each by the estimate of its own card."""


def stage_times(db: Database, filters: Filters = Filters()) -> list[StageTime]:
    """Card by card, stages in the order of the newest job, the whole job after them."""
    found = [StageTime(*row) for row in ask(db, filters, _STAGES)]
    wholes = {row[0]: row[1:] for row in ask(db, filters, _WHOLE)}
    made: list[StageTime] = []
    for card, group in groupby(found, key=lambda one: one.card):
        stages = list(group)
        made += [*stages, _whole(card, stages, *wholes[card])]
    return made


def _whole(card: str, stages: list[StageTime], jobs: int, median: float, ninth: float) -> StageTime:
    """The whole job against the sum of the estimates, where every stage has one."""
    estimates = [one.estimate for one in stages if one.stage != BEFORE]
    known = [one for one in estimates if one]
    whole = sum(known) if known and len(known) == len(estimates) else None
    return StageTime(card, WHOLE, jobs, median, ninth, whole, median / whole if whole else None)


_STAGES = """WITH ended AS (SELECT log, card, began FROM chosen WHERE finished AND NOT stopped),
    newest AS (SELECT card, arg_max(log, (began, log)) AS log FROM ended GROUP BY card),
    ordered AS (SELECT card, stage, row_number() OVER () AS place FROM stages JOIN newest USING (log)),
    spent AS (SELECT card, stage, count(*) AS jobs, median(worked_ms) AS middle, quantile_cont(worked_ms, 0.9) AS ninth,
                     arg_max_null(estimate_ms, began) AS estimate, median(worked_ms / nullif(estimate_ms, 0)) AS ratio
              FROM stages JOIN ended USING (log) WHERE worked_ms > 0 GROUP BY card, stage)
    SELECT spent.* FROM spent LEFT JOIN (SELECT card, stage, min(place) AS place FROM ordered GROUP BY ALL) AS places
    USING (card, stage) ORDER BY card, place NULLS LAST, stage"""
_WHOLE = """WITH ended AS (SELECT card, worked_ms FROM chosen WHERE finished AND NOT stopped)
    SELECT card, count(*), median(worked_ms), quantile_cont(worked_ms, 0.9) FROM ended GROUP BY card"""
