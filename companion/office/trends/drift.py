"""Tools that drift: the readings taken on each tool, job after job, against the tool's own beginning.

One series is a tool of a tool list and the name of a value, in percent off the nominal where the card gives one, else
in its unit. One job is one point, the mean of its readings on that tool (the kept ones; readings of one job resemble
each other, so it is the jobs that show how much is usual). The mean of the first 20 jobs is the target, not the
nominal, since hands have their habits and a wrench that was always pulled one percent past its mark is steady.
`since` of the filters begins anew, e.g. after a calibration. The standard deviation is MR̄/1.128 over the first 20
points and the last 60: moving ranges stay small where a tool drifts slowly.

A tool drifts when its EWMA is outside NOW, at its last job. That it once was is no call: any steady tool gets there
in the long run, with the usual limits after 560 readings in the mean, and sooner with so few to learn from. Three
things keep a steady tool from showing. The limits are wider by what 20 jobs leave unknown of the target, and the
ranges of the standard deviation (Student's t instead of 3). The standard deviation is at least half the smallest step
between points, for readings that are rounded. And wild readings count for little: a point as at most 3 standard
deviations away, while ranges above 3.267·MR̄ (the limit of their own chart) and points of the first 20 beyond 3
standard deviations are left out.

Simulated (normal points, 8000 series each): 4 of 1000 steady tools show, of those with rounded readings at most 6. A
lasting shift of 2 standard deviations shows after 20 jobs in 93 of 100 tools, one of 3 after 10 jobs in more than 99,
and one of 1 after 60 jobs in 26. One wild reading at the last job makes 22 of 1000 steady tools show, until the next
jobs.
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import fmean, median

from companion.office.review.query import Filters
from companion.office.trends.ask import Database, ask
from companion.office.trends.charts import D2, D4, LIMIT, Ewma, Individuals, ewma, individuals, moving_ranges, student

BASELINE = 20
"""Jobs that set the target; as many are needed before anything is judged."""
WEIGHT = 0.2
"""λ of the EWMA."""
FREEDOM = 0.62
"""Degrees of freedom that each moving range gives to the standard deviation, where they overlap (from memory)."""
WILD = 3.0
"""Standard deviations that a point counts as away at most."""
RECENT = 60
"""Last points that the mean and the standard deviation come from: what lies further back weighs 0.8^60 in the mean, two
in a million."""


@dataclass(frozen=True, order=True)
class Series:
    """What is charted together."""

    tools_name: str
    """Of the tool list."""
    tool: str
    name: str
    """Of the value."""
    unit: str
    """"%" off the nominal, or the value's unit where there is no nominal."""


@dataclass(frozen=True)
class Drift:
    """A tool's series and where it stands."""

    series: Series
    jobs: int
    first: tuple[float, ...]
    """The points of the first `BASELINE` jobs, oldest first; fewer where there are fewer."""
    later: tuple[float, ...]
    """The points after those; where that is long, only the last."""
    since: str = ""
    """Day of the first job, YYYY-MM-DD."""
    until: str = ""
    """Day of the last."""

    @property
    def judged(self) -> bool:
        """Whether there is something to judge after the baseline."""
        return len(self.first) == BASELINE and bool(self.later)

    @cached_property
    def ranges(self) -> list[float]:
        """The moving ranges that show how much is usual. Between the first points and the last there may be a gap."""
        found = moving_ranges(self.first) + moving_ranges(self.later[-RECENT:])
        return [one for one in found if one <= D4 * fmean(found)]

    @cached_property
    def sigma(self) -> float:
        """Standard deviation of a job's point, in the series' unit, above 0."""
        points = (*self.first, *self.later[-RECENT:])
        return max(fmean(self.ranges) / D2, _step(points) / 2, _rounding(points))

    @cached_property
    def kept(self) -> list[float]:
        """The first points without the wild ones among them."""
        return [value for value in self.first if abs(value - median(self.first)) <= LIMIT * self.sigma]

    @cached_property
    def single(self) -> Individuals:
        """The individuals chart of the points after the first."""
        return individuals(self.later, fmean(self.kept), self.sigma)

    @cached_property
    def mean(self) -> Ewma:
        """The EWMA chart of the points after the first."""
        far, centre = WILD * self.sigma, self.single.centre
        tame = [min(max(value, centre - far), centre + far) for value in self.later]
        return ewma(tame, centre, self.sigma, WEIGHT, student(FREEDOM * len(self.ranges)), len(self.kept))

    @property
    def drifts(self) -> bool:
        """Whether the mean is outside its limits at the last job."""
        return self.judged and len(self.later) - 1 in self.mean.out

    @property
    def shift(self) -> float:
        """From the target to the mean now, in the series' unit; 0 before there is anything to judge."""
        return self.mean.means[-1] - self.mean.target if self.judged else 0.0

    @property
    def reach(self) -> float:
        """The shift against its limit: above 1 is a drift."""
        return abs(self.shift) / (self.mean.highs[-1] - self.mean.target) if self.judged else 0.0


