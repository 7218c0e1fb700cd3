"""Torque: adaptors at any angle against published examples, stages, and the order of several bolts."""
from __future__ import annotations

import math
from decimal import Decimal, localcontext

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.torque import (Stage, applied, axial_advance, cosine, cross_order, passes, setting, stage_faults)

# target, arm, adaptor, angle, setting as printed
PRINTED = [
    # TM 1-1500-204-23-9 (source text seen): 300 wanted, L 10, A 4; printed 214, computed 214.29.
    ("300", "10", "4", 0, "214.29"),
    # Aircraft practice (source text seen), a worked example with the adaptor on and turned back.
    ("135", "10", "1.5", 0, "117.39"),
    ("135", "10", "-1.5", 0, "158.82"),
    ("135", "10", "1.5", 180, "158.82"),
    # The same formula computed at other angles.
    ("135", "10", "1.5", 45, "122.05"),
    ("135", "10", "1.5", 90, "135.00"),
]

LENGTHS = st.decimals("0.1", "2000", places=1)
TORQUES = st.decimals("0.01", "5000", places=2)
ANGLES = st.decimals("-720", "720", places=2)


def near(a: Decimal, b: Decimal) -> bool:
    """The same to 20 significant digits."""
    return abs(a - b) <= abs(b) * Decimal("1e-20")


@pytest.mark.parametrize("target, arm, adaptor, angle, printed", PRINTED)
def test_a_setting_is_the_one_in_print(target: str, arm: str, adaptor: str, angle: int, printed: str) -> None:
    """Tw = Ta·L/(L + A·cosθ) gives the printed figures."""
    exact = setting(Decimal(target), Decimal(arm), Decimal(adaptor), angle)
    assert exact.quantize(Decimal("0.01")) == Decimal(printed)


def test_the_torque_applied_is_the_one_in_print() -> None:
    """TM 9-254 (source text seen): a setting of 60 with L 12 and A 2 puts exactly 70 on the bolt."""
    assert applied(Decimal(60), Decimal(12), Decimal(2)) == 70


def test_an_adaptor_straight_across_needs_no_correction_at_all() -> None:
    """Trap: web pages disagree, and some claim that 90 degrees needs the most correction. It needs none, exactly."""
    for angle in (90, -90, 270, Decimal("90.00")):
        assert setting(Decimal(135), Decimal(10), Decimal("1.5"), angle) == 135
    assert all(setting(Decimal(135), Decimal(10), Decimal("1.5"), angle) < 135 for angle in (0, 45, 89))


@settings(max_examples=80, deadline=None, derandomize=True)
@given(TORQUES, LENGTHS, LENGTHS, ANGLES)
def test_what_is_set_is_what_arrives(target: Decimal, arm: Decimal, adaptor: Decimal, angle: Decimal) -> None:
    """`applied` undoes `setting` at any angle."""
    assume(adaptor < arm)
    assert near(applied(setting(target, arm, adaptor, angle), arm, adaptor, angle), target)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(TORQUES, LENGTHS, LENGTHS, ANGLES)
def test_the_side_and_the_turns_of_an_adaptor_do_not_matter(target: Decimal, arm: Decimal, adaptor: Decimal,
                                                            angle: Decimal) -> None:
    """Left or right, once more round, or a negative length at the opposite angle: the same setting."""
    assume(adaptor < arm)
    first = setting(target, arm, adaptor, angle)
    assert setting(target, arm, adaptor, -angle) == first == setting(target, arm, adaptor, angle + 360)
    assert near(setting(target, arm, -adaptor, angle + 180), first)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(TORQUES, LENGTHS, st.lists(LENGTHS, min_size=2, max_size=2, unique=True))
def test_a_longer_adaptor_needs_a_lower_setting(target: Decimal, arm: Decimal, adaptors: list[Decimal]) -> None:
    """Straight on, the setting falls as the adaptor grows."""
    short, long = sorted(adaptors)
    assert setting(target, arm, long) < setting(target, arm, short) < target


