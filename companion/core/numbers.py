"""Spoken numbers: words to decimal digits and back, keeping every digit that was said.

How a number may be said (marked * : common practice, no source):
- as in a book: "one thousand six hundred", "a hundred and five", "one hundred twenty";
- in hundreds: "sixteen hundred", "twenty five hundred";
- digit by digit: "two five zero" is 250, "one oh five" 105, "double two" 22; never with a leading zero, for then the
  point may have been lost ("zero five" is refused);
- in pairs*: "two fifty" is 250, "six eighty" 680, "nineteen ninety five" 1995, "sixteen oh five" 1605;
- as on the radio (ICAO Annex 10): "one two thousand" is 12000, "fife", "niner", "decimal";
- after the point digit by digit ("seven point five zero" is 7.50) or as one pair* ("seven point twenty five" is 7.25);
- "point nine" is 0.9, "seven and a half"* 7.5; "minus" or "plus" may come first ("negative" is the answer no).
Refused rather than guessed: "hundred" without a count (a word may have been lost), "two five hundred", "1,6", "3/4".
"""
from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from companion.core.words import fold
from companion.errors import BadInput

DIGITS = {"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}
TEENS = {"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
         "seventeen": 17, "eighteen": 18, "nineteen": 19}
TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90}
# ICAO pronunciations, but not "too", which is another English word.
HEARD_DIGITS = {**DIGITS, "oh": 0, "o": 0, "nought": 0, "naught": 0,
                "wun": 1, "tree": 3, "fower": 4, "fife": 5, "ait": 8, "niner": 9}
POINTS = ("point", "decimal", "dot")
REPEATS = {"double": 2, "triple": 3, "treble": 3}

NUMERAL = re.compile(r"(?:0|[1-9][0-9]{0,11})(?:\.[0-9]{1,12})?")
"""A number in figures, as a word of a folded line."""

_MOST_READ = 40
_MOST_DIGITS = 12
_TEXT = re.compile(r"(-?)([0-9]+)(?:\.([0-9]+))?")

Words = Sequence[str]
Texts = Iterator[tuple[str, int]]
"""Readings of some words from a place on: the digits, and the place after the last word used."""
Values = Iterator[tuple[int, int]]
"""The same with a whole number."""


def read_number(words: Words) -> list[tuple[str, int]]:
    """Every number the folded `words` may begin with, as (digits, words used), longest first.

    Shorter readings are there for what may follow the number; of two readings of the same words the first rule wins.
    """
    words = words[:_MOST_READ]
    signs = {"minus": "-", "plus": ""}
    sign, start = (signs[words[0]], 1) if words and words[0] in signs else ("", 0)
    found: dict[int, str] = {}
    for digits, end in _unsigned(words, start):
        if len(digits) <= _MOST_DIGITS:
            found.setdefault(end, sign + digits if digits.strip("0.") else digits)
    return [(found[end], end) for end in sorted(found, reverse=True)]


def parse_number(line: str) -> str | None:
    """The digits of a line that is one number and nothing else, or None."""
    words = fold(line)
    return next((digits for digits, used in read_number(words) if used == len(words)), None)


def say_number(digits: str) -> str:
    """Decimal digits in words: "7.50" is "seven point five zero", "1600" "one thousand six hundred".

    A whole part of more than six digits is said digit by digit. Raises BadInput for anything but decimal digits.
    """
    minus, whole, fraction = _parts(digits)
    said = _say_whole(int(whole)) if len(whole) <= 6 else _say_each(whole)
    return minus + said + (" point " + _say_each(fraction) if fraction else "")


def say_digits(digits: str) -> str:
    """Digit by digit: "15" is "one five", "-7.50" "minus seven point five zero". Raises BadInput as `say_number`."""
    minus, whole, fraction = _parts(digits)
    return minus + _say_each(whole) + (" point " + _say_each(fraction) if fraction else "")


def sounds_alike(digits: str) -> bool:
    """Whether a word of it is easily taken for another (fifteen, fifty; twelve, twenty): read it back by digits too."""
    said = say_number(digits).split()
    alone = [word for word, after in zip(said, [*said[1:], ""]) if DIGITS.get(after, 0) == 0]
    return any(word in TENS or TEENS.get(word, 0) >= 12 for word in alone)


def _parts(digits: str) -> tuple[str, str, str]:
    match = _TEXT.fullmatch(digits)
    if not match or len(digits) > 100:
        raise BadInput("number", 'must be digits like "7.50"', repr(digits[:40]))
    return "minus " if match[1] else "", match[2], match[3] or ""


_NAMES = {value: word for word, value in {**DIGITS, **TEENS, **TENS}.items()}


def _say_each(digits: str) -> str:
    return " ".join(_NAMES[int(digit)] for digit in digits)


