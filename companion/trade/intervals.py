"""How far a counted figure may be from the truth: intervals and upper bounds, without a statistics library."""
from __future__ import annotations

import math
from collections.abc import Callable

from companion.errors import BadInput

LEVEL = 0.95
_Z = 1.959964
"""Of the normal distribution, two-sided 95 %."""


def wilson(hits: int, count: int, z: float = _Z) -> tuple[float, float]:
    """The Wilson score interval of a proportion (95 % by default). Raises BadInput unless 0 <= hits <= count > 0."""
    _check("wilson", hits, count)
    share, spread = hits / count, z * z / count
    middle = (share + spread / 2) / (1 + spread)
    half = math.sqrt(spread * (share * (1 - share) + spread / 4)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)


def share_at_most(hits: int, count: int, level: float = LEVEL) -> float:
    """The exact one-sided upper bound (Clopper and Pearson) of a proportion: with a larger one, so few hits would come
    up in less than 1 − `level` of all runs. Raises BadInput unless 0 <= hits <= count > 0."""
    _check("share_at_most", hits, count)
    if hits == count:
        return 1.0
    if hits == 0:
        return 1 - (1 - level) ** (1 / count)
    return _bisect(lambda share: _binomial(hits, count, share) > 1 - level, hits / count, 1.0)


def rate_at_most(hits: int, hours: float, level: float = LEVEL) -> float:
    """The exact one-sided upper bound of a Poisson rate, an hour: none in 30 hours shows at most 0.1.

    Raises BadInput unless hits >= 0 and hours > 0.
    """
    if hits < 0 or not hours > 0:
        raise BadInput("rate_at_most", "needs hits >= 0 and hours > 0", f"{hits} in {hours}")
    most = hits + 10 * math.sqrt(hits + 1) + 10
    return _bisect(lambda mean: _poisson(hits, mean) > 1 - level, float(hits), most) / hours


def _check(where: str, hits: int, count: int) -> None:
    if not 0 <= hits <= count or count <= 0:
        raise BadInput(where, "needs 0 <= hits <= count and count > 0", f"{hits} of {count}")


def _binomial(hits: int, count: int, share: float) -> float:
    """The chance of at most so many hits."""
    if share >= 1:
        return 0.0
    ways = math.lgamma(count + 1)
    return math.fsum(math.exp(ways - math.lgamma(k + 1) - math.lgamma(count - k + 1) + k * math.log(share)
                              + (count - k) * math.log1p(-share)) for k in range(hits + 1))


def _poisson(hits: int, mean: float) -> float:
    """The chance of at most so many."""
    if mean <= 0:
        return 1.0
    return math.fsum(math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(hits + 1))


def _bisect(too_low: Callable[[float], bool], low: float, high: float) -> float:
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if too_low(middle) else (low, middle)
    return high