def test_a_callers_own_precision_does_not_touch_a_result() -> None:
    """Someone who computes with five digits around a call still gets all 28."""
    whole = setting(Decimal("135.123456"), Decimal(10), Decimal("1.5"), 45)
    with localcontext() as narrow:
        narrow.prec = 5
        assert setting(Decimal("135.123456"), Decimal(10), Decimal("1.5"), 45) == whole


@pytest.mark.parametrize("degrees, exact", [(0, "1"), (60, "0.5"), (90, "0"), (120, "-0.5"), (180, "-1"), (240, "-0.5"),
                                            (270, "0"), (300, "0.5"), (360, "1"), (-60, "0.5"), (450, "0")])
def test_plain_angles_have_exact_cosines(degrees: int, exact: str) -> None:
    """No rounding enters where none is needed."""
    assert cosine(degrees) == Decimal(exact)


def test_the_cosine_of_45_degrees_is_half_of_root_two() -> None:
    """Right to 40 decimals, by another way of computing it."""
    assert abs(cosine(45) * cosine(45) - Decimal("0.5")) < Decimal("1e-27")
    assert str(cosine(45)).startswith(str(Decimal(math.isqrt(5 * 10 ** 79)).scaleb(-40))[:42])


@settings(max_examples=100, deadline=None, derandomize=True)
@given(ANGLES)
def test_cosines_agree_with_the_machines(degrees: Decimal) -> None:
    """The standard library's cosine gives the same to what a float can hold."""
    assert math.isclose(float(cosine(degrees)), math.cos(math.radians(float(degrees))), abs_tol=1e-13)


@pytest.mark.parametrize("target, arm, adaptor, angle, where", [
    ("0", "10", "1", 0, "target"), ("-5", "10", "1", 0, "target"), ("5", "0", "1", 0, "arm"),
    ("5", "-10", "1", 0, "arm"), ("5", "10", "-10", 0, "adaptor"),
    ("5", "10", "12", 180, "adaptor"), ("NaN", "10", "1", 0, "target"),
    ("5", "10", "Infinity", 0, "adaptor"), ("5", "10", "1", Decimal("NaN"), "angle")],
    ids=["no torque", "negative torque", "no arm", "negative arm", "hand over the bolt", "hand behind the bolt",
         "no number", "endless adaptor", "no angle"])
def test_a_wrench_that_cannot_be_is_refused(target: str, arm: str, adaptor: str, angle: Decimal | int,
                                            where: str) -> None:
    """Each refusal names what was wrong."""
    with pytest.raises(BadInput, match=f"^{where}: "):
        setting(Decimal(target), Decimal(arm), Decimal(adaptor), angle)


SNUG = Stage("torque", Decimal(4), Decimal("0.2"), "N·m")
TURN = Stage("angle", Decimal(65), Decimal(5), "°")


@pytest.mark.parametrize("stages", [
    [SNUG, TURN], [SNUG, Stage("torque", Decimal(9), None, "N·m"), TURN, TURN], [SNUG],
    [SNUG, Stage("torque", Decimal(50), None, "lbf·in")]])
def test_a_sound_tightening_has_no_faults(stages: list[Stage]) -> None:
    """A snug torque and then angle, more torques first, or torque alone, in any torque unit."""
    assert stage_faults(stages) == ()