def _say_whole(value: int) -> str:
    if value in _NAMES:
        return _NAMES[value]
    if value < 100:
        return f"{_NAMES[value - value % 10]} {_NAMES[value % 10]}"
    size, name = (100, "hundred") if value < 1000 else (1000, "thousand")
    count, rest = divmod(value, size)
    link = " and " if 0 < rest < 100 else " "
    return f"{_say_whole(count)} {name}" + (link + _say_whole(rest) if rest else "")


# --- reading -------------------------------------------------------------------------------------------------------

def _at(words: Words, i: int) -> str:
    return words[i] if i < len(words) else ""


def _unsigned(words: Words, i: int) -> Texts:
    if NUMERAL.fullmatch(_at(words, i)):
        yield words[i], i + 1
    if _at(words, i) in POINTS:
        yield from (("0." + fraction, end) for fraction, end in _fraction(words, i + 1))
    for whole, end in _whole(words, i):
        yield whole, end
        if _at(words, end) in POINTS:
            yield from ((f"{whole}.{fraction}", after) for fraction, after in _fraction(words, end + 1))
        if tuple(words[end:end + 3]) == ("and", "a", "half"):
            yield whole + ".5", end + 3


def _fraction(words: Words, i: int) -> Texts:
    """Digits after the point."""
    yield from _digit_run(words, i)
    yield from ((str(value), end) for value, end in _tens(words, i))
    if _at(words, i).isdecimal():
        yield words[i], i + 1


def _whole(words: Words, i: int) -> Texts:
    """Whole numbers of every style. Styles never read the same words as different values."""
    if _digit(words, i) == 0:
        yield "0", i + 1
    if NUMERAL.fullmatch(_at(words, i)) and words[i].isdecimal():
        yield words[i], i + 1
    for style in (_below_thousand, _round_hundreds, _thousands, _pairs):
        yield from ((str(value), end) for value, end in style(words, i))
    yield from ((run, end) for run, end in _digit_run(words, i) if len(run) > 1 and run[0] != "0")


def _digit(words: Words, i: int) -> int | None:
    word = _at(words, i)
    return int(word) if len(word) == 1 and word in "0123456789" else HEARD_DIGITS.get(word)


def _digit_run(words: Words, i: int) -> Texts:
    """Digits one by one, "double" and "triple" among them: every length from one on."""
    run = ""
    while True:
        times = REPEATS.get(_at(words, i), 1)
        digit = _digit(words, i + (times > 1))
        if digit is None:
            return
        run, i = run + str(digit) * times, i + 1 + (times > 1)
        yield run, i


def _ones(words: Words, i: int) -> Values:
    digit = _digit(words, i)
    if digit:
        yield digit, i + 1


def _tens(words: Words, i: int) -> Values:
    """10 to 99."""
    word = _at(words, i)
    if word in TEENS:
        yield TEENS[word], i + 1
    elif len(word) == 2 and word.isdecimal() and word[0] != "0":
        yield int(word), i + 1
    elif word in TENS:
        yield from ((TENS[word] + ones, end) for ones, end in _ones(words, i + 1))
        yield TENS[word], i + 1


def _counted(counts: Values, words: Words, name: str, size: int, rest: Callable[[Words, int], Values]) -> Values:
    """`counts` of a hundred or thousand, and what may be added to them."""
    for count, end in counts:
        if _at(words, end) == name:
            yield count * size, end + 1
            after = end + 2 if _at(words, end + 1) == "and" else end + 1
            yield from ((count * size + more, last) for more, last in rest(words, after))


def _below_hundred(words: Words, i: int) -> Values:
    yield from _ones(words, i)
    yield from _tens(words, i)


def _one_or_a(words: Words, i: int) -> Values:
    if _at(words, i) == "a":
        yield 1, i + 1
    yield from _ones(words, i)


def _below_thousand(words: Words, i: int) -> Values:
    yield from _below_hundred(words, i)
    yield from _counted(_one_or_a(words, i), words, "hundred", 100, _below_hundred)
    word = _at(words, i)
    if len(word) == 3 and word.isdecimal() and word[0] != "0":
        yield int(word), i + 1


def _round_hundreds(words: Words, i: int) -> Values:
    yield from _counted(_tens(words, i), words, "hundred", 100, _below_hundred)


def _thousands(words: Words, i: int) -> Values:
    yield from _counted(_thousand_counts(words, i), words, "thousand", 1000, _below_thousand)


def _thousand_counts(words: Words, i: int) -> Values:
    if _at(words, i) == "a":
        yield 1, i + 1
    yield from _below_thousand(words, i)
    yield from ((int(run), end) for run, end in _digit_run(words, i) if 2 <= len(run) <= 3 and run[0] != "0")


def _pairs(words: Words, i: int) -> Values:
    """Two groups read as one number. Words only: figures written apart ("10 12") may be two numbers."""
    for first, end in _below_hundred(words, i):
        if any(word.isdecimal() for word in words[i:end + 1]):
            continue
        yield from ((first * 100 + second, last) for second, last in _tens(words, end))
        if first >= 10 and _digit(words, end) == 0:
            yield from ((first * 100 + second, last) for second, last in _ones(words, end + 1))
