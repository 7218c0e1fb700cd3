"""Tools that drift: what shows and what does not, on made-up readings; every figure here is invented."""
from __future__ import annotations

import random
from statistics import fmean

import pytest

from companion.office.review.query import Filters
from companion.office.trends.charts import individuals
from companion.office.trends.drift import BASELINE, Drift, Series, drifts, whole
from many_jobs import database, job

_SERIES = Series("tools.yaml", "short wrench", "clamp torque", "%")


def _drift(points: list[float]) -> Drift:
    return Drift(_SERIES, len(points), tuple(points[:BASELINE]), tuple(points[BASELINE:]))


def _share(dice: random.Random, later: int, shift: float, step: float = 0.0, series: int = 1500) -> float:
    """Of made-up series that shift by so many standard deviations after the baseline, how many show."""
    shown = 0
    for _ in range(series):
        middle = dice.random()
        points = [dice.gauss(middle + shift * (place >= BASELINE), 1) for place in range(BASELINE + later)]
        shown += _drift([round(one / step) * step for one in points] if step else points).drifts
    return shown / series


@pytest.mark.parametrize("step", [0, 0.5, 2])
def test_a_steady_tool_hardly_ever_shows(step: float):
    """Simulated: about 4 in 1000 of steady tools, however readings are rounded; three standard errors allowed."""
    assert _share(random.Random(1), 40, 0, step) < 0.0105


@pytest.mark.parametrize("later, shift, least", [(10, 3, 0.97), (20, 2, 0.87), (60, 1.5, 0.63)])
def test_a_lasting_shift_shows(later: int, shift: float, least: float):
    """Simulated: the larger the shift, the sooner it is seen."""
    assert _share(random.Random(2), later, shift, series=300) > least


def test_a_slow_drift_shows_and_says_by_how_much():
    """A wrench that creeps by three percent in sixty jobs, beside a scatter of one percent."""
    dice = random.Random(3)
    found = _drift([dice.gauss(0, 1) + 3 * max(0, place - 20) / 60 for place in range(80)])
    assert found.drifts and found.reach > 1 and 1.5 < found.shift < 4


@pytest.mark.parametrize("points", [
    [24.0] * 60, [0.1 + 0.2] * 30 + [0.3] * 30, [24.0, 24.1] * 30, [24.0] * 30 + [24.1] + [24.0] * 20])
def test_rounded_readings_of_a_steady_tool_do_not_show(points: list[float]):
    """Readings that are all the same show no scatter; one step of the display later is no drift."""
    assert not _drift(points).drifts


def test_a_wild_reading_blinds_nothing():
    """One misread point among the first twenty: target and limits stay, and a shift after it still shows."""
    dice = random.Random(5)
    points = [dice.gauss(0, 1) for _ in range(60)]
    points[7] = 60.0
    steady = _drift(points)
    assert not steady.drifts and len(steady.kept) == BASELINE - 1 and steady.sigma < 1.5
    assert _drift(points[:20] + [one + 3 for one in points[20:]]).drifts


def test_one_wild_reading_at_the_end_is_no_drift():
    """However far off one last point is, it counts as three standard deviations; several of them do show."""
    steady = [-1.0, 1.0, 0.0] * 20
    assert not _drift([*steady, 500.0]).drifts and _drift([*steady, 500.0, 500.0, 500.0]).drifts


def test_the_past_is_no_call():
    """A tool that was off and came back is steady now; its chart still shows where it was."""
    dice = random.Random(6)
    found = _drift([dice.gauss(4 * (30 <= place < 40), 1) for place in range(80)])
    assert not found.drifts and set(found.mean.out) & set(range(10, 25))


def test_nothing_is_judged_before_twenty_one_jobs():
    """Twenty jobs are the target; with fewer or just as many there is nothing to hold against it."""
    assert not _drift([1.0] * 20).judged and not _drift([1.0]).judged and _drift([1.0] * 21).judged
    assert not _drift([1.0]).drifts and _drift([1.0]).reach == 0


