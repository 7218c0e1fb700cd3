"""Where the time of a job went, stage by stage, against the card's estimate, and what the labour costs.

Times are whole milliseconds, estimates whole minutes: sums and differences are exact. All by definition; charging in
started steps is common practice, no source, so the step is always given.
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from companion.errors import BadInput
from companion.trade.units import check_number, rounded

WAIT, HANDS_ON, ROAD_TEST, AWAY = "wait", "hands-on", "road test", "away"
KINDS = (WAIT, HANDS_ON, ROAD_TEST, AWAY)
_MS_A_MINUTE = 60_000


@dataclass(frozen=True)
class Span:
    """One stretch of time of one kind within one stage. Raises BadInput for an unknown kind or a time below 0."""

    stage: str
    """As the card names it."""
    kind: str
    """"wait", "hands-on", "road test" or "away" (the job was paused or left)."""
    ms: int
    """Milliseconds, 0 or more."""

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise BadInput(f"time of stage {self.stage}", f"must be one of {', '.join(KINDS)}", repr(self.kind))
        if self.ms < 0:
            raise BadInput(f"time of stage {self.stage}", "must be 0 ms or more", str(self.ms))


@dataclass(frozen=True)
class StageTime:
    """The time one stage took, by kind; all in milliseconds, 0 or more."""

    stage: str
    """As the card names it."""
    wait_ms: int = 0
    """Waiting for one of the card's clocks."""
    hands_on_ms: int = 0
    """Everything at the vehicle that is no wait and no drive."""
    road_ms: int = 0
    """On the road."""
    away_ms: int = 0
    """The job was paused or left."""

    @property
    def worked_ms(self) -> int:
        """All but the time away: what an estimate is about."""
        return self.wait_ms + self.hands_on_ms + self.road_ms

    @property
    def total(self) -> int:
        """All of it, the time away too."""
        return self.worked_ms + self.away_ms


@dataclass(frozen=True)
class Row:
    """One stage, or the whole job, against its estimate."""

    stage: str
    """As the card names it; "" for the whole job."""
    worked_ms: int
    """Milliseconds worked, without the time away; 0 where the stage was not reached."""
    estimate: int | None
    """The card's minutes; None where it gives none."""
    difference_ms: int | None
    """Worked less estimate: above 0 it took longer. None without an estimate."""


def by_stage(spans: Iterable[Span]) -> tuple[StageTime, ...]:
    """The time of every stage by kind, in the order in which the stages first come; a stage that came again is one."""
    sums: dict[str, dict[str, int]] = {}
    for span in spans:
        kinds = sums.setdefault(span.stage, dict.fromkeys(KINDS, 0))
        kinds[span.kind] += span.ms
    return tuple(StageTime(stage, kinds[WAIT], kinds[HANDS_ON], kinds[ROAD_TEST], kinds[AWAY])
                 for stage, kinds in sums.items())


def against(times: Sequence[StageTime], estimates: Mapping[str, int], whole: int | None = None) -> tuple[Row, ...]:
    """The stages against their estimates in minutes, then those estimated but not reached, then the whole job, as "".

    `whole`: the card's minutes for the whole job. Without it the whole is not added up from the stages, since a card
    may estimate only some of them. Raises BadInput for an estimate below 0.
    """
    worked = {time.stage: time.worked_ms for time in times}
    stages = dict.fromkeys((*worked, *estimates))
    rows = [_row(stage, worked.get(stage, 0), estimates.get(stage)) for stage in stages]
    return (*rows, _row("", sum(worked.values()), whole))


def charged(minutes: Decimal, step_minutes: Decimal) -> Decimal:
    """`minutes` rounded up to whole steps: every started step counts.

    Raises BadInput for minutes below 0, and for a step that is not above 0.
    """
    _check(minutes, "minutes")
    _check(step_minutes, "step in minutes")
    if not step_minutes:
        raise BadInput("step in minutes", "must be above 0", str(step_minutes))
    return rounded(ceil(Fraction(minutes) / Fraction(step_minutes)) * Fraction(step_minutes))


def labour(minutes: Decimal, rate_per_hour: Decimal, step_minutes: Decimal) -> Decimal:
    """What the labour costs, in the rate's money: charged minutes · rate / 60. Exact where it ends within 28 digits.

    Rounding to coins is the caller's, once, at the end of the bill (`units.resolve`). Raises BadInput as `charged`
    does, and for a rate below 0.
    """
    _check(rate_per_hour, "rate for an hour")
    return rounded(Fraction(charged(minutes, step_minutes)) * Fraction(rate_per_hour) / 60)


def _row(stage: str, worked_ms: int, estimate: int | None) -> Row:
    if estimate is not None and estimate < 0:
        raise BadInput(f"estimate of {stage or 'the whole job'}", "must be 0 minutes or more", str(estimate))
    return Row(stage, worked_ms, estimate, None if estimate is None else worked_ms - estimate * _MS_A_MINUTE)


def _check(number: Decimal, where: str) -> None:
    check_number(number, where)
    if number < 0:
        raise BadInput(where, "must be 0 or more", str(number))
