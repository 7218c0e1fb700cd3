"""Which keys are down, wherever they are pressed. Pure.

A key of a keyboard that can be read as an input device also reaches the terminal in front. Such a key is taken from
the device alone, which knows when it comes up; when the device goes, the terminal counts again.
"""
from __future__ import annotations

from collections import defaultdict

TERMINAL = "the terminal"


class Held:
    """Keys by name, sources by name. A key is down while any source holds it."""

    def __init__(self) -> None:
        self._down: dict[str, set[str]] = defaultdict(set)
        self._given: dict[str, set[str]] = defaultdict(set)
        """The devices that have given a key and are still there."""

    def press(self, key: str, source: str) -> bool:
        """Whether the key is down now and was not before."""
        if source == TERMINAL and self._given[key]:
            return False
        before = bool(self._down[key])
        self._down[key].add(source)
        if source != TERMINAL:
            self._given[key].add(source)
            self._down[key].discard(TERMINAL)
        return not before

    def release(self, key: str, source: str) -> bool:
        """Whether the key is up now and was not before."""
        before = bool(self._down[key])
        self._down[key].discard(source)
        return before and not self._down[key]

    def let_go(self, source: str) -> list[str]:
        """All keys of a source that lost count of them; those that are up now and were not before."""
        return [key for key in list(self._down) if self.release(key, source)]

    def gone(self, source: str) -> list[str]:
        """The same for a source that is no longer there."""
        for devices in self._given.values():
            devices.discard(source)
        return self.let_go(source)