def test_without_wild_points_the_chart_is_the_plain_one():
    """Centre and limits of the individuals chart by MR̄/1.128, the centre the mean of the first twenty."""
    dice = random.Random(12)
    points = [dice.gauss(10, 1) for _ in range(21)]
    found, plain = _drift(points), individuals(points[:20])
    assert found.kept == points[:20] and found.single.centre == pytest.approx(fmean(points[:20]))
    assert found.single.high - found.single.centre == pytest.approx(plain.high - plain.centre)


def _values(points: list[float], **more) -> dict:
    """A database of one job a point, in order of days, with that reading on the short wrench."""
    logs = [f"job-{place}" for place in range(len(points))]
    return {"jobs": [job(log, day) for day, log in enumerate(logs)],
            "values": [{"log": log, "step": "clamp", "name": "clamp torque", "unit": "N·m", "tool": "short wrench",
                        "value": point, **more} for log, point in zip(logs, points)]}


def test_long_series_stand_where_all_their_points_lead():
    """The chart has all points, and stands where the first twenty and the last sixty lead."""
    dice = random.Random(8)
    points = [round(dice.gauss(8, 0.1), 3) for _ in range(300)]
    db = database(**_values(points))
    found, = drifts(db)
    every = whole(db, found.series)
    assert (found.jobs, found.since, found.until) == (300, "2026-01-01", "2026-10-27")
    assert list(every.first + every.later) == points and list(found.later) == points[-60:]
    assert found.mean.means[-1] == pytest.approx(every.mean.means[-1], rel=1e-6)
    assert found.mean.highs[-1] == pytest.approx(every.mean.highs[-1], rel=1e-6)


def test_with_a_nominal_percent_is_charted():
    """Values of one name with different nominals on one tool make one series, in percent off each nominal."""
    made = _values([8.4, 25.2, 7.6])
    for row, nominal in zip(made["values"], (8, 24, 8)):
        row["nominal"] = nominal
    found, = drifts(database(**made))
    assert found.series.unit == "%" and found.first == pytest.approx((5, 5, -5))


def test_a_job_is_one_point_of_its_kept_readings():
    """Of a step that was logged twice the last reading counts; of several steps, the mean."""
    row = {"log": "a", "name": "nut torque", "unit": "N·m", "tool": "long wrench"}
    db = database(jobs=[job("a", 0)], values=[
        {**row, "step": "nut 1", "line": 3, "value": 12.0}, {**row, "step": "nut 1", "line": 5, "value": 120.0},
        {**row, "step": "nut 2", "line": 6, "value": 130.0},
        {**row, "step": "nut 2", "line": 7, "value": 1.0, "tool": ""}])
    found, = drifts(db)
    assert found.first == (125.0,)


def test_series_are_apart_by_list_tool_value_and_unit():
    """Two vans have a short wrench each; the filters choose among the jobs, and what no job has is no series."""
    row = {"step": "s", "name": "clamp torque", "unit": "N·m", "value": 8.0, "tool": "short wrench"}
    db = database(jobs=[job("a", 0), job("b", 1), job("c", 2)], values=[
        {**row, "log": "a", "tools_name": "van 1"}, {**row, "log": "b", "tools_name": "van 2"},
        {**row, "log": "b", "tool": "long wrench"}, {**row, "log": "c", "unit": "lbf·in"}])
    assert len(drifts(db)) == 4
    assert [one.series.tools_name for one in drifts(db, Filters(until="2026-01-01"))] == ["van 1"]
    with pytest.raises(KeyError):
        whole(db, _SERIES)


def test_the_drifting_wrench_comes_first():
    """Among ten steady tools, the one that drifts heads the list."""
    dice = random.Random(9)
    made = _values([dice.gauss(8, 0.1) + 0.01 * max(0, place - 20) for place in range(80)])
    for other in range(10):
        made["values"] += [{**row, "tool": f"wrench {other}", "value": dice.gauss(8, 0.1)}
                           for row in made["values"][:80]]
    found = drifts(database(**made))
    assert found[0].series.tool == "short wrench" and [one.drifts for one in found] == [True] + [False] * 10
