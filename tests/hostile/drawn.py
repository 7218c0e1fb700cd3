"""Hostile input for `hypothesis`: seeds of a target, changed a few times. What it draws is the same in every run."""
from __future__ import annotations

from functools import lru_cache
from random import Random

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from hostile import Target

same_each_time = settings(derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck))


def changed(target: Target, most: int = 200_000) -> st.SearchStrategy[bytes]:
    """A seed of the target after one to four of its changes."""
    seeds = lru_cache(maxsize=1)(target.seeds)

    def make(place: int, count: int, seed: int) -> bytes:
        data, chance = seeds()[place % len(seeds())], Random(seed)
        for _ in range(count):
            data = target.change(data, chance)
        return data[:most]
    return st.builds(make, st.integers(0, 2**16), st.integers(1, 4), st.integers(0, 2**63))
