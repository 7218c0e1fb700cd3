"""Beam search: the likeliest sentences of a grammar for one sound.

A sentence's log probability is that of its pieces and of the end mark. The grammar lets a sentence close with
punctuation, for the model likes a full stop; that one follows is not the same as ending there ("7." may become "7.5").
Nothing is normalised inside the grammar: the probability that the model gives to all other texts stays lost, which is
what tells speech for the program from other sound.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.edge.ear.grammar import Grammar, Place
from companion.edge.ear.model import END, START, Beams, Model

WIDTH_FIRST, WIDTH = 32, 12
DROP_FIRST, DROP = 12.0, 6.0
"""How many hypotheses go on, and how far (natural log) below the best one may lie: at the first piece, and later. In
noise the right word's first piece may come late in the list: 16 there cost a tenth of the ICAO words at 0 dB (n = 29).
Later, 32 instead of 12 doubled the time and changed nothing."""
NARROW = 4
"""How many go on where only a few sentences are asked about."""
_LONGEST = 64


@dataclass(frozen=True, eq=False)
class Sentence:
    """One whole sentence."""

    text: bytes
    pieces: tuple[int, ...]
    log_p: float
    """Natural log of its probability given the sound."""
    place: Place


@dataclass(frozen=True)
class _Open:
    log_p: float
    pieces: tuple[int, ...]
    place: Place
    row: int


class Greedy:
    """What the model writes when nothing constrains it, always the likeliest piece; beside a search it ends with that."""

    def __init__(self) -> None:
        self._logs: list[float] = []
        self._piece = START

    def write(self, row: np.ndarray) -> list[int]:
        """One piece more, given what may follow (pieces,); none after the end."""
        if self._piece == END:
            return []
        self._piece = int(row.argmax())
        self._logs.append(float(row[self._piece]))
        return [self._piece] if self._piece != END else []

    def log_p(self, most: int) -> float:
        """Of its first pieces, at most so many; natural log."""
        return sum(self._logs[:most])


def search(model: Model, begun: Beams, grammar: Grammar, most: int = WIDTH_FIRST, beside: Greedy | None = None) -> list[Sentence]:
    """The likeliest sentences, best first; none if the grammar is empty. No more than `most` hypotheses go on at once;
    `beside` goes on with them."""
    hypotheses, found, beams = [_Open(0.0, (), grammar.start(), 0)], [], begun
    for _ in range(_LONGEST):
        best = max((sentence.log_p for sentence in found), default=-np.inf)
        hypotheses = _extend(hypotheses, beams.next, grammar, best, min(most, WIDTH if hypotheses[0].pieces else WIDTH_FIRST))
        freely = beside.write(beams.next[-1]) if beside else []
        if not hypotheses:
            break
        beams = model.step(beams, [h.row for h in hypotheses] + [len(beams.next) - 1] * len(freely),
                           [h.pieces[-1] for h in hypotheses] + freely)
        hypotheses = [_Open(h.log_p, h.pieces, h.place, place) for place, h in enumerate(hypotheses)]
        found += [_ended(h, beams.next[h.row]) for h in hypotheses if h.place.complete]
    return sorted(found, key=lambda sentence: -sentence.log_p)[:WIDTH_FIRST]


def _ended(hypothesis: _Open, row: np.ndarray) -> Sentence:
    log_p = hypothesis.log_p + float(row[END])
    return Sentence(hypothesis.place.text, hypothesis.pieces, log_p, hypothesis.place)


def _extend(hypotheses: list[_Open], rows: np.ndarray, grammar: Grammar, best: float, width: int) -> list[_Open]:
    """The best ways to go on, one for each text."""
    drop = DROP if hypotheses[0].pieces else DROP_FIRST
    ways = [(h.log_p + float(rows[h.row, piece]), int(piece), h)
            for h in hypotheses for piece in _likely(rows[h.row], h.place.next, width)]
    ways.sort(key=lambda way: -way[0])
    kept: dict[bytes, _Open] = {}
    floor = max(best, ways[0][0] if ways else -np.inf) - drop
    for log_p, piece, h in ways:
        if log_p < floor or len(kept) == width:
            break
        place = grammar.step(h.place, piece)
        kept.setdefault(place.text, _Open(log_p, (*h.pieces, piece), place, h.row))
    return list(kept.values())


def _likely(row: np.ndarray, allowed: np.ndarray, width: int) -> np.ndarray:
    if len(allowed) <= width:
        return allowed
    return allowed[np.argpartition(-row[allowed], width)[:width]]
