"""One finding: what it is, the lines that show it, and one plain sentence."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Callable, Iterator

from companion.office.account import Account
from companion.office.findings.kinds import KINDS


@dataclass(frozen=True)
class Finding:
    """What a careful reader would object to in one log. Raises KeyError for a name that is no kind."""

    name: str
    """A name of `KINDS`."""
    lines: tuple[int, ...]
    """Lines of the log that show it, from 1, rising; () where a whole file or what is missing shows it."""
    said: str
    """One plain sentence, with the figures."""

    def __post_init__(self) -> None:
        KINDS[self.name]

    @property
    def severity(self) -> str:
        """serious, fault or note."""
        return KINDS[self.name].severity


Rule = Callable[[Account], Iterator[Finding]]
"""Works findings out again from logged facts, never from a logged verdict."""
