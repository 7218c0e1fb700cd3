"""Spoken numbers: read as people say them, said as a voice can, checked against `num2words`."""
from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from companion.core.numbers import _unsigned, parse_number, read_number, say_digits, say_number, sounds_alike
from companion.core.saying import say_quantity
from companion.errors import BadInput


def test_every_whole_number_to_ten_thousand_agrees_with_num2words() -> None:
    """What another library says is read as the same number; we say the same words but for its commas and hyphens."""
    for number in range(10_001):
        words = num2words(number)
        assert parse_number(words) == str(number)
        assert say_number(str(number)) == words.replace(",", "").replace("-", " ")
        assert parse_number(say_digits(str(number))) == str(number)


@pytest.mark.parametrize("whole",
    [0, 1, 7, 10, 15, 27, 40, 99, 100, 105, 118, 250, 1005, 1600, 9999, 10_000, 23_206, 999_999])
@pytest.mark.parametrize("fraction", ["0", "5", "05", "50", "450", "00", "0001", "9000", "1234"])
def test_decimals_keep_their_trailing_zeros(whole: int, fraction: str) -> None:
    """num2words says each decimal digit but drops trailing zeros of a text ("2.50"); we keep them, both ways."""
    digits = f"{whole}.{fraction}"
    ours = num2words(whole) + " point " + " ".join(num2words(int(digit)) for digit in fraction)
    assert parse_number(ours) == digits
    assert parse_number(say_number(digits)) == digits
    assert parse_number(digits) == digits
    if not fraction.endswith("0"):
        assert parse_number(num2words(digits)) == digits


SAID = [
    ("seven point five", "7.5"), ("seven decimal five", "7.5"), ("seven dot five", "7.5"),
    ("seven point five zero", "7.50"),
    ("one thousand six hundred", "1600"), ("sixteen hundred", "1600"), ("twenty five hundred", "2500"),
    ("fifteen hundred and fifty", "1550"),
    ("minus three", "-3"), ("plus three", "3"), ("minus zero point five", "-0.5"), ("minus zero", "0"),
    ("oh point nine", "0.9"),
    ("nought point nine", "0.9"), ("point nine", "0.9"), ("point nine zero", "0.90"), ("a hundred and five", "105"),
    ("a thousand", "1000"),
    ("two five zero", "250"), ("one oh five", "105"), ("one o five", "105"), ("twenty-seven point five", "27.5"),
    ("double two", "22"),
    ("triple one", "111"), ("one triple zero", "1000"), ("one double oh", "100"), ("nine point double five", "9.55"),
    ("niner fife", "95"),
    ("tree fower ait", "348"), ("zero", "0"), ("oh", "0"), ("zero point zero", "0.0"),
    ("one hundred and ninety nine thousand and one", "199001"),
    # The ICAO readings of Annex 10, Volume II, 5.2.
    ("one one eight decimal four five zero", "118.450"), ("one two thousand", "12000"),
    ("one eight thousand five hundred", "18500"),
    # Common practice, no source.
    ("two fifty", "250"), ("six eighty", "680"), ("one twenty five", "125"), ("two fifteen", "215"),
    ("nineteen ninety five", "1995"),
    ("sixteen fifty", "1650"), ("sixteen oh five", "1605"), ("ten fifty", "1050"), ("one hundred twenty", "120"),
    ("one hundred five", "105"),
    ("two thousand five", "2005"), ("seven point twenty five", "7.25"), ("seven point fifty", "7.50"),
    ("seven and a half", "7.5"),
    # Figures, as typed or as a recogniser writes them.
    ("7.5", "7.5"), ("7.50.", "7.50"), (".9", "0.9"), ("1,600", "1600"), ("1600", "1600"), ("12,345.60", "12345.60"),
    ("-3", "-3"), ("−3", "-3"),
    ("– 3 ".replace(" ", ""), "-3"), ("-.5", "-0.5"), ("7 point 5", "7.5"), ("7 point 50", "7.50"), ("2 5 0", "250"),
    ("16 hundred", "1600"),
    ("1 thousand 600", "1600"), ("Seven, point five!", "7.5"),
]


@pytest.mark.parametrize("line, digits", SAID)
def test_numbers_are_understood_as_people_say_them(line: str, digits: str) -> None:
    """Every style in use gives the digits that were meant, trailing zeros too."""
    assert parse_number(line) == digits


