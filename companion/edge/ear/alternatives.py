"""What a recogniser's list of alternatives comes to: one guess.

An alternative is a text with its log weight (natural log, up to a constant that they share). The first is the likeliest,
and the others are those that the recogniser did not drop on its way.
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
"""The weight, beside the likeliest's 1, that whatever was dropped may have had: the model's lattice beam is 2 (read in the
Korean model's settings; a wider beam only makes this too careful)."""


def judge(heard: Sequence[Alternative], listen: Listen, outside: Callable[[str], bool]) -> Guess:
    """The likeliest reading; `NOTHING` if no alternative is one whole reading.

    The score is the reading's share of the weight of all alternatives, and of what was dropped, so it never passes 0.88.
    It compares what could have been said; it does not tell whether the sound was speech for the program. That is what
    the words `outside` are for, which take their share too. Words that are live but make no reading are an artefact of
    the bigram. Where digits are counted they take no share (a dropped or doubled digit), but a guess that was not
    the likeliest is never sure, so it is read back.
    """
    best = max((weight for _, weight in heard), default=0.0)
    shares, lost, jumbled, texts = {}, DROPPED, 0.0, {}
    for text, weight in heard:
        share = math.exp(weight - best)
        reading = None if outside(text) else understand(listen, text)
        if reading is not None:
            shares[reading] = shares.get(reading, 0.0) + share
            texts.setdefault(reading, text)
        elif text and not outside(text):
            jumbled += share
        else:
            lost += share
    if not shares:
        return NOTHING
    ranked = sorted(shares, key=lambda reading: -shares[reading])
    total = sum(shares.values()) + lost + (0.0 if _counted(listen, ranked[0]) else jumbled)
    likeliest = max(heard, key=lambda alternative: alternative[1])[0]
    first = not outside(likeliest) and understand(listen, likeliest) == ranked[0]
    others = tuple((texts[reading], round(shares[reading] / total, 3)) for reading in ranked[1:4])
    return _guess(listen, ranked[0], texts[ranked[0]], shares[ranked[0]] / total, first, others)


def _guess(listen: Listen, reading: Reading, text: str, score: float, first: bool,
           others: tuple[tuple[str, float], ...]) -> Guess:
    records = any(rule.records for rule in listen.rules if rule.name == reading.rule)
    accepted = score >= (floors.RECORDS if records else floors.ASKS)
    sure = first and score >= (floors.SURE_RECORDS if records else floors.SURE_ASKS)
    return Guess(text, round(score, 3), accepted, sure, reading, others)


def _counted(listen: Listen, reading: Reading) -> bool:
    return any(counted(rule.expr) for rule in listen.rules if rule.name == reading.rule)
