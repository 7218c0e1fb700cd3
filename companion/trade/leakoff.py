"""Readings of all cylinders side by side: which one stands out, by the card's own limits first.

No standard sets a limit for return (leak-off) volumes or balance corrections: only the maker's data do, so the card
states them and there is no default here (common practice, no source). Statistics support: two tests that a handful of
readings can bear. A three-sigma rule is none of them: with n readings no single one can lie more than (n − 1)/√n
standard deviations from their mean, which is below 3 up to n = 10 (computed).
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from statistics import median

from companion.errors import BadInput
from companion.trade.units import check_number

_WORK = Context(prec=60)
_EXACT = Context(prec=200)
_SHORT = Context(prec=12)

# Critical values of Grubbs' test at 5 %, one- and two-sided, for n = 3, 4 … 16: computed from Student's t with scipy,
# and for n = 3 to 8 the same to 3 decimals as a published table (text seen). A web page misprints 2.202 for n = 7.
_GRUBBS = {
    1: ("1.1531", "1.4625", "1.6714", "1.8221", "1.9381", "2.0317", "2.1096", "2.1761", "2.2339", "2.2850", "2.3305",
        "2.3717", "2.4090", "2.4433"),
    2: ("1.1543", "1.4813", "1.7150", "1.8871", "2.0200", "2.1266", "2.2150", "2.2900", "2.3547", "2.4116", "2.4620",
        "2.5073", "2.5483", "2.5857"),
}
_FEWEST = 3
# Iglewicz and Hoaglin (1993), text seen in the NIST e-Handbook, 1.3.5.17: M = 0.6745·(x − median)/MAD, above 3.5.
_NORMAL_MAD, _MOST_SCORE = Fraction("0.6745"), Decimal("3.5")

LIMIT, RATIO, GRUBBS, MAD = "limit", "ratio", "Grubbs", "median absolute deviation"


@dataclass(frozen=True)
class Comparison:
    """What the readings of all cylinders show, side by side. Numbers without a unit to 12 significant digits."""

    readings: Mapping[str, Decimal]
    """As given, label to reading, in order; 2 or more, in one unit."""
    median: Decimal
    """Exact, in the readings' unit."""
    mean: Decimal
    """To 12 significant digits, in the readings' unit."""
    ratios: Mapping[str, Decimal | None]
    """Each reading over the smallest; None for all where the smallest is 0 or less: no ratio means anything there."""
    grubbs: Decimal | None
    """Greatest distance from the mean, in standard deviations (n − 1); None for 2 readings, or for all the same."""
    grubbs_critical: Decimal | None
    """What `grubbs` must pass (two-sided, 5 %); None outside 3 to 16 readings."""
    ceiling: Decimal
    """The most that `grubbs` can be with so many readings, (n − 1)/√n: a three-sigma rule cannot fire below 3."""
    scores: Mapping[str, Decimal | None]
    """0.6745·(reading − median)/MAD, either sign; None for all where the MAD is 0: no measure of spread."""
    over_limit: tuple[str, ...]
    """Those past a limit of the card, in order; () for none, also where the card gives none."""
    unusual: str
    """The one that both statistical tests name, whatever the card says; "" where they do not both name one alone."""
    outlier: str
    """The one that stands out; "" for none or more than one."""
    by: tuple[str, ...]
    """Which tests name the outlier, of "limit", "ratio", "Grubbs" and "median absolute deviation"; () without one."""


def compare(readings: Mapping[str, Decimal], *, low: Decimal | None = None, high: Decimal | None = None,
            most_ratio: Decimal | None = None, most_apart: Decimal | None = None,
            resolution: Decimal | None = None) -> Comparison:
    """Compare one reading of every cylinder; all in one unit, either sign.

    The card's limits decide where it gives any: `low` and `high` (included) for each reading, `most_ratio` times the
    smallest, `most_apart` from the median. The outlier is then the one reading past them; where all keep them none is,
    however it looks beside the others, and where several pass them no one stands out. Without any limit the outlier is
    `unusual`: both tests must name it and no other, since with so few readings either alone may be fooled. Both look to
    either side. `resolution`, the step that the instrument can show, is the least spread that is taken for real:
    without it, readings that are all the same but one leave no measure of spread, and the tests then name none.
    Raises BadInput for fewer than 2 readings, numbers and limits that cannot be.
    """
    _check(readings, low, high, most_ratio, most_apart, resolution)
    values = {name: Fraction(value) for name, value in readings.items()}
    middle, mean, smallest = median(values.values()), sum(values.values()) / len(values), min(values.values())
    scores, critical = _scores(values, middle, resolution), grubbs_critical(len(values))
    grubbs, farthest = _grubbs(values, mean)
    named = {
        LIMIT: _past_limits(values, middle, low, high, most_apart),
        RATIO: _past_ratio(values, most_ratio),
        GRUBBS: farthest if grubbs is not None and critical is not None and grubbs > critical else (),
        MAD: tuple(name for name, score in scores.items() if score is not None and score.copy_abs() > _MOST_SCORE),
    }
    over = tuple(name for name in values if name in named[LIMIT] or name in named[RATIO])
    unusual = _only(named[GRUBBS]) if named[GRUBBS] == named[MAD] else ""
    limits_given = any(limit is not None for limit in (low, high, most_ratio, most_apart))
    outlier = _only(over) if limits_given else unusual
    return Comparison(
        readings=dict(readings), median=_decimal(middle, _EXACT), mean=_decimal(mean),
        ratios={name: _decimal(value / smallest) if smallest > 0 else None for name, value in values.items()},
        grubbs=grubbs, grubbs_critical=critical, ceiling=ceiling(len(values)), scores=scores, over_limit=over,
        unusual=unusual, outlier=outlier, by=tuple(test for test, names in named.items() if outlier in names))