REFUSED = [
    "", "bar", "negative three", "zero five", "oh five", "double oh seven", "007", "05", "00.5", "hundred",
    "hundred and five", "thousand",
    "two five hundred", "one hundred hundred", "twenty zero", "five twenty five zero", "point", "seven point",
    "point five point five", "seven point hundred",
    "7.5.2", "1,6", "1,60,0", "3/4", "10:30", "10-12", "10 12", "1 600", "7²", "½", "7½", "٣", "７", "<5", "~5", "5±1",
    "- 3", "+ - 3", "1e5", "minus minus three",
    "one million", "and five", "two and", "minus", "9" * 13, "1." + "1" * 13, "five five " * 7, "a", "a five",
    "seven point five and a half",
]


@pytest.mark.parametrize("line", REFUSED)
def test_what_could_be_misread_is_refused(line: str) -> None:
    """A lost word, a lost point or a foreign mark never turns into a number."""
    assert parse_number(line) is None


def test_no_words_have_two_values() -> None:
    """Over every run of up to four words of the number vocabulary, all styles that read the same words agree."""
    vocabulary = ("zero", "one", "five", "twelve", "twenty", "fifty", "hundred", "thousand", "and", "a", "double",
    "point", "25", "600")
    for length in range(1, 5):
        for words in product(vocabulary, repeat=length):
            values: dict[int, str] = {}
            for digits, end in _unsigned(words, 0):
                assert values.setdefault(end, digits) == digits, words


@pytest.mark.parametrize("line, readings", [
    ("two five", [("25", 2), ("2", 1)]),
    ("seven point five zero", [("7.50", 4), ("7.5", 3), ("7", 1)]),
    ("four tango", [("4", 1)]),
    ("one hundred and", [("100", 2), ("1", 1)]),
    ("minus two fifty bar", [("-250", 3), ("-2", 2)]),
    ("tango", []),
])
def test_shorter_readings_are_offered_too(line: str, readings: list[tuple[str, int]]) -> None:
    """What follows a number may need its last words: every place where it may end is given, the longest first."""
    assert read_number(line.split()) == readings


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.decimals(-999_999, 999_999, places=3), st.integers(0, 3))
def test_saying_and_reading_are_inverse(value, places: int) -> None:  # type: ignore[no-untyped-def]
    """Any value a tool may show survives being said and read, in words and digit by digit."""
    digits = f"{value:.{places}f}"
    expected = digits if float(digits) else digits.lstrip("-")
    assert parse_number(say_number(digits)) == expected
    assert parse_number(say_digits(digits)) == expected


@pytest.mark.parametrize("digits, words", [("15", "one five"), ("7.50", "seven point five zero"), ("-40",
    "minus four zero"), ("1600", "one six zero zero")])
def test_digits_are_said_one_by_one(digits: str, words: str) -> None:
    """Fifteen and fifty are told apart by their digits."""
    assert say_digits(digits) == words


@pytest.mark.parametrize("call", [say_number, say_digits, sounds_alike])
@pytest.mark.parametrize("digits", ["", "seven", "7,5", "7.", ".5", "--1", "1e3", "NaN", "٣", "1" * 101])
def test_only_digits_can_be_said(call, digits: str) -> None:  # type: ignore[no-untyped-def]
    """Anything else is refused with the text that was found."""
    with pytest.raises(BadInput):
        call(digits)


def test_long_numbers_are_said_digit_by_digit() -> None:
    """Seven digits and more are a code rather than a value."""
    assert say_number("1234567") == "one two three four five six seven"


@pytest.mark.parametrize("digits, alike", [
    ("13", True), ("30", True), ("15", True), ("50", True), ("19", True), ("90", True), ("12", True), ("20", True),
    ("115", True), ("150.5", True),
    ("15000", True), ("50000", True), ("0", False), ("7.50", False), ("10", False), ("11", False), ("35", False),
    ("21", False), ("100", False),
    ("1600", False), ("2500", False), ("1.15", False)])
def test_teens_and_tens_are_marked_for_reading_back_by_digits(digits: str, alike: bool) -> None:
    """Thirteen and thirty, fifteen and fifty; decimals are said singly and cannot be confused so."""
    assert sounds_alike(digits) is alike


def test_a_quantity_is_said_with_its_unit() -> None:
    """The number's words, then the unit's, in the right number."""
    assert say_quantity("7.50", "N·m") == "seven point five zero newton metres"
    assert say_quantity("1", "bar") == "one bar"
    assert say_quantity("-1", "°C") == "minus one degree Celsius"
