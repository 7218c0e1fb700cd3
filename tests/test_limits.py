"""Decisions at a limit: published conformance probabilities, guard bands, and what no uncertainty may change."""
from __future__ import annotations

from dataclasses import astuple
from decimal import Context, Decimal, localcontext

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from companion.errors import BadInput
from companion.trade.limits import conformance, false_accept_rate, judge

READINGS = st.decimals("-1000", "1000", places=3)
SPREADS = st.decimals("0.001", "500", places=3)


def dec(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


# -- probability -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("value, low, high, u, exact, printed", [
    # JCGM 106:2012, clause 7: computed from the formula, inputs from memory.
    ("509.7", "490", None, "8.6", "0.9890", "0.99"),
    ("-5.47", None, "-5.40", "0.05", "0.9192", "0.92"),
    ("13.6", "12.5", "16.3", "1.8", "0.6626", "0.66")])
def test_the_probabilities_of_jcgm_106_come_out(value, low, high, u, exact, printed) -> None:
    """A lower limit, an upper limit and both give the published figures, exact and as printed."""
    found = conformance(dec(value), dec(low), dec(high), dec(u))
    assert f"{found:.4f}" == exact and f"{found:.2f}" == printed


@settings(max_examples=80, deadline=None, derandomize=True)
@given(READINGS, READINGS, READINGS, SPREADS)
def test_the_probability_agrees_with_another_implementation(value, one, other, u) -> None:
    """scipy's normal distribution (recomputed) agrees to 12 decimals on random readings and limits."""
    low, high = sorted((one, other))
    theirs = norm.cdf(float(high), float(value), float(u)) - norm.cdf(float(low), float(value), float(u))
    assert float(conformance(value, low, high, u)) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize("z", ["1", "3", "6", "8", "10", "11.9"])
def test_a_far_tail_keeps_its_digits(z: str) -> None:
    """Far outside, the chance is tiny but true to 11 digits (scipy's survival function, recomputed): no digit is lost
    to the difference of two numbers near one."""
    assert float(conformance(Decimal(z), None, Decimal(0), Decimal(1))) == pytest.approx(norm.sf(float(z)), rel=1e-11, abs=0)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(READINGS, READINGS, READINGS, SPREADS)
def test_the_probability_is_the_same_in_a_mirror(value, one, other, u) -> None:
    """Low and high play the same part: turned about zero, the answer is the same."""
    low, high = sorted((one, other))
    assert conformance(value, low, high, u) == conformance(-value, -high, -low, u)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(READINGS, READINGS, READINGS, SPREADS, st.decimals("0", "100", places=3))
def test_wider_limits_and_a_better_reading_never_lower_it(value, one, other, u, more) -> None:
    """Monotonic: a wider tolerance never lowers the probability, nor does a smaller reading under a lone high limit."""
    low, high = sorted((one, other))
    assert conformance(value, low, high + more, u) >= conformance(value, low, high, u)
    assert conformance(value, low - more, high, u) >= conformance(value, low, high, u)
    assert conformance(value - more, None, high, u) >= conformance(value, None, high, u)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(READINGS, READINGS, SPREADS)
def test_what_does_not_lie_above_a_limit_lies_below_it(value, limit, u) -> None:
    """Two chances that leave no third add up to one; at the limit itself each is one half."""
    both = conformance(value, None, limit, u) + conformance(value, limit, None, u)
    assert abs(both - 1) <= Decimal("1e-11")
    assert conformance(limit, None, limit, u) == Decimal("0.5")


@pytest.mark.parametrize("value, low, high, expected", [
    ("5", "0", "10", 1), ("10", "0", "10", 1), ("10.001", "0", "10", 0), ("-0.001", "0", "10", 0), ("5", "5", "5", 1),
    ("5", None, None, 1), ("11", "0", None, 1)])
def test_without_uncertainty_it_is_certain(value, low, high, expected) -> None:
    """u = 0 gives 0 or 1, limits included, and no division by zero."""
    assert conformance(dec(value), dec(low), dec(high), Decimal(0)) == expected


# -- guard bands -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("factor, percent", [
    # ILAC-G8:09/2019, table 1: computed; the rows 0 and 1 seen second-hand.
    ("0", "50"), ("0.83", "4.85"), ("1", "2.28"), ("1.5", "0.135"), ("3", "0.000000099")])
