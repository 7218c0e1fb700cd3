"""Where the time of many jobs went, stage by stage, against the card's estimate.

Jobs count that came to their proper end: one that was stopped has stages that were broken off. A stage that a job did
not reach does not count for it.
"""
from __future__ import annotations

from dataclasses import dataclass
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
    stages = [StageTime(*row) for row in ask(db, filters, _STAGES)]
    wholes = [StageTime(card, WHOLE, *row) for card, *row in ask(db, filters, _WHOLE, before=BEFORE)]
    return sorted([*stages, *wholes], key=lambda one: one.card)  # keeps their order within a card


_STAGES = """WITH ended AS (SELECT log, card, began FROM chosen WHERE finished AND NOT stopped),
    newest AS (SELECT card, arg_max(log, (began, log)) AS log FROM ended GROUP BY card),
    ordered AS (SELECT card, stage, number AS place FROM stages JOIN newest USING (log)),
    spent AS (SELECT card, stage, count(*) AS jobs, median(worked_ms) AS middle, quantile_cont(worked_ms, 0.9) AS ninth,
                     arg_max_null(estimate_ms, began) AS estimate, median(worked_ms / nullif(estimate_ms, 0)) AS ratio
              FROM stages JOIN ended USING (log) WHERE worked_ms > 0 GROUP BY card, stage)
    SELECT spent.* FROM spent LEFT JOIN (SELECT card, stage, min(place) AS place FROM ordered GROUP BY ALL) AS places
    USING (card, stage) ORDER BY card, place NULLS LAST, stage"""
# The whole is held against the sum of the estimates, where every stage of the newest job has one.
_WHOLE = """WITH ended AS (SELECT log, card, began, worked_ms FROM chosen WHERE finished AND NOT stopped),
    newest AS (SELECT card, arg_max(log, (began, log)) AS log FROM ended GROUP BY card),
    sums AS (SELECT card, if(bool_and(estimate_ms IS NOT NULL), sum(estimate_ms)::BIGINT, NULL) AS estimate
             FROM stages JOIN newest USING (log) WHERE stage <> $before GROUP BY card)
    SELECT card, count(*), median(worked_ms) AS middle, quantile_cont(worked_ms, 0.9), any_value(estimate),
           middle / nullif(any_value(estimate), 0)
    FROM ended LEFT JOIN sums USING (card) WHERE worked_ms > 0 GROUP BY card"""