def drifts(db: Database, filters: Filters = Filters()) -> list[Drift]:
    """Every series of the jobs wanted, the worst first."""
    made = [_drift(*row) for row in ask(db, filters, _SERIES, few=BASELINE, recent=RECENT)]
    return sorted(made, key=lambda one: (-one.reach, one.series))


def whole(db: Database, series: Series, filters: Filters = Filters()) -> Drift:
    """One series with all its points, for its chart. Raises KeyError where no job has it."""
    rows = ask(db, filters, _POINTS, the_list=series.tools_name, the_tool=series.tool, the_name=series.name,
               the_unit=series.unit)
    if not rows:
        raise KeyError(series)
    points = tuple(point for point, _ in rows)
    return Drift(series, len(points), points[:BASELINE], points[BASELINE:], rows[0][1], rows[-1][1])


def _drift(tools_name: str, tool: str, name: str, unit: str, jobs: int, first: Sequence[float], last: Sequence[float],
           since: str, until: str) -> Drift:
    """`last` comes newest first, and may reach back into the baseline."""
    later = min(jobs - len(first), len(last))
    return Drift(Series(tools_name, tool, name, unit), jobs, tuple(first), tuple(reversed(last[:later])), since, until)


def _step(points: Sequence[float]) -> float:
    """The smallest difference between any two points that differ; 0 where none do."""
    ordered, least = sorted(set(points)), _rounding(points)
    return min((high - low for low, high in zip(ordered, ordered[1:]) if high - low > least), default=0.0)


def _rounding(points: Sequence[float]) -> float:
    """What is less than this comes from the arithmetic: a billionth."""
    return 1e-9 * max(1.0, *map(abs, points))


# `place` numbers the jobs in time; the last reading under a step and name is the one that was kept.
_POINT = """WITH places AS (SELECT log, day, (row_number() OVER (ORDER BY began, log))::INTEGER AS place FROM chosen),
    kept AS (SELECT place, tools_name, tool, name, unit, arg_max(value, line) AS value,
                    arg_max(coalesce(nominal, 0), line) AS nominal
             FROM "values" JOIN places USING (log) WHERE tool <> '' {only}
             GROUP BY place, step, tools_name, tool, name, unit),
    points AS (SELECT place, tools_name, tool, name, if(nominal = 0, unit, '%') AS unit,
                      avg(if(nominal = 0, value, 100 * (value - nominal) / abs(nominal))) AS point
               FROM kept GROUP BY ALL)"""
_SERIES = _POINT.format(only="") + """,
    series AS (SELECT tools_name, tool, name, unit, count(*) AS jobs, arg_min(point, place, $few) AS first,
                      arg_max(point, place, $recent) AS last, min(place) AS since, max(place) AS until
               FROM points GROUP BY tools_name, tool, name, unit)
    SELECT tools_name, tool, name, unit, jobs, first, last, oldest.day, newest.day FROM series
    JOIN places AS oldest ON oldest.place = since JOIN places AS newest ON newest.place = until"""
_POINTS = _POINT.format(only="AND tools_name = $the_list AND tool = $the_tool AND name = $the_name") + """
    SELECT point, day FROM points JOIN places USING (place) WHERE unit = $the_unit ORDER BY place"""