def test_a_guard_band_accepts_falsely_as_often_as_ilac_says(factor: str, percent: str) -> None:
    """The share of false accepts for guard bands of 0 to 3 times U, to the digits in print."""
    printed = Decimal(percent)
    assert Context(prec=len(printed.as_tuple().digits)).plus(100 * false_accept_rate(Decimal(factor))) == printed


def test_a_band_beyond_the_limit_rejects_falsely_as_often_as_it_would_accept_turned_round() -> None:
    """ILAC-G8:09/2019 (computed): with w = −U, 2.28 % of rejects are false; the accepts are then mostly wrong."""
    assert f"{100 * (1 - false_accept_rate(Decimal(-1))):.2f}" == "2.28"
    assert 1 - false_accept_rate(Decimal(-1)) == pytest.approx(false_accept_rate(Decimal(1)), abs=Decimal("1e-12"))


def test_the_default_guard_of_iso_14253_is_a_rounded_one() -> None:
    """Trap: 0.82·U (ISO 14253-1:2017 from memory, 1.645·u rounded) lets 5.05 % through; 0.83·U (ILAC) is below 5 %."""
    assert f"{100 * false_accept_rate(Decimal('0.82')):.2f}" == "5.05"
    assert false_accept_rate(Decimal("0.8225")) < Decimal("0.05") > false_accept_rate(Decimal("0.83"))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.decimals("-5", "5", places=2), st.decimals("0", "5", places=2))
def test_a_wider_guard_never_accepts_falsely_more_often(factor: Decimal, more: Decimal) -> None:
    """Monotonic in the guard band."""
    assert false_accept_rate(factor + more) <= false_accept_rate(factor)


# -- verdicts ----------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("value, verdict, side", [
    ("50", "accept", "inside"), ("40.82", "accept", "inside"), ("40.81", "too close", "inside"),
    ("40", "too close", "inside"), ("39.99", "too close", "outside"), ("39.19", "too close", "outside"),
    ("39.18", "reject", "outside"), ("0", "reject", "outside"), ("59.18", "accept", "inside"),
    ("59.19", "too close", "inside"), ("60", "too close", "inside"), ("60.81", "too close", "outside"),
    ("60.82", "reject", "outside")])
def test_a_reading_is_accepted_or_rejected_only_past_the_guard_band(value: str, verdict: str, side: str) -> None:
    """Limits 40 to 60 with U = 1: the guard is 0.82 (ISO 14253-1:2017, from memory), both its edges included."""
    found = judge(Decimal(value), Decimal(40), Decimal(60), Decimal(1))
    assert (found.verdict, found.side) == (verdict, side)
    assert (found.guard, found.accept_low, found.accept_high) == (Decimal("0.82"), Decimal("40.82"), Decimal("59.18"))


@pytest.mark.parametrize("value, verdict", [("59", "accept"), ("59.01", "too close"), ("60.99", "too close"),
                                            ("61", "reject")])
def test_the_1998_rule_is_a_guard_of_the_whole_uncertainty(value: str, verdict: str) -> None:
    """ISO 14253-1:1998 (text from memory): y ± U wholly inside conforms, wholly outside does not, between neither."""
    assert judge(Decimal(value), Decimal(40), Decimal(60), Decimal(1), guard_factor=Decimal(1)).verdict == verdict


def test_a_good_chance_is_still_too_close_to_call() -> None:
    """JCGM 106 (inputs from memory): 13.6 in 12.5 to 16.3 with u = 1.8 conforms with 0.66: not enough to say so."""
    found = judge(Decimal("13.6"), Decimal("12.5"), Decimal("16.3"), Decimal("3.6"))
    assert (found.verdict, found.side, f"{found.probability:.4f}") == ("too close", "inside", "0.6626")


@pytest.mark.parametrize("value, verdict", [("14.4", "too close"), ("15.452", "too close"), ("20", "reject")])
def test_a_tool_too_coarse_for_its_limits_can_accept_nothing(value: str, verdict: str) -> None:
    """With U = 3.6 no reading between 12.5 and 16.3 is good enough, the middle included, and the zone shows it; what is
    clearly outside is still rejected."""
    found = judge(Decimal(value), Decimal("12.5"), Decimal("16.3"), Decimal("3.6"))
    assert found.verdict == verdict and found.accept_low > found.accept_high


@pytest.mark.parametrize("expanded", [None, "0"])
@pytest.mark.parametrize("value, verdict, side", [
    ("40", "accept", "inside"), ("60", "accept", "inside"), ("39.999", "reject", "outside"),
    ("60.001", "reject", "outside")])
