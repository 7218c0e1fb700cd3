"""Sound that was lost because the machine was busy, counted in spells: one event for each, however often it stuttered."""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

OVER_S = 10.0
"""A spell is over after so long without another loss."""
LONGEST_S = 60.0
"""One that does not end is told after so long, and begins anew."""

Stutter = Callable[[str, int, int], None]
"""Takes the part, how often, and the milliseconds from the first time to the last."""


@dataclass
class _Spell:
    begun: float
    last: float
    times: int


class Spells:
    """For one thread. `tell` is called once for each spell, when it is over, and must be quick."""

    def __init__(self, tell: Stutter) -> None:
        self._tell = tell
        self._seen: dict[str, int] = {}
        self._spells: dict[str, _Spell] = {}

    def look(self, part: str, count: int, now: float, settled: bool) -> None:
        """`count` losses of `part` so far, at second `now`; just after its start (not `settled`) they are no wonder."""
        new = count - self._seen.get(part, count)
        self._seen[part] = count
        if new > 0 and settled:
            spell = self._spells.setdefault(part, _Spell(now, now, 0))
            spell.last, spell.times = now, spell.times + new
        spell = self._spells.get(part)
        if spell is not None and (now > spell.last + OVER_S or now > spell.begun + LONGEST_S):
            del self._spells[part]
            self._tell(part, spell.times, round(1000 * (spell.last - spell.begun)))
