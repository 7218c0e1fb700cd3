"""Decisions at a limit under uncertainty: accept, reject, or too close to call.

Rules: a reading is accepted only where it lies inside by a guard band, and rejected only where it lies outside by one
(ISO 14253-1:2017, text from memory: 95 % by default, so g = 1.645·u = 0.82·U). The probability that the true value
conforms is the normal one of JCGM 106:2012, clause 7 (formula; from memory). Expanded uncertainty is U = 2·u.
"""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Context, Decimal

from companion.errors import BadInput
from companion.trade.torque import PI
from companion.trade.units import check_number

_WORK = Context(prec=60)
_EXACT = Context(prec=200)
_LONG = Context(prec=28)
_SHORT = Context(prec=12)
_ROOT_2_PI = _WORK.sqrt(_WORK.multiply(Decimal(2), PI))
# Beyond so many standard uncertainties less than 2E-33 is left: 60 digits still give 12 true ones this far out.
_FARTHEST = Decimal(12)
_NOTHING, _ALL = Decimal(0), Decimal(1)


@dataclass(frozen=True)
class Judgement:
    """What a reading says about its limits."""

    verdict: str
    """"accept", "reject", "too close" (measure again, or use a better tool) or "none" where there are no limits."""
    side: str
    """"inside" or "outside": where the bare reading lies; "none" where there are no limits."""
    guard: Decimal | None
    """Guard band, 0 or more, in the reading's unit; None without uncertainty or limits."""
    accept_low: Decimal | None
    """Least reading that is accepted; None without a low limit."""
    accept_high: Decimal | None
    """Greatest reading that is accepted; None without a high limit. Below `accept_low` where the uncertainty is too
    large for these limits: then nothing can be accepted, and only a better tool helps."""
    probability: Decimal | None
    """That the true value conforms, 0 to 1, to 12 significant digits; None without uncertainty or limits."""


def judge(value: Decimal, low: Decimal | None, high: Decimal | None, expanded: Decimal | None = None,
          guard_factor: Decimal = Decimal("0.82")) -> Judgement:
    """Judge a reading with the expanded uncertainty U (k = 2) of its tool, all in one unit.

    Without U (None or 0) this is a plain comparison, limits included. With it, a reading is accepted inside by at least
    the guard band `guard_factor` times U, rejected outside by at least that, and too close between. The default, 0.82,
    accepts falsely at most 5.05 times in 100 at one limit, a rounding over 5; 0.83 stays below (ILAC-G8:09/2019;
    computed).
    Raises BadInput for limits in the wrong order, and for a negative uncertainty or factor.
    """
    verdict, side = verdict_on(value, low, high, expanded, guard_factor)
    if verdict == "none":
        return Judgement("none", "none", None, None, None, None)
    if not expanded:
        return Judgement(verdict, side, None, low, high, None)
    guard = _LONG.multiply(guard_factor, expanded)
    return Judgement(verdict, side, guard, None if low is None else _EXACT.add(low, guard),
                     None if high is None else _EXACT.subtract(high, guard),
                     conformance(value, low, high, _EXACT.divide(expanded, Decimal(2))))


def verdict_on(value: Decimal, low: Decimal | None, high: Decimal | None, expanded: Decimal | None = None,
               guard_factor: Decimal = Decimal("0.82")) -> tuple[str, str]:
    """`verdict` and `side` of `judge`, without the figures behind them: the probability costs far more than all else.

    Raises BadInput as `judge` does.
    """
    _check(value, low, high, expanded, "expanded uncertainty")
    _check_not_negative(guard_factor, "guard factor")
    if low is None and high is None:
        return "none", "none"
    least = min(_margins(value, low, high))
    side = "inside" if least >= 0 else "outside"
    if not expanded:
        return "accept" if side == "inside" else "reject", side
    guard = _LONG.multiply(guard_factor, expanded)
    return "accept" if least >= guard else "reject" if least <= guard.copy_negate() else "too close", side


def conformance(value: Decimal, low: Decimal | None, high: Decimal | None, u: Decimal) -> Decimal:
    """Probability that the true value lies within the limits, 0 to 1, to 12 significant digits.

    The true value is taken as normal about the reading with the standard uncertainty `u` (JCGM 106:2012, clause 7).
    With u = 0 it is 0 or 1; a missing limit is never passed. Raises BadInput for limits in the wrong order or a
    negative u.
    """
    _check(value, low, high, u, "standard uncertainty")
    if not u:
        return _ALL if all(margin >= 0 for margin in _margins(value, low, high)) else _NOTHING
    below_high = _ALL if high is None else _normal_below(_distance(high, value, u))
    below_low = _NOTHING if low is None else _normal_below(_distance(low, value, u))
    return _SHORT.plus(_WORK.subtract(below_high, below_low))


def false_accept_rate(w_over_u: Decimal) -> Decimal:
    """Greatest share of falsely accepted readings with the guard band w = `w_over_u` · U, to 12 significant digits.

    For one limit and a normal reading: it is the share at the acceptance limit itself, 1 − Φ(2·w/U). A negative band
    (accepted beyond the limit) gives more than half; the share falsely rejected there is that of the band turned round
    (ILAC-G8:09/2019, table 1, seen second-hand). Raises BadInput for a number that cannot be.
    """
    check_number(w_over_u, "guard band over U")
    return _SHORT.plus(_normal_below(_WORK.multiply(Decimal(-2), w_over_u)))


def _margins(value: Decimal, low: Decimal | None, high: Decimal | None) -> list[Decimal]:
    """How far inside each limit there is the value lies, exactly; below 0 outside it."""
    above = [] if low is None else [_EXACT.subtract(value, low)]
    return above if high is None else [*above, _EXACT.subtract(high, value)]


def _distance(limit: Decimal, value: Decimal, u: Decimal) -> Decimal:
    return _WORK.divide(_EXACT.subtract(limit, value), u)


def _normal_below(z: Decimal) -> Decimal:
    """Φ(z) of the standard normal, to 12 significant digits or more: ½ + φ(z)·(z + z³/3 + z⁵/(3·5) + …).

    Series: Abramowitz and Stegun 26.2.11, from memory. In decimal, so that every machine logs the same digits.
    """
    if z.copy_abs() > _FARTHEST:
        return _ALL if z > 0 else _NOTHING
    square, term, total, odd = _WORK.multiply(z, z), z, Decimal(0), 1
    while _WORK.add(total, term) != total:
        total, odd = _WORK.add(total, term), odd + 2
        term = _WORK.divide(_WORK.multiply(term, square), Decimal(odd))
    density = _WORK.divide(_WORK.exp(_WORK.divide(square, Decimal(-2))), _ROOT_2_PI)
    return _WORK.add(Decimal("0.5"), _WORK.multiply(density, total))


def _check(value: Decimal, low: Decimal | None, high: Decimal | None, uncertainty: Decimal | None, name: str) -> None:
    for number, where in ((value, "reading"), (low, "low limit"), (high, "high limit")):
        if number is not None:
            check_number(number, where)
    if low is not None and high is not None and low > high:
        raise BadInput("limits", "the low one must not lie above the high one", f"{low} to {high}")
    if uncertainty is not None:
        _check_not_negative(uncertainty, name)


def _check_not_negative(number: Decimal, where: str) -> None:
    check_number(number, where)
    if number < 0:
        raise BadInput(where, "must be 0 or more", str(number))