def test_without_uncertainty_the_limits_decide(expanded, value, verdict, side) -> None:
    """A plain comparison, limits included, without a made-up probability."""
    assert astuple(judge(Decimal(value), Decimal(40), Decimal(60), dec(expanded))) == (
        verdict, side, None, Decimal(40), Decimal(60), None)


def test_without_limits_there_is_no_verdict() -> None:
    """Nothing is accepted that was never limited."""
    assert astuple(judge(Decimal(5), None, None, Decimal(1))) == ("none", "none", None, None, None, None)


@pytest.mark.parametrize("value, low, high, verdict", [
    ("60.9", None, "60", "reject"), ("-1000", None, "60", "accept"), ("59.5", None, "60", "too close"),
    ("1000", "40", None, "accept"), ("39.1", "40", None, "reject"), ("40.5", "40", None, "too close")])
def test_a_limit_on_one_side_leaves_the_other_free(value, low, high, verdict) -> None:
    """A missing limit is never passed, and has no acceptance limit."""
    found = judge(Decimal(value), dec(low), dec(high), Decimal(1))
    assert found.verdict == verdict and (found.accept_low is None) == (low is None)
    assert (found.accept_high is None) == (high is None)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(READINGS, READINGS, READINGS, st.decimals("0", "500", places=3), st.decimals("0", "3", places=2))
def test_uncertainty_can_only_make_a_verdict_more_careful(value, one, other, expanded, factor) -> None:
    """Whatever is accepted is inside and whatever is rejected outside; a better tool never turns one into the other."""
    low, high = sorted((one, other))
    plain, found = judge(value, low, high), judge(value, low, high, expanded, factor)
    assert found.side == plain.side and found.verdict in (plain.verdict, "too close")
    better = judge(value, low, high, expanded / 2, factor)
    assert found.verdict == "too close" or better.verdict == found.verdict


@settings(max_examples=50, deadline=None, derandomize=True)
@given(READINGS, READINGS, READINGS, SPREADS)
def test_accepted_conforms_more_likely_than_not_and_rejected_does_not(value, one, other, expanded) -> None:
    """Verdict and probability never speak against each other: accepted is at least 0.89 sure with the default guard (a
    twentieth may be left beyond each limit), rejected at most 0.06."""
    low, high = sorted((one, other))
    found = judge(value, low, high, expanded)
    assert found.verdict != "accept" or found.probability > Decimal("0.89")
    assert found.verdict != "reject" or found.probability < Decimal("0.06")


def test_the_guard_band_is_exact_whatever_the_callers_precision() -> None:
    """Trap: an uncertainty from a tool's class has 28 digits; under a short context nothing is rounded on its edge."""
    edge, expanded = Decimal("40.8200000000000000000000000082"), Decimal("1.00000000000000000000000001")
    expected = judge(edge, Decimal(40), Decimal(60), expanded)
    assert expected.verdict == "accept" and expected.accept_low == edge
    with localcontext() as context:
        context.prec = 3
        assert judge(edge, Decimal(40), Decimal(60), expanded) == expected


@pytest.mark.parametrize("value, low, high, expanded, factor, words", [
    ("5", "10", "0", "1", "1", "limits: the low one must not lie above the high one, not 10 to 0"),
    ("5", "0", "10", "-1", "1", "expanded uncertainty: must be 0 or more, not -1"),
    ("5", "0", "10", "1", "-1", "guard factor: must be 0 or more, not -1"),
    ("NaN", "0", "10", "1", "1", "reading: must be a number"),
    ("5", "-Infinity", "10", "1", "1", "low limit: must be a number"),
    ("5", "0", "Infinity", "1", "1", "high limit: must be a number"),
    ("5", "0", "10", "NaN", "1", "expanded uncertainty: must be a number")])
def test_what_cannot_be_judged_is_refused_by_name(value, low, high, expanded, factor, words) -> None:
    """Each message says where, what must hold and what was found."""
    with pytest.raises(BadInput, match=words):
        judge(Decimal(value), Decimal(low), Decimal(high), Decimal(expanded), Decimal(factor))


def test_a_negative_standard_uncertainty_is_refused_too() -> None:
    """Both functions name their own uncertainty, and a guard that is no number is named as well."""
    with pytest.raises(BadInput, match="standard uncertainty: must be 0 or more, not -1"):
        conformance(Decimal(5), Decimal(0), Decimal(10), Decimal(-1))
    with pytest.raises(BadInput, match="guard band over U: must be a number"):
        false_accept_rate(Decimal("NaN"))
