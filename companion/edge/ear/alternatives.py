"""What a recogniser's list of alternatives comes to: one guess.

An alternative is a text with its log weight (natural log, up to a constant that they share): one of those that the
recogniser did not drop on its way.
"""
from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from companion.core.grammar import Listen, Reading
from companion.core.understand import understand
from companion.edge.ear import floors
from companion.edge.ear.base import NOTHING, Guess
from companion.edge.ear.phrases import counted

Alternative = tuple[str, float]

DROPPED = math.exp(-2)
"""The weight, beside the likeliest's 1, that whatever was dropped may have had: the lattice beam is 2 (read in the Korean
model's settings; a wider beam only makes this too careful)."""

SURE_ASKS, SURE_RECORDS = 0.8, 0.85
"""The least score that is not asked back; a lone text, at 0.88, is not."""

_OUTSIDE, _JUMBLE = "outside", "jumble"


def judge(heard: Sequence[Alternative], listen: Listen, outside: Callable[[str], bool]) -> Guess:
    """The likeliest reading; `NOTHING` if no alternative is one whole reading.

    The score is the reading's share of the weight of all alternatives and of what was dropped: a lone text has 0.88. It
    compares what could have been said; whether the sound was speech for the program, it does not tell. That is what
    the words `outside` are for, which take their share too. Live words that make no reading are an artefact of the
    bigram. Where digits are counted they take no share (one was dropped or doubled), but a guess that was not the
    likeliest is never sure, so it is read back.
    """
    heard = sorted(heard, key=lambda alternative: -alternative[1])
    shares: dict[Reading | str, float] = {}
    texts: dict[Reading | str, str] = {}
    for text, weight in heard:
        meaning = _meaning(text, listen, outside)
        shares[meaning] = shares.get(meaning, 0.0) + math.exp(weight - heard[0][1])
        texts.setdefault(meaning, text)
    readings = sorted((meaning for meaning in shares if isinstance(meaning, Reading)), key=lambda each: -shares[each])
    if not readings:
        return NOTHING
    if _counted(listen, readings[0]):
        shares.pop(_JUMBLE, None)
    total = DROPPED + sum(shares.values())
    ranked = [(texts[reading], round(shares[reading] / total, 3)) for reading in readings[:4]]
    return _guess(listen, readings[0], ranked, first=next(iter(texts)) == readings[0])


def _meaning(text: str, listen: Listen, outside: Callable[[str], bool]) -> Reading | str:
    if not text or outside(text):
        return _OUTSIDE
    return understand(listen, text) or _JUMBLE


def _guess(listen: Listen, reading: Reading, ranked: list[tuple[str, float]], first: bool) -> Guess:
    records = any(rule.records for rule in listen.rules if rule.name == reading.rule)
    text, score = ranked[0]
    accepted = score >= (floors.RECORDS if records else floors.ASKS)
    sure = first and score >= (SURE_RECORDS if records else SURE_ASKS)
    return Guess(text, score, accepted, sure, reading, tuple(ranked[1:]))


def _counted(listen: Listen, reading: Reading) -> bool:
    return any(counted(rule.expr) for rule in listen.rules if rule.name == reading.rule)
