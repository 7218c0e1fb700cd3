"""Control charts: which points of a series do not go with the others. Pure arithmetic, no rules about runs of points.

Individuals chart after Shewhart: centre the mean, limits mean ± 3·MR̄/1.128, MR̄ the mean of the moving ranges of two
(NIST/SEMATECH e-Handbook 6.3.2.2, from memory). EWMA: z = λ·x + (1 − λ)·z before, limits target ± L·σ·√(λ/(2 − λ)·
(1 − (1 − λ)^2i)), the root's last factor 1 for the asymptotic ones (e-Handbook 6.3.2.4, from memory). Small lasting
shifts are the EWMA's business, so the individuals chart is read by its limits alone.
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean

from companion.errors import BadInput

D2 = 1.128
"""Mean range of two readings of a normal distribution, in standard deviations: 2/√π."""
D4 = 3.267
"""Upper limit of a moving range, in mean ranges."""
LIMIT = 3.0
"""Standard deviations from the centre to a limit of the individuals chart."""


@dataclass(frozen=True)
class Individuals:
    """An individuals chart; all but `out` in the unit of the values."""

    centre: float
    mean_range: float
    """MR̄, 0 or more."""
    low: float
    high: float
    out: tuple[int, ...]
    """Places, from 0, of the points outside the limits."""


@dataclass(frozen=True)
class Ewma:
    """An exponentially weighted moving average with its limits, one of each for every value."""

    target: float
    means: tuple[float, ...]
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    low: float
    """Asymptotic, where `lows` end in a long series."""
    high: float
    out: tuple[int, ...]
    """Places, from 0, at which the mean is outside the exact limits."""


def moving_ranges(values: Sequence[float]) -> list[float]:
    """How far each value lies from the one before. A slow drift hardly changes them."""
    return [abs(one - before) for before, one in zip(values, values[1:])]


def individuals(values: Sequence[float], centre: float | None = None, sigma: float | None = None) -> Individuals:
    """The individuals chart; centre and standard deviation come from the values themselves where they are not given.

    Raises BadInput for fewer than two values where they must.
    """
    if len(values) < 2 and (centre is None or sigma is None):
        raise BadInput("individuals chart", "needs 2 values or more for its limits", str(len(values)))
    middle = fmean(values) if centre is None else centre
    mean_range = fmean(moving_ranges(values)) if sigma is None else sigma * D2
    away = LIMIT * mean_range / D2
    out = tuple(place for place, value in enumerate(values) if abs(value - middle) > away)
    return Individuals(middle, mean_range, middle - away, middle + away, out)


def ewma(values: Sequence[float], target: float, sigma: float, weight: float = 0.2, width: float = LIMIT,
         estimated_from: int = 0) -> Ewma:
    """The EWMA chart of `values`, which starts at `target`.

    `estimated_from`: the target is the mean of so many earlier readings, so the limits are wider by its own
    uncertainty: the root gets (1 − (1 − λ)^i)²/n more. 0 where the target is known. Raises BadInput for a weight that
    is not above 0 and at most 1, and for a width or sigma below 0.
    """
    if not 0 < weight <= 1 or sigma < 0 or width < 0:
        raise BadInput("EWMA chart", "needs 0 < weight <= 1, and sigma and width from 0",
                       f"weight {weight}, sigma {sigma}, width {width}")
    means, aways, mean = [], [], target
    for place, value in enumerate(values, 1):
        mean = weight * value + (1 - weight) * mean
        means.append(mean)
        aways.append(width * sigma * _spread(weight, (1 - weight) ** place, estimated_from))
    out = tuple(place for place, away in enumerate(aways) if abs(means[place] - target) > away)
    far = width * sigma * _spread(weight, 0.0, estimated_from)
    return Ewma(target, tuple(means), tuple(target - away for away in aways), tuple(target + away for away in aways),
                target - far, target + far, out)


def _spread(weight: float, left: float, estimated_from: int) -> float:
    """Standard deviation of the mean less its target, in those of one value; `left`: the start's share in the mean."""
    own = weight / (2 - weight) * (1 - left * left)
    return sqrt(own + (1 - left) ** 2 / estimated_from if estimated_from else own)


def student(degrees: float, z: float = LIMIT) -> float:
    """What Student's t has at these degrees of freedom in place of `z` standard deviations, for the same tails.

    Expansion in 1/degrees (Abramowitz and Stegun 26.7.5, from memory); at z = 3 within 0.02 from 10 degrees on.
    """
    terms = ((z ** 3 + z) / 4, (5 * z ** 5 + 16 * z ** 3 + 3 * z) / 96,
             (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / 384)
    return z + sum(term / degrees ** power for power, term in enumerate(terms, 1))
