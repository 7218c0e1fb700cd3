"""Control charts: against published examples, and against what other programs say."""
from __future__ import annotations

import random
from math import log

import pytest
from scipy import stats

from companion.errors import BadInput
from companion.office.trends.charts import ewma, individuals, student

_FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
_PROCESS = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *_FLOW]
_MEANS = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
          49.92, 50.73, 51.23, 51.94, 51.99]


def test_the_individuals_chart_is_the_published_one():
    """NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of ten batches (from memory)."""
    chart = individuals(_FLOW)
    assert (chart.centre, chart.mean_range) == (pytest.approx(50.81), pytest.approx(1.8778, abs=5e-5))
    assert (chart.low, chart.high) == (pytest.approx(45.8159, abs=2e-4), pytest.approx(55.8041, abs=2e-4))
    assert chart.out == ()


def test_the_ewma_chart_is_the_published_one():
    """NIST/SEMATECH e-Handbook 6.3.2.4, lambda 0.3, target 50, s 2.0539 (from memory)."""
    chart = ewma(_PROCESS, 50, 2.0539, weight=0.3)
    assert list(chart.means) == pytest.approx(_MEANS, abs=0.0051)
    assert (chart.low, chart.high) == (pytest.approx(47.4115, abs=1e-4), pytest.approx(52.5884, abs=1e-4))
    assert chart.out == ()


def test_a_point_outside_is_named_by_its_place():
    """One reading far off is out on the individuals chart; a small lasting shift only on the EWMA."""
    assert individuals([*_FLOW, 60.0], 50.81, 1.665).out == (10,)
    shifted = [50.0] * 5 + [53.0] * 10
    assert individuals(shifted, 50, 2).out == ()
    assert ewma(shifted, 50, 2).out == tuple(range(9, 15))


def test_exact_limits_open_to_the_asymptotic_ones():
    """The first is L·λ·σ, the last all but √(λ/(2 − λ)); a target from n readings widens them by its own σ/√n."""
    chart = ewma([0.0] * 200, 0, 1)
    assert chart.highs[0] == pytest.approx(0.6) and chart.highs[-1] == pytest.approx(chart.high) == pytest.approx(1.0)
    assert ewma([0.0] * 200, 0, 1, estimated_from=20).high == pytest.approx(3 * (0.2 / 1.8 + 1 / 20) ** 0.5)


def test_limits_of_an_estimated_target_have_the_chance_they_promise():
    """Simulated: the mean of 20 readings as target, 12 more: 0.27 % of series end beyond 3 standard deviations."""
    dice, out, series = random.Random(4), 0, 12_000
    for _ in range(series):
        centre = dice.gauss(0, 20 ** -0.5)
        out += 11 in ewma([dice.gauss(0, 1) for _ in range(12)], centre, 1, estimated_from=20).out
    assert 0.0014 < out / series < 0.0041  # three standard errors


def test_a_steady_process_runs_as_long_as_published():
    """Mean run to a false alarm at lambda 0.2, L 3: 559.9 (Lucas and Saccucci 1990, from memory).

    Simulated: runs are nearly geometric, so the share that ends within 200 readings gives the mean."""
    dice, ended, runs = random.Random(11), 0, 3000
    for _ in range(runs):
        chart = ewma([dice.gauss(0, 1) for _ in range(200)], 0, 1)
        ended += max(map(abs, chart.means)) > chart.high
    assert -200 / log(1 - ended / runs) == pytest.approx(559.9, rel=0.1)  # three standard errors


@pytest.mark.parametrize("degrees", [10, 12.4, 18, 30, 49, 1000])
def test_students_t_is_scipys(degrees: float):
    """The limit at few degrees of freedom, for the tails of three standard deviations."""
    assert student(degrees) == pytest.approx(stats.t.isf(stats.norm.sf(3), degrees), abs=0.03)


@pytest.mark.parametrize("wrong", [
    lambda: individuals([1.0]), lambda: individuals([], 1.0), lambda: ewma([1.0], 0, 1, weight=0),
    lambda: ewma([1.0], 0, 1, weight=1.1), lambda: ewma([1.0], 0, -1), lambda: ewma([1.0], 0, 1, width=-1)])
def test_what_makes_no_chart_is_refused(wrong):
    """Too few values, and figures that cannot be."""
    with pytest.raises(BadInput):
        wrong()
