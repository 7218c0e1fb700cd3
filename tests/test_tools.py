"""Measuring tools: usable range, calibration, ISO 6789 classes and the uncertainty of a reading."""
from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.tools import (Fit, Tool, expanded_at, fits, in_calibration, judge_tool, lowest_usable,
                                   permitted_deviation, would_do)

TODAY = date(2026, 11, 25)
WRENCH = Tool("the digital wrench", "torque wrench", "N·m", Decimal("6.8"), Decimal(135), "I E",
              calibrated=date(2026, 3, 2), uses=412)
SMALL = Tool("the small wrench", "torque wrench", "lbf·in", Decimal(10), Decimal(100), calibrated=date(2026, 3, 2))
METER = Tool("the meter", "multimeter", "V", Decimal(0), Decimal(60), uncertainty=Decimal("0.05"),
             calibrated=date(2026, 3, 2))


def test_a_digital_wrench_from_6_8_newton_metres_is_no_good_for_a_first_stage_of_4() -> None:
    """Trade fact (common practice, no source): its range starts above the 4 N·m that come before 65 degrees."""
    assert fits(WRENCH, Decimal(4), "N·m") == Fit(False, "below range", Decimal("6.8"), Decimal(4))
    assert judge_tool(WRENCH, [(Decimal(4), "N·m")], TODAY) == (Fit(False, "below range", Decimal("6.8"), Decimal(4)),)
    assert would_do([WRENCH, SMALL, METER], [(Decimal(4), "N·m")], TODAY) == (SMALL,)


@pytest.mark.parametrize("target, unit, why", [
    ("6.8", "N·m", ""), ("6.79", "N·m", "below range"), ("135", "N·m", ""), ("135.01", "N·m", "above range"),
    ("99", "lbf·ft", ""), ("100", "lbf·ft", "above range"), ("60", "lbf·in", "below range"), ("61", "lbf·in", ""),
    ("5", "bar", "other quantity"), ("65", "°", "other quantity"), ("-4", "N·m", "below range")])
def test_the_range_includes_its_ends_and_holds_in_any_unit(target: str, unit: str, why: str) -> None:
    """135 N·m is 99.57 lbf·ft and 6.8 N·m is 60.2 lbf·in (NIST SP 811 factors, computed)."""
    assert fits(WRENCH, Decimal(target), unit).why == why


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.decimals("0", "200", places=2), st.decimals("0", "200", places=2))
def test_what_lies_between_two_targets_that_fit_fits(first: Decimal, second: Decimal) -> None:
    """The usable range has no holes."""
    ends = fits(WRENCH, first, "N·m").ok and fits(WRENCH, second, "N·m").ok
    assert not ends or fits(WRENCH, (first + second) / 2, "N·m").ok


def test_the_range_starts_at_the_lowest_mark_even_below_20_percent() -> None:
    """Trap: ISO 6789-1:2017 5.1.3 starts the range at the lowest marked value (seen second-hand), not at 20 %."""
    marked = replace(WRENCH, low=Decimal(10), high=Decimal(100))
    assert lowest_usable(marked) == 10 and fits(marked, Decimal(12), "N·m").ok


def test_without_a_known_mark_the_range_starts_at_20_percent_of_the_top() -> None:
    """ISO 6789:2003 (seen second-hand) for a torque tool; other tools have no such rule, and no top means no bottom."""
    unmarked = replace(WRENCH, low=None, high=Decimal(100))
    assert lowest_usable(unmarked) == 20
    assert fits(unmarked, Decimal("19.9"), "N·m").limit == 20 and fits(unmarked, Decimal(20), "N·m").ok
    assert lowest_usable(replace(METER, low=None)) is None
    assert lowest_usable(replace(WRENCH, low=None, high=None)) is None


@pytest.mark.parametrize("calibrated, uses, why", [
    (date(2025, 11, 25), 0, ""), (date(2025, 11, 24), 0, "out of date"), (date(2026, 11, 25), 4999, ""),
    (date(2026, 6, 1), 5000, "used up"), (date(2026, 11, 26), 0, "dated ahead"), (None, 0, "never calibrated"),
    (date(2024, 1, 1), 9000, "out of date")])
