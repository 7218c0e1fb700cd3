"""Words wrong: (substituted + dropped + inserted) / said, by the least number of such changes (NIST's definition)."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class WordErrors:
    """Of one utterance, or of many added up."""

    substituted: int = 0
    dropped: int = 0
    inserted: int = 0
    said: int = 0
    """Words that were said."""

    @property
    def rate(self) -> float:
        """0 where all is right; may exceed 1. Nothing said: 0 or 1 an inserted word."""
        return (self.substituted + self.dropped + self.inserted) / max(1, self.said)

    def __add__(self, other: WordErrors) -> WordErrors:
        return WordErrors(self.substituted + other.substituted, self.dropped + other.dropped,
                          self.inserted + other.inserted, self.said + other.said)


def word_errors(said: Sequence[str], heard: Sequence[str]) -> WordErrors:
    """The least changes that make `said` of `heard`. Where several ways are equally short, a substitution is taken."""
    row = [(place, 0, 0, place) for place in range(len(heard) + 1)]  # changes, substituted, dropped, inserted
    for count, word in enumerate(said, 1):
        before, row = row, [(count, 0, count, 0)]
        for place, other in enumerate(heard, 1):
            wrong = int(word != other)
            row.append(min(_more(before[place - 1], wrong, 0, 0), _more(before[place], 0, 1, 0),
                           _more(row[-1], 0, 0, 1), key=lambda way: way[0]))
    return WordErrors(*row[-1][1:], said=len(said))


def _more(way: tuple[int, int, int, int], *added: int) -> tuple[int, int, int, int]:
    return way[0] + sum(added), way[1] + added[0], way[2] + added[1], way[3] + added[2]