@pytest.mark.parametrize("stages, fault", [
    ([], "The tightening has no stage."),
    ([TURN], "Stage 1 is an angle with no snug torque before it."),
    ([TURN, SNUG], "Stage 1 is an angle with no snug torque before it."),
    ([SNUG, TURN, Stage("torque", Decimal(30), None, "N·m")],
     "Stage 3 is a torque after an angle. Judge the bolt by the angle."),
    ([SNUG, Stage("torque", Decimal(3), None, "N·m")], "Stage 2 is no tighter than the torque before it."),
    ([SNUG, Stage("torque", Decimal(30), None, "lbf·in")], "Stage 2 is no tighter than the torque before it."),
    ([Stage("yield", Decimal(3), None, "N·m")], "Stage 1 is neither a torque nor an angle."),
    ([Stage("torque", Decimal(3), None, "°")], "Stage 1 has no unit of torque."),
    ([SNUG, Stage("angle", Decimal(3), None, "N·m")], "Stage 2 has no unit of angle."),
    ([SNUG, Stage("angle", Decimal(3), None, "turns")], "Stage 2 has no unit of angle."),
    ([Stage("torque", Decimal(0), None, "N·m")], "Stage 1 must be above zero."),
    ([Stage("torque", Decimal("NaN"), None, "N·m")], "Stage 1 must be above zero."),
    ([Stage("torque", Decimal(5), Decimal(5), "N·m")], "Stage 1 has a tolerance that is not smaller than its value."),
    ([Stage("torque", Decimal(5), Decimal(-1), "N·m")], "Stage 1 has a tolerance that is not smaller than its value."),
])
def test_a_fault_of_a_tightening_is_named(stages: list[Stage], fault: str) -> None:
    """An angle counts only from a snug torque and is not judged by torque afterwards (common practice, no source)."""
    assert fault in stage_faults(stages)


def test_a_screw_advances_by_its_pitch_in_a_turn() -> None:
    """M8 × 1.25 turned by 90 degrees moves 0.3125 mm (computed, P·θ/360)."""
    assert axial_advance(Decimal("1.25"), 90) == Decimal("0.3125")
    assert axial_advance(Decimal("1.25"), 360) == Decimal("1.25") == -axial_advance(Decimal("1.25"), Decimal("-360"))
    with pytest.raises(BadInput, match="^pitch: must be above 0"):
        axial_advance(Decimal(0), 90)


@pytest.mark.parametrize("count, order", [
    (1, (1,)), (2, (1, 2)), (4, (1, 3, 2, 4)), (5, (1, 3, 5, 2, 4)), (6, (1, 4, 2, 5, 3, 6)),
    (8, (1, 5, 3, 7, 2, 6, 4, 8)), (12, (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12)),
    (16, (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16))])
def test_bolts_are_tightened_across(count: int, order: tuple[int, ...]) -> None:
    """The star and cross of wheels and flanges (common practice, no source)."""
    assert cross_order(count) == order


@pytest.mark.parametrize("count", range(1, 101))
def test_every_bolt_is_tightened_once_and_no_next_one_is_a_neighbour(count: int) -> None:
    """From five bolts on no bolt's neighbour follows it; an even number goes by pairs that lie opposite."""
    order = cross_order(count)
    assert sorted(order) == list(range(1, count + 1))
    if count >= 5:
        assert all((b - a) % count not in (1, count - 1) for a, b in zip(order, order[1:]))
    if count % 2 == 0:
        assert all(b - a == count // 2 for a, b in zip(order[::2], order[1::2]))


def test_passes_go_round_to_half_and_then_to_all() -> None:
    """Every bolt reaches half the torque before any goes further, in cross order each time."""
    assert passes(4, Decimal("110")) == tuple(
        (bolt, Decimal(torque)) for torque in (55, 110) for bolt in (1, 3, 2, 4))
    thirds = passes(5, Decimal("90"), (Decimal("0.3"), Decimal("0.6"), Decimal(1)))
    assert [torque for _, torque in thirds[::5]] == [27, 54, 90]


@pytest.mark.parametrize("shares", [(), ("0.5",), ("1", "0.5"), ("0", "1"), ("0.5", "0.5", "1"), ("0.5", "1.1"),
                                    ("NaN", "1")],
                         ids=["none", "not all", "falling", "nothing", "level", "too much", "no number"])
def test_passes_that_do_not_rise_to_the_whole_are_refused(shares: tuple[str, ...]) -> None:
    """Each pass is tighter than the last and the last is the target."""
    with pytest.raises(BadInput, match="^shares: "):
        passes(4, Decimal(110), tuple(map(Decimal, shares)))


@pytest.mark.parametrize("count", [0, -4])
def test_no_bolts_have_no_order(count: int) -> None:
    """Nobody tightens less than one bolt."""
    with pytest.raises(BadInput, match="^bolts: "):
        cross_order(count)
