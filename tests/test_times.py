"""Time by stage against the card's estimate, and what it costs."""
from __future__ import annotations

from decimal import Decimal, localcontext

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.times import KINDS, Row, Span, StageTime, against, by_stage, charged, labour

SPANS = st.lists(st.builds(Span, st.sampled_from(["proof", "strip", "drive"]), st.sampled_from(KINDS),
                           st.integers(0, 10_000_000)), max_size=30)
MINUTES = st.decimals("0", "10000", places=2)
STEPS = st.decimals("0.01", "120", places=2)
RATES = st.decimals("0", "500", places=2)
DAY = [Span("proof", "wait", 40_000), Span("strip", "wait", 660_000), Span("strip", "hands-on", 1_500_000),
       Span("proof", "hands-on", 300_500), Span("drive", "road test", 900_000), Span("strip", "away", 3_600_000),
       Span("proof", "wait", 20_000)]


def test_a_stage_adds_up_its_stretches_by_kind() -> None:
    """Hand-summed (definition): stages in the order they first come, one that came again is one, and the time away
    counts in all of it but not in the work."""
    times = by_stage(DAY)
    assert times == (StageTime("proof", 60_000, 300_500), StageTime("strip", 660_000, 1_500_000, 0, 3_600_000),
                     StageTime("drive", 0, 0, 900_000))
    assert [(time.worked_ms, time.total) for time in times] == [(360_500, 360_500), (2_160_000, 5_760_000),
                                                                (900_000, 900_000)]


@settings(max_examples=50, deadline=None, derandomize=True)
@given(SPANS, st.randoms(use_true_random=False))
def test_no_millisecond_is_lost_or_made(spans: list[Span], random) -> None:
    """What goes in comes out, whatever the order of the stretches."""
    times = by_stage(spans)
    assert sum(time.total for time in times) == sum(span.ms for span in spans)
    assert sum(time.away_ms for time in times) == sum(span.ms for span in spans if span.kind == "away")
    shuffled = list(spans)
    random.shuffle(shuffled)
    assert set(by_stage(shuffled)) == set(times)


def test_stages_are_held_against_their_estimates() -> None:
    """Hand-summed (definition): late is above 0, a stage without estimate has no difference, one never reached has no
    time, and the whole job comes last."""
    assert against(by_stage(DAY), {"strip": 30, "proof": 10, "wash": 5}, 45) == (
        Row("proof", 360_500, 10, -239_500), Row("strip", 2_160_000, 30, 360_000), Row("drive", 900_000, None, None),
        Row("wash", 0, 5, -300_000), Row("", 3_420_500, 45, 720_500))


def test_the_whole_is_not_made_up_from_its_parts() -> None:
    """A card that estimates only some stages gives no estimate for the job."""
    assert against(by_stage(DAY), {"strip": 30})[-1] == Row("", 3_420_500, None, None)
    assert against((), {}) == (Row("", 0, None, None),)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SPANS)
def test_the_stages_add_up_to_the_whole(spans: list[Span]) -> None:
    """The last row is the sum of all others, and estimates of nothing give the time itself as difference."""
    *rows, whole = against(by_stage(spans), {"proof": 0, "strip": 0, "drive": 0}, 0)
    assert sum(row.worked_ms for row in rows) == whole.worked_ms == whole.difference_ms
    assert len(rows) == 3 and all(row.difference_ms == row.worked_ms for row in rows)


@pytest.mark.parametrize("minutes, step, rate, counted, cost", [
    # Hand-computed from the definition; charging in started steps is common practice, no source.
    ("0", "6", "90", "0", "0"), ("0.01", "6", "90", "6", "9"), ("6", "6", "90", "6", "9"),
    ("6.01", "6", "90", "12", "18"),
    ("61", "15", "84.50", "75", "105.625"), ("90", "1", "80", "90", "120"), ("7.2", "0.5", "60", "7.5", "7.5"),
    ("20", "20", "100", "20", "33.33333333333333333333333333")])
def test_labour_counts_every_started_step(minutes: str, step: str, rate: str, counted: str, cost: str) -> None:
    """A step begun is a step charged; one that ends on the dot begins no other."""
    assert charged(Decimal(minutes), Decimal(step)) == Decimal(counted)
    assert labour(Decimal(minutes), Decimal(rate), Decimal(step)) == Decimal(cost)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(MINUTES, STEPS, RATES, st.decimals("0", "100", places=2))
def test_charging_rounds_up_by_less_than_a_step(minutes, step, rate, more) -> None:
    """Never less than worked, never a whole step more; charging what is charged changes nothing; more work never costs
    less; and the money is that of the charged time, whatever precision the caller has set."""
    counted, cost = charged(minutes, step), labour(minutes, rate, step)
    assert minutes <= counted < minutes + step and counted % step == 0 and charged(counted, step) == counted
    assert labour(minutes + more, rate, step) >= cost
    assert abs(cost * 60 - counted * rate) <= cost * Decimal("1e-25")
    with localcontext() as context:
        context.prec = 3
        assert labour(minutes, rate, step) == cost


@pytest.mark.parametrize("make, words", [
    (lambda: Span("strip", "lunch", 1),
     "time of stage strip: must be one of wait, hands-on, road test, away, not 'lunch'"),
    (lambda: Span("strip", "wait", -1), "time of stage strip: must be 0 ms or more, not -1"),
    (lambda: against((), {"strip": -1}), "estimate of strip: must be 0 minutes or more, not -1"),
    (lambda: against((), {}, -1), "estimate of the whole job: must be 0 minutes or more, not -1"),
    (lambda: labour(Decimal(-1), Decimal(1), Decimal(1)), "minutes: must be 0 or more, not -1"),
    (lambda: labour(Decimal(1), Decimal(-1), Decimal(1)), "rate for an hour: must be 0 or more, not -1"),
    (lambda: labour(Decimal(1), Decimal(1), Decimal(0)), "step in minutes: must be above 0, not 0"),
    (lambda: labour(Decimal("NaN"), Decimal(1), Decimal(1)), "minutes: must be a number"),
    (lambda: charged(Decimal(1), Decimal("Infinity")), "step in minutes: must be a number")])
def test_what_cannot_be_is_refused_by_name(make, words: str) -> None:
    """Each message says where, what must hold and what was found."""
    with pytest.raises(BadInput, match=words):
        make()
