"""Letters and digits spelled one by one: words to characters and back, in the ICAO alphabet (Annex 10, Volume II, 5.2).

How a code may be said (marked * : common practice, no source):
- ICAO words, "Alfa" and "Alpha", "Juliett" and "Juliet", "Whiskey" and "Whisky", "X-ray", "X ray" and "Xray";
- plain letters, and letter names as a recogniser may write them ("zed", "bee"); names that are other words ("see",
  "you", "why", "are", "be") are not taken;
- digits singly ("zero", "oh", "niner") or in groups* ("twenty four" is 24, "fifteen" 15, "double two" 22);
- "three hundred"* is 300 when no further number follows: "three hundred one" could be 301 or 3001 and is refused;
- "dash" is "-"; a hyphen between written characters is only layout and is dropped.
A lone "O" is taken for zero, as it is mostly meant; the letter is "Oscar".
Spoken back, five and nine are plain "five" and "nine": "fife" and "niner" help an ear, not a synthetic voice.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

from companion.core.numbers import DIGITS, HEARD_DIGITS, REPEATS, TEENS, TENS
from companion.errors import BadInput

ICAO = {"A": "Alfa", "B": "Bravo", "C": "Charlie", "D": "Delta", "E": "Echo", "F": "Foxtrot", "G": "Golf", "H": "Hotel",
        "I": "India", "J": "Juliett", "K": "Kilo", "L": "Lima", "M": "Mike", "N": "November", "O": "Oscar", "P": "Papa",
        "Q": "Quebec", "R": "Romeo", "S": "Sierra", "T": "Tango", "U": "Uniform", "V": "Victor", "W": "Whiskey",
        "X": "X-ray", "Y": "Yankee", "Z": "Zulu"}

_VARIANTS = {"alpha": "A", "juliet": "J", "whisky": "W", "xray": "X", "x ray": "X"}
_LETTER_NAMES = {"bee": "B", "cee": "C", "dee": "D", "gee": "G", "aitch": "H", "jay": "J", "kay": "K", "el": "L",
                 "ell": "L", "em": "M", "en": "N", "pee": "P", "ess": "S", "tee": "T", "vee": "V", "double u": "W",
                 "double you": "W", "ex": "X", "zed": "Z", "zee": "Z"}
_PLAIN = {letter.lower(): letter for letter in ICAO if letter != "O"}
_DIGITS = {word: str(digit) for word, digit in HEARD_DIGITS.items()}
_FIGURES = {figure: figure for figure in "0123456789"}
_MARKS = {"dash": "-", "hyphen": "-", "-": ""}

HEARD = {**{name.lower(): letter for letter, name in ICAO.items()}, **_VARIANTS, **_LETTER_NAMES, **_PLAIN, **_DIGITS,
         **_FIGURES, **_MARKS}
"""Every word (or pair of words) that stands for one character."""

_SAID = {**{name: word for word, name in _FIGURES.items()}, **ICAO, "-": "dash",
         **{str(digit): word for word, digit in DIGITS.items()}}
_NUMBER_WORDS = {*HEARD_DIGITS, *TEENS, *TENS, *_FIGURES, *REPEATS, "and"}
_MOST_READ = 80

Words = Sequence[str]


def read_spelling(words: Words) -> list[tuple[str, int]]:
    """Every spelling the folded `words` may begin with, as (upper-case characters, words used), longest first.

    A word written as a code ("P0204") must have been cut into single characters (`letters`) before.
    """
    words = words[:_MOST_READ]
    best = {0: ""}
    for start in range(len(words)):
        if start in best:
            for characters, end in _steps(words, start):
                best.setdefault(end, best[start] + characters)
    return [(best[end], end) for end in sorted(best, reverse=True) if best[end]]


def say_spelling(characters: str) -> str:
    """ICAO words: "P0204" is "Papa zero two zero four". Raises BadInput for anything but letters, digits and "-"."""
    unknown = [c for c in characters if c.upper() not in _SAID]
    if unknown or not characters:
        raise BadInput("spelling", "must be letters A to Z, digits and dashes", repr(characters[:40]))
    return " ".join(_SAID[c.upper()] for c in characters)


def _steps(words: Words, i: int) -> Iterator[tuple[str, int]]:
    """What may be read at place `i`, the longest first."""
    yield from _hundred(words, i)
    pair = " ".join(words[i:i + 2])
    if " " in pair and pair in HEARD:
        yield HEARD[pair], i + 2
    times = REPEATS.get(words[i], 0)
    if times and i + 1 < len(words) and HEARD.get(words[i + 1], "-").isalnum():
        yield HEARD[words[i + 1]] * times, i + 2
    yield from _tens(words, i)
    if words[i] in HEARD:
        yield HEARD[words[i]], i + 1


def _tens(words: Words, i: int) -> Iterator[tuple[str, int]]:
    word, after = words[i], words[i + 1:i + 2]
    if word in TEENS:
        yield str(TEENS[word]), i + 1
    if word in TENS:
        ones = HEARD_DIGITS.get(after[0], 0) if after else 0
        if ones:
            yield str(TENS[word] + ones), i + 2
        yield str(TENS[word]), i + 1


def _hundred(words: Words, i: int) -> Iterator[tuple[str, int]]:
    digit, after = HEARD_DIGITS.get(words[i], 0), words[i + 1:i + 3]
    if digit and after and after[0] == "hundred" and not _NUMBER_WORDS.intersection(after[1:]):
        yield f"{digit}00", i + 2