def grubbs_critical(n: int, sides: int = 2) -> Decimal | None:
    """Critical value of Grubbs' test at 5 % for n readings, to 4 decimals; None outside 3 to 16. `sides` is 1 or 2.

    Raises BadInput for another number of sides.
    """
    if sides not in _GRUBBS:
        raise BadInput("Grubbs' test", "must look to 1 or 2 sides", str(sides))
    table = _GRUBBS[sides]
    return Decimal(table[n - _FEWEST]) if _FEWEST <= n < _FEWEST + len(table) else None


def ceiling(n: int) -> Decimal:
    """The most standard deviations that one of n readings can lie from their mean: (n − 1)/√n, to 12 digits.

    Raises BadInput for no readings.
    """
    if n < 1:
        raise BadInput("readings", "must be 1 or more", str(n))
    return _SHORT.divide(Decimal(n - 1), _WORK.sqrt(Decimal(n)))


def _scores(values: dict[str, Fraction], middle: Fraction, resolution: Decimal | None) -> dict[str, Decimal | None]:
    spread = median([abs(value - middle) for value in values.values()])
    # Two readings rounded to one step may differ by that step and still be the same volume.
    spread = max(spread, Fraction(resolution or 0))
    return {name: _decimal(_NORMAL_MAD * (value - middle) / spread) if spread else None
            for name, value in values.items()}


def _grubbs(values: dict[str, Fraction], mean: Fraction) -> tuple[Decimal | None, tuple[str, ...]]:
    """The greatest distance from the mean in standard deviations, and who lies so far (two at the most extremes)."""
    apart = {name: abs(value - mean) for name, value in values.items()}
    farthest, squares = max(apart.values()), sum(distance ** 2 for distance in apart.values())
    if not squares or len(values) < _FEWEST:
        return None, ()
    distance = _SHORT.plus(_WORK.sqrt(_decimal(farthest ** 2 * (len(values) - 1) / squares, _WORK)))
    return distance, tuple(name for name in apart if apart[name] == farthest)


def _past_limits(values: dict[str, Fraction], middle: Fraction, low: Decimal | None, high: Decimal | None,
                 most_apart: Decimal | None) -> tuple[str, ...]:
    return tuple(name for name, value in values.items()
                 if (low is not None and value < Fraction(low)) or (high is not None and value > Fraction(high))
                 or (most_apart is not None and abs(value - middle) > Fraction(most_apart)))


def _past_ratio(values: dict[str, Fraction], most_ratio: Decimal | None) -> tuple[str, ...]:
    """Compared by product, so that beside a bottle with nothing in it any volume is too much."""
    smallest = min(values.values())
    if most_ratio is None or smallest < 0:
        return ()
    return tuple(name for name, value in values.items() if value > Fraction(most_ratio) * smallest)


def _only(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else ""


def _decimal(exact: Fraction, context: Context = _SHORT) -> Decimal:
    return context.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def _check(readings: Mapping[str, Decimal], low: Decimal | None, high: Decimal | None, most_ratio: Decimal | None,
           most_apart: Decimal | None, resolution: Decimal | None) -> None:
    if len(readings) < 2:
        raise BadInput("readings", "must be 2 or more to be compared", str(len(readings)))
    named: Iterable[tuple[str, Decimal | None]] = (
        *((f"reading of {name}", value) for name, value in readings.items()), ("low", low), ("high", high),
        ("most_ratio", most_ratio), ("most_apart", most_apart), ("resolution", resolution))
    for where, value in named:
        if value is not None:
            check_number(value, where)
    if low is not None and high is not None and low > high:
        raise BadInput("limits", "the low one must not lie above the high one", f"{low} to {high}")
    for where, value, least in (("most_ratio", most_ratio, 1), ("most_apart", most_apart, 0),
                                ("resolution", resolution, 0)):
        if value is not None and value < least:
            raise BadInput(where, f"must be {least} or more", str(value))