def test_calibration_ends_after_12_months_or_5000_operations(calibrated: date | None, uses: int, why: str) -> None:
    """ISO 6789 (seen second-hand): whichever comes first. The last day and the last operation still count."""
    fit = in_calibration(replace(WRENCH, calibrated=calibrated, uses=uses), TODAY)
    assert (fit.ok, fit.why) == (not why, why)


@pytest.mark.parametrize("calibrated, months, due", [
    (date(2026, 1, 31), 1, date(2026, 2, 28)), (date(2024, 2, 29), 12, date(2025, 2, 28)),
    (date(2025, 12, 1), 12, date(2026, 12, 1)), (date(2026, 11, 5), 2, date(2027, 1, 5)),
    (date(2023, 8, 31), 18, date(2025, 2, 28)), (date(2026, 5, 1), 10 ** 6, date(9999, 9, 1)),
    (date(2023, 8, 31), 6, date(2024, 2, 29))])
def test_months_are_calendar_months(calibrated: date, months: int, due: date) -> None:
    """A user's own interval may override the 12 months; a day that a month lacks becomes its last one."""
    tool = replace(WRENCH, calibrated=calibrated, months=months)
    assert in_calibration(tool, due).ok and in_calibration(tool, due).due == due
    if due.year < 9999:
        assert in_calibration(tool, due + timedelta(days=1)).why == "out of date"


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(1, 60), st.integers(0, 3000))
def test_a_calibration_once_over_stays_over(calibrated: date, months: int, days: int) -> None:
    """Holding is one run of days from the calibration to its due day."""
    tool, on = replace(WRENCH, calibrated=calibrated, months=months), calibrated + timedelta(days=days)
    fit = in_calibration(tool, on)
    assert fit.due is not None and fit.ok == (on <= fit.due)


def test_every_reason_is_given_at_once() -> None:
    """A tool out of date and out of range says both, in the order calibration, then targets."""
    old = replace(WRENCH, calibrated=date(2024, 1, 1))
    found = judge_tool(old, [(Decimal(4), "N·m"), (Decimal(20), "N·m"), (Decimal(500), "N·m")], TODAY)
    assert [fit.why for fit in found] == ["out of date", "below range", "above range"]
    assert judge_tool(WRENCH, [(Decimal(20), "N·m")], TODAY) == ()


@pytest.mark.parametrize("iso_class, at_10, above_10", [
    ("II A", 6, 4),                                                   # ISO 6789:2003, seen second-hand
    ("I A", 6, 6), ("I B", 6, 4), ("I C", 6, 4), ("I D", 6, 6), ("I E", 6, 4),          # from memory
    ("II B", 6, 4), ("II C", 6, 4), ("II D", 6, 6), ("II E", 6, 6), ("II F", 6, 6), ("II G", 6, 6)])    # from memory
def test_the_deviation_changes_above_10_newton_metres(iso_class: str, at_10: int, above_10: int) -> None:
    """ISO 6789: ten newton metres belong to the small torques."""
    for torque, expected in (("0.5", at_10), ("10", at_10), ("10.01", above_10), ("900", above_10)):
        assert permitted_deviation(iso_class, Decimal(torque)) == expected


@pytest.mark.parametrize("iso_class", ["II A", "ii a", "II-A", "IIA", " II a "])
def test_a_class_may_be_written_in_several_ways(iso_class: str) -> None:
    """Blanks, a hyphen and small letters do not matter."""
    assert permitted_deviation(iso_class, Decimal(20)) == 4


@pytest.mark.parametrize("iso_class", ["", "A", "III A", "I F", "II H", "2 A", "I"])
def test_a_class_outside_the_standard_is_refused(iso_class: str) -> None:
    """Type I has the classes A to E, type II A to G (GOST 33530-2015, source text seen)."""
    with pytest.raises(BadInput, match="must be I A to I E or II A to II G"):
        permitted_deviation(iso_class, Decimal(20))


@pytest.mark.parametrize("torque", ["0", "-1", "NaN"])
def test_no_torque_has_no_deviation(torque: str) -> None:
    """Percent of nothing says nothing."""
    with pytest.raises(BadInput, match="^torque: "):
        permitted_deviation("II A", Decimal(torque))


