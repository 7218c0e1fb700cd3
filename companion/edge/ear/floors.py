"""When a guess counts: every number that was fitted, in one place, with how it was measured."""
from __future__ import annotations

import math

PRIOR_WEIGHT = 0.6
"""How much of what the decoder says without hearing anything is taken off a sentence (0 to 1)."""
ACCEPT, SURE = 0.5, 0.7
WEIGHTS = (0.3, 0.6, 0.5, 0.3)
OFFSET = 1.0


def confidence(features: tuple[float, ...]) -> float:
    """A guess's score, 0 to 1."""
    total = OFFSET + sum(weight * feature for weight, feature in zip(WEIGHTS, features))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))
