"""How alike two phrases sound, so that phrases easily taken for each other are never live together.

Words become speech sounds (`core.phonemes`), and sounds are compared by an edit distance in which exchanging two of a
kind costs little. The confusable pairs B/D B/P D/T T/G C/Z V/Z M/N J/K P/T F/S are those of letters spelled over the
telephone (Cole & Fanty 1990; NIPS 1991 for P/T and F/S); the others, the weights and the threshold are our own, set on
the pairs in the test.
"""
from __future__ import annotations

from functools import lru_cache

from companion.core.numbers import say_number
from companion.core.phonemes import VOWELS, phonemes
from companion.core.words import fold
from companion.errors import BadInput

ALIKE_AT = 0.66
"""From here on two phrases are too alike to be live together."""

_MERGED = 0.1
_CLOSE = 0.3
_SAME_KIND = 0.7
_VOWEL_FOR_CONSONANT = 1.6
_LOST_ENDING = 0.75
_VOWEL_WEIGHT = 1.5
_WEAK_VOWEL_WEIGHT = 0.7

_PUBLISHED = "B D|B P|D T|T G|Z S|V Z|M N|JH K|P T|F S"
_CONSONANTS = "K G|N NG|JH CH|F TH|F V|TH DH|TH S|SH CH|SH S|SH ZH|V DH|B V|P K|T K|L W|R W"
_VOWELS = "IH IY|AA AH|AH AO|AE EH|UH UW|IH EH|OW AO|AH UH|ER AX|AH AX|IH AX|AE AX|EH AX|AW AA|AY AA|OY AO|EY EH|AH AE"
_CONFUSABLE = {frozenset(pair.split()) for pair in "|".join((_PUBLISHED, _CONSONANTS, _VOWELS)).split("|")}
_KINDS = tuple(frozenset(kind.split()) for kind in (
    "M N NG", "P B T D K G CH JH", "F V TH DH S Z SH ZH HH", "L R W Y", " ".join(VOWELS)))

# Known trouble that the measure misses: why there are "fife" and "niner" (ICAO Annex 10); common practice, no source.
_KNOWN = {frozenset(("five", "nine")), frozenset(("on", "off"))}


@lru_cache(maxsize=4096)
def sounds_alike(a: str, b: str) -> bool:
    """Whether one of the two phrases may well be taken for the other."""
    return alike(a, b) >= ALIKE_AT


def alike(a: str, b: str) -> float:
    """0 (nothing in common) to 1 (the same sounds). Words that both phrases begin or end with do not count."""
    first, second = _differing(_spoken(a), _spoken(b))
    if frozenset((" ".join(first), " ".join(second))) in _KNOWN:
        return 1.0
    left, right = _sounds(first), _sounds(second)
    longest = max(_weight(left), _weight(right))
    return 1.0 if longest == 0 else max(0.0, 1 - _distance(left, right) / longest)


def _spoken(phrase: str) -> tuple[str, ...]:
    """The phrase's words, figures in words."""
    spoken: list[str] = []
    for word in fold(phrase):
        try:
            spoken += say_number(word).split()
        except BadInput:
            spoken.append(word)
    return tuple(spoken)


def _differing(a: tuple[str, ...], b: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is left of both when the words they begin and end with alike are taken away."""
    while a and b and a[0] == b[0]:
        a, b = a[1:], b[1:]
    while a and b and a[-1] == b[-1]:
        a, b = a[:-1], b[:-1]
    return a, b


def _sounds(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sound for word in words for sound in phonemes(word))


def _cost(sound: str) -> float:
    """What it costs to lose or gain a sound."""
    if sound == "AX":
        return _WEAK_VOWEL_WEIGHT
    return _VOWEL_WEIGHT if sound in VOWELS else 1.0


def _weight(sounds: tuple[str, ...]) -> float:
    return sum(_cost(sound) for sound in sounds)


@lru_cache(maxsize=4096)
def _exchange(a: str, b: str) -> float:
    if a == b:
        return 0.0
    weight = (_cost(a) + _cost(b)) / 2
    if {a, b} == {"AA", "AO"}:  # one vowel for many speakers
        return _MERGED * weight
    if frozenset((a, b)) in _CONFUSABLE:
        return _CLOSE * weight
    if (a in VOWELS) != (b in VOWELS):
        return _VOWEL_FOR_CONSONANT * weight
    kinds = [next((i for i, kind in enumerate(_KINDS) if sound in kind), -1) for sound in (a, b)]
    return _SAME_KIND * weight if kinds[0] == kinds[1] else weight


def _distance(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Edit distance. Up to two sounds beyond the other's end ("-ing", "-ed") cost less: endings are lost in noise."""
    row = [_weight(b[:j]) for j in range(len(b) + 1)]
    for i, sound in enumerate(a, 1):
        before, row = row, [row[0] + _cost(sound)]
        for j, other in enumerate(b, 1):
            lost = _cost(sound) * (_LOST_ENDING if j == len(b) and i > len(a) - 2 else 1.0)
            gained = _cost(other) * (_LOST_ENDING if i == len(a) and j > len(b) - 2 else 1.0)
            row.append(min(before[j - 1] + _exchange(sound, other), before[j] + lost, row[j - 1] + gained))
    return row[-1]
