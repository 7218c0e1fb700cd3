"""Hostile input: what comes from outside, changed as somebody would who wants to break the program, and fed to it.

Each `Target` is one kind of input with seeds, structured changes, and a feed that raises where the program gets it wrong.
The tests draw changes from `hypothesis`, `tests/fuzz.py` from coverage; both feed the very same bytes, and so a finding
of either is a file in `tests/cases/hostile`.
"""
from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Callable, Sequence

Change = Callable[[bytes, Random], bytes]


class Wrong(AssertionError):
    """The program let something through that it must not."""


@dataclass(frozen=True)
class Target:
    """One kind of input."""

    name: str
    """Also the ending of its frozen cases."""
    seeds: Callable[[], Sequence[bytes]]
    """Good input, small and various."""
    change: Change
    """One structured change, drawn from the given chance."""
    feed: Callable[[bytes], None]
    """Lets the program work on it. Raises whatever is no message for a person (`CompanionError`), and `Wrong`."""
