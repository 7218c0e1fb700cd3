"""The sentences of a grammar that the letters heard say: a prefix beam search, letter by letter.

The recogniser's own search loses the right words in noise when it takes the first piece for another. The letters know no
pieces, and lose others.
"""
from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from companion.core.grammar import Listen
from companion.edge.ear.further import byte_grammar
from companion.edge.ear.grammar import Grammar, Place
from companion.edge.ear.letters import ALPHABET

_WIDTH, _DROP, _LEAST = 20, 12.0, -6.0
"""How many beginnings go on, how far below the likeliest, and how likely a letter must be in its frame (natural log)."""
_SILENT = -0.02
"""A frame in which nothing is likelier than this changes no beginning."""
_NEVER = -1e9


@dataclass(frozen=True)
class _Begun:
    """A beginning of a sentence."""

    log_p: float
    """Of all ways to it, natural log."""
    rested: float
    """Of those that end in nothing."""
    last: float
    """Of those that end in its last letter."""
    place: Place


class ByLetters:
    """Searches one `Listen`."""

    def __init__(self, listen: Listen) -> None:
        self._grammar: Grammar | None = byte_grammar(listen)

    def search(self, heard: np.ndarray, count: int) -> list[str]:
        """The likeliest `count` sentences for log probabilities (t, letters and nothing), best first."""
        if self._grammar is None:
            return []
        start = self._step(self._grammar.start(), " ")
        begun = {"": _Begun(0.0, 0.0, _NEVER, start)} if start else {}
        for row in heard:
            begun = _kept(self._frame(begun, row.tolist()))
        whole = [(entry.log_p, text) for text, entry in begun.items() if text and entry.place.complete]
        return [text for _, text in sorted(whole, reverse=True)[:count]]

    def _frame(self, begun: dict[str, _Begun], row: list[float]) -> dict[str, _Begun]:
        nothing, letters = row[0], dict(zip(ALPHABET, row[1:]))
        if nothing > _SILENT:
            return {text: _Begun(entry.log_p + nothing, entry.log_p + nothing, _NEVER, entry.place) for text, entry in begun.items()}
        likely = [(letter, log_p) for letter, log_p in letters.items() if log_p > _LEAST]
        after: dict[str, _Begun] = {}
        for text, entry in begun.items():
            _add(after, text, entry.log_p + nothing, entry.last + letters.get(text[-1:], _NEVER), entry.place)
            for letter, log_p in likely:
                further = self._step(entry.place, letter)
                if further is not None:
                    # A letter that is written twice must have a frame of nothing between.
                    came = entry.rested if letter == text[-1:] else entry.log_p
                    _add(after, text + letter, _NEVER, came + log_p, further)
        return after

    def _step(self, place: Place, letter: str) -> Place | None:
        piece = ord(letter) + 2
        return self._grammar.step(place, piece) if piece in place.next else None


def _kept(begun: dict[str, _Begun]) -> dict[str, _Begun]:
    best = sorted(begun.items(), key=lambda found: -found[1].log_p)[:_WIDTH]
    return {text: entry for text, entry in best if entry.log_p > best[0][1].log_p - _DROP}


def _add(after: dict[str, _Begun], text: str, rested: float, last: float, place: Place) -> None:
    if text in after:
        rested, last = _sum(after[text].rested, rested), _sum(after[text].last, last)
    after[text] = _Begun(_sum(rested, last), rested, last, place)


def _sum(one: float, other: float) -> float:
    """Of two probabilities, both natural logs."""
    high, low = (one, other) if one > other else (other, one)
    return high + math.log1p(math.exp(low - high)) if high - low < 30 else high
