"""The sentences of a grammar that the letters heard say: a prefix beam search, letter by letter.

The recogniser's own search loses the right words in noise when it takes the first piece for another. The letters know no
pieces, and lose others.
"""
from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from companion.core.grammar import Listen
from companion.edge.ear.further import byte_grammar
from companion.edge.ear.grammar import Grammar, Place
from companion.edge.ear.letters import ALPHABET

_WIDTH, _LEAST = 20, -6.0
"""How many beginnings go on, and how likely a letter must be in its frame (natural log)."""
_SILENT = -0.02
"""A frame in which nothing is likelier than this changes no beginning."""
_NEVER = -1e9


class ByLetters:
    """Searches one `Listen`."""

    def __init__(self, listen: Listen) -> None:
        self._grammar: Grammar | None = byte_grammar(listen)

    def search(self, heard: np.ndarray, count: int) -> list[str]:
        """The likeliest `count` sentences for log probabilities (t, letters and nothing), best first."""
        if self._grammar is None:
            return []
        start = self._step(self._grammar.start(), " ")
        # A beginning, and the log probability of all ways to it that end in nothing, and in its last letter.
        begun: dict[str, tuple[float, float, Place]] = {"": (0.0, _NEVER, start)} if start else {}
        for row in heard:
            begun = dict(sorted(self._frame(begun, row).items(), key=lambda entry: -_both(entry[1]))[:_WIDTH])
        whole = [(_both(entry), text) for text, entry in begun.items() if text and entry[2].complete]
        return [text for _, text in sorted(whole, reverse=True)[:count]]

    def _frame(self, begun: dict[str, tuple[float, float, Place]], row: np.ndarray) -> dict[str, tuple[float, float, Place]]:
        nothing = float(row[0])
        if nothing > _SILENT:
            return {text: (_both(entry) + nothing, _NEVER, entry[2]) for text, entry in begun.items()}
        likely = [(ALPHABET[place], float(row[place + 1])) for place in np.flatnonzero(row[1:] > _LEAST)]
        after: dict[str, tuple[float, float, Place]] = {}
        for text, (blank, letter, place) in begun.items():
            same = dict(likely).get(text[-1:], float(row[ALPHABET.index(text[-1]) + 1]) if text else _NEVER)
            _add(after, text, max(blank, letter) + np.log1p(np.exp(-abs(blank - letter))) + nothing, letter + same, place)
            for character, log_p in likely:
                further = self._step(place, character)
                if further is not None:
                    came = blank if character == text[-1:] else _both((blank, letter, place))
                    _add(after, text + character, _NEVER, came + log_p, further)
        return after

    def _step(self, place: Place, character: str) -> Place | None:
        piece = ord(character)
        return self._grammar.step(place, piece + 2) if piece + 2 in place.next else None


def _both(entry: tuple[float, float, Place]) -> float:
    high, low = max(entry[0], entry[1]), min(entry[0], entry[1])
    return high + float(np.log1p(np.exp(low - high)))


def _add(after: dict[str, tuple[float, float, Place]], text: str, blank: float, letter: float, place: Place) -> None:
    if text in after:
        blank, letter = float(np.logaddexp(after[text][0], blank)), float(np.logaddexp(after[text][1], letter))
    after[text] = (blank, letter, place)
