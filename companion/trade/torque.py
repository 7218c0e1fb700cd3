"""Torque: adaptors on a wrench, tightening in stages, and the order in which several bolts are tightened.

An adaptor that carries the wrench's square drive off the bolt's axis changes the torque: Tw = Ta·L/(L + A·cosθ), where
Ta is the torque at the bolt, Tw the wrench's setting, L the wrench's arm, A the adaptor's length and θ the angle
between them: 0° straight on, 90° across, 180° folded back (statics; checked against TM 1-1500-204-23-9 and TM 9-254).
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction

from companion.errors import BadInput
from companion.trade.units import UNITS, check_number, convert

_COSINES = {0: Decimal(1), 60: Decimal("0.5"), 90: Decimal(0), 120: Decimal("-0.5"), 180: Decimal(-1)}
PI = Decimal("3.14159265358979323846264338327950288419716939937510582097")
_WORK = Context(prec=50)
_ROUND = Context(prec=28)


@dataclass(frozen=True)
class Stage:
    """One stage of a tightening."""

    kind: str
    """"torque" or "angle"."""
    value: Decimal
    """In `unit`, above 0. An angle is turned on from where the stage before it ended."""
    tolerance: Decimal | None
    """Plus or minus, in `unit`, 0 or more; None where the card gives none."""
    unit: str
    """A torque unit of `units.UNITS`, or "°" for an angle."""


def setting(target: Decimal, arm: Decimal, adaptor: Decimal, angle_degrees: Decimal | int = 0) -> Decimal:
    """What the wrench must show for `target` at the bolt, in the target's unit, to 28 digits.

    `arm` (hand grip to square drive) and `adaptor` (square drive to bolt; below 0 where it points back) share one unit.
    Raises BadInput for a target or arm of 0 or less, or an adaptor that reaches back past the hand.
    """
    return _ROUND.divide(_above_zero(target, "target"), _lever(arm, adaptor, angle_degrees))


def applied(reading: Decimal, arm: Decimal, adaptor: Decimal, angle_degrees: Decimal | int = 0) -> Decimal:
    """The torque at the bolt when the wrench shows `reading`: the inverse of `setting`, with the same errors."""
    return _ROUND.multiply(_above_zero(reading, "reading"), _lever(arm, adaptor, angle_degrees))


def cosine(degrees: Decimal | int) -> Decimal:
    """Cosine of any angle: exact for whole multiples of 60 and 90 degrees, else right to 40 decimals."""
    check_number(Decimal(degrees), "angle")
    turned = abs(Fraction(degrees)) % 360
    turned = min(turned, 360 - turned)
    if turned in _COSINES:
        return _COSINES[int(turned)]
    angle = _WORK.divide(_WORK.multiply(Decimal(turned.numerator), PI), Decimal(180 * turned.denominator))
    square, term, total, n = _WORK.multiply(angle, angle), Decimal(1), Decimal(1), 0
    while term and term.adjusted() > -48:
        n += 2
        term = _WORK.divide(_WORK.multiply(term, square), Decimal(-n * (n - 1)))
        total = _WORK.add(total, term)
    return total


def axial_advance(pitch: Decimal, degrees: Decimal | int) -> Decimal:
    """How far a screw moves along its axis when turned, in the pitch's unit: P·θ/360 (geometry), to 28 digits.

    Raises BadInput for a pitch of 0 or less.
    """
    check_number(Decimal(degrees), "angle")
    return _ROUND.divide(_ROUND.multiply(_above_zero(pitch, "pitch"), Decimal(degrees)), Decimal(360))


def stage_faults(stages: Sequence[Stage]) -> tuple[str, ...]:
    """What is wrong with a tightening, each fault a sentence to be spoken, with the stage's number in digits.

    An angle counts only from a snug torque, and a torque cannot judge a bolt once it has been turned by angle (common
    practice, no source): friction sets the torque then, not the stretch.
    """
    faults = [] if stages else ["The tightening has no stage."]
    snug: Stage | None = None
    turned = False
    for number, stage in enumerate(stages, start=1):
        amiss = _amiss(stage)
        if amiss:
            faults.append(f"Stage {number} {amiss}.")
        elif stage.kind == "angle":
            if snug is None:
                faults.append(f"Stage {number} is an angle with no snug torque before it.")
            turned = True
        elif turned:
            faults.append(f"Stage {number} is a torque after an angle. Judge the bolt by the angle.")
        else:
            if snug and convert(stage.value, stage.unit, snug.unit) <= snug.value:
                faults.append(f"Stage {number} is no tighter than the torque before it.")
            snug = stage
    return tuple(faults)


def cross_order(count: int) -> tuple[int, ...]:
    """The order in which to tighten `count` bolts, numbered 1 to `count` round the circle: every next one lies across.

    An even circle goes by opposite pairs, and the pairs in the cross order of half the circle: 8 bolts are tightened
    1 5 3 7 2 6 4 8. An odd one goes by stars: 1 3 5 2 4 (common practice, no source). The card's own order comes first.
    Raises BadInput for less than one bolt.
    """
    if count < 1:
        raise BadInput("bolts", "must be 1 or more", str(count))
    half = count // 2
    if count % 2:
        return tuple(1 + place * max(half, 1) % count for place in range(count))
    return tuple(bolt for first in cross_order(half) for bolt in (first, first + half))


def passes(count: int, target: Decimal,
           shares: Sequence[Decimal] = (Decimal("0.5"), Decimal(1))) -> tuple[tuple[int, Decimal], ...]:
    """Every (bolt, torque) in turn: all bolts in cross order to the first share of `target`, then to the next.

    Torques are in the target's unit, to 28 digits. Raises BadInput for shares that do not rise from above 0 to 1.
    """
    _above_zero(target, "target")
    for share in shares:
        check_number(share, "shares")
    rises = all(low < high for low, high in zip((Decimal(0), *shares), shares))
    if not shares or not rises or shares[-1] != 1:
        raise BadInput("shares", "must rise from above 0 to exactly 1", ", ".join(map(str, shares)) or "none")
    return tuple((bolt, _ROUND.multiply(target, share)) for share in shares for bolt in cross_order(count))


def _lever(arm: Decimal, adaptor: Decimal, angle_degrees: Decimal | int) -> Decimal:
    """How many times the wrench's own torque reaches the bolt: (L + A·cosθ)/L."""
    _above_zero(arm, "arm")
    check_number(adaptor, "adaptor")
    reach = _WORK.add(arm, _WORK.multiply(adaptor, cosine(angle_degrees)))
    if reach <= 0:
        found = f"{adaptor} at {angle_degrees}° on an arm of {arm}"
        raise BadInput("adaptor", "must leave the hand beyond the bolt", found)
    return _WORK.divide(reach, arm)


def _amiss(stage: Stage) -> str:
    """What makes one stage impossible by itself, to follow "Stage 2 "; "" if nothing."""
    if stage.kind not in ("torque", "angle"):
        return "is neither a torque nor an angle"
    measured = UNITS[stage.unit].quantity if stage.unit in UNITS else ""
    if measured != stage.kind:
        return f"has no unit of {stage.kind}"
    if not (stage.value.is_finite() and stage.value > 0):
        return "must be above zero"
    if stage.tolerance is not None and not 0 <= stage.tolerance < stage.value:
        return "has a tolerance that is not smaller than its value"
    return ""


def _above_zero(value: Decimal, where: str) -> Decimal:
    check_number(value, where)
    if value <= 0:
        raise BadInput(where, "must be above 0", str(value))
    return value