def test_a_class_gives_twice_its_tolerance_over_root_3() -> None:
    """At 40 N·m class I E allows 4 % = 1.6 N·m: U = 2·1.6/√3 = 1.8475 N·m (computed; JCGM 100 4.3.7, from memory)."""
    expanded = expanded_at(WRENCH, Decimal(40), "N·m")
    assert expanded is not None and expanded.quantize(Decimal("0.0001")) == Decimal("1.8475")
    assert abs(expanded * expanded * 3 - Decimal("3.2") ** 2) < Decimal("1e-24")


def test_the_class_is_taken_at_the_reading_in_newton_metres() -> None:
    """Trap of units: 80 lbf·in is 9.04 N·m, a small torque, though its number is above ten."""
    inches = Tool("w", "torque wrench", "lbf·in", Decimal(40), Decimal(200), "II A")
    at_80, at_100 = expanded_at(inches, Decimal(80), "lbf·in"), expanded_at(inches, Decimal(100), "lbf·in")
    assert at_80 is not None and at_80.quantize(Decimal("0.01")) == Decimal("5.54")     # 6 %, computed
    assert at_100 is not None and at_100.quantize(Decimal("0.01")) == Decimal("4.62")   # 4 %, computed


def test_an_own_uncertainty_comes_before_a_percentage_and_a_percentage_before_the_class() -> None:
    """What the certificate says counts more than what the class allows; nothing known is None."""
    both = replace(WRENCH, uncertainty=Decimal("0.5"), uncertainty_percent=Decimal(1))
    assert expanded_at(both, Decimal(40), "N·m") == Decimal("0.5")
    assert expanded_at(replace(both, uncertainty=None), Decimal(40), "N·m") == Decimal("0.4")
    assert expanded_at(replace(WRENCH, iso_class=""), Decimal(40), "N·m") is None
    assert expanded_at(WRENCH, Decimal(0), "N·m") is None
    percent = replace(METER, uncertainty=None, uncertainty_percent=Decimal(2))
    assert expanded_at(percent, Decimal(-5), "V") == Decimal("0.1")


def test_an_uncertainty_is_a_difference_of_temperatures_and_no_reading() -> None:
    """1 °C either way is 1.8 °F either way, not 33.8 °F."""
    probe = Tool("the probe", "thermometer", "°C", uncertainty=Decimal(1))
    assert expanded_at(probe, Decimal(176), "°F") == Decimal("1.8")
    percent = replace(probe, uncertainty=None, uncertainty_percent=Decimal(1))
    assert expanded_at(percent, Decimal(176), "°F") == Decimal("1.44")      # 1 % of 80 °C


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.decimals("0.1", "500", places=1))
def test_the_unit_of_a_reading_does_not_change_its_uncertainty(reading: Decimal) -> None:
    """Asked in pound inches or newton metres, the same share of the reading."""
    metric, inches = expanded_at(WRENCH, reading, "N·m"), expanded_at(WRENCH, reading * 8, "lbf·in")
    same = expanded_at(WRENCH, reading * 8 * Decimal("0.1129848290276167"), "N·m")
    assert metric is not None and inches is not None and same is not None
    assert abs(inches * Decimal("0.1129848290276167") - same) < Decimal("1e-18")


@pytest.mark.parametrize("changes, words", [
    ({"unit": "stone"}, "must be one of"), ({"low": Decimal(200)}, "must end above its start"),
    ({"low": None, "high": Decimal(0)}, "must be above 0"), ({"iso_class": "III A"}, "must be I A"),
    ({"unit": "bar"}, "must belong to a torque tool"), ({"uncertainty": Decimal(-1)}, "uncertainty must be 0 or more"),
    ({"uncertainty": Decimal("NaN")}, "uncertainty: must be a number"), ({"months": 0}, "months must be 1 or more"),
    ({"uncertainty_percent": Decimal(-1)}, "uncertainty_percent must be 0"), ({"uses": -1}, "uses must be 0 or more"),
    ({"most_uses": 0}, "most_uses must be 1 or more"), ({"arm": Decimal(0)}, "arm must be above 0 mm")])
def test_a_tool_record_that_cannot_be_is_refused(changes: dict[str, object], words: str) -> None:
    """Each refusal says what must hold."""
    with pytest.raises(BadInput, match=words):
        replace(WRENCH, **changes)


def test_a_reading_of_another_quantity_has_no_uncertainty() -> None:
    """A pressure on a torque wrench is a mistake of the caller."""
    with pytest.raises(BadInput, match="must measure torque"):
        expanded_at(WRENCH, Decimal(5), "bar")
