"""Spelling: the ICAO alphabet, plain letters and digits, read and said."""
from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.core.numbers import HEARD_DIGITS
from companion.core.spelling import HEARD, ICAO, read_spelling, say_spelling
from companion.core.words import fold
from companion.errors import BadInput

# ICAO Annex 10, Volume II, 5.2 (seen second-hand).
ALPHABET = ("Alfa Bravo Charlie Delta Echo Foxtrot Golf Hotel India Juliett Kilo Lima Mike November Oscar Papa Quebec "
            "Romeo Sierra Tango Uniform Victor Whiskey X-ray Yankee Zulu")


def spelled(line: str) -> str | None:
    """The characters of a line that is a spelling and nothing else."""
    words = fold(line)
    return next((characters for characters, used in read_spelling(words) if used == len(words)), None)


def test_the_alphabet_is_icaos() -> None:
    """Each letter has its published word, said and read."""
    assert " ".join(ICAO[letter] for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == ALPHABET
    assert spelled(ALPHABET) == "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@pytest.mark.parametrize("line, characters", [
    ("papa zero two zero four", "P0204"), ("p zero two zero four", "P0204"), ("P 0 2 0 4", "P0204"),
    ("Papa, oh two oh four.", "P0204"),
    ("alpha juliet whisky", "AJW"), ("x-ray x ray xray X", "XXXX"), ("a b c", "ABC"), ("bee zed zee jay kay", "BZZJK"),
    ("double u double you", "WW"),
    ("double uniform", "UU"), ("double two", "22"), ("triple zero", "000"), ("double alfa", "AA"),
    ("fife niner", "59"), ("tree fower ait", "348"),
    ("alfa dash one", "A-1"), ("alfa hyphen one", "A-1"), ("oscar oh o", "O00"), ("i india", "II"),
    # Common practice, no source.
    ("papa zero twenty four", "P024"), ("papa zero two fifteen", "P0215"), ("eighty", "80"),
    ("twenty oh four", "2004"), ("sixty six", "66"),
    ("p zero three hundred", "P0300"), ("papa zero three hundred kilo", "P0300K"),
])
def test_codes_are_read_as_people_spell_them(line: str, characters: str) -> None:
    """Letters by ICAO word, plainly or by name; digits singly, doubled or in groups."""
    assert spelled(line) == characters


@pytest.mark.parametrize("line", [
    "", "hello", "see", "you", "why", "are", "be", "tea", "to", "for", "three hundred one", "three hundred and one",
    "three hundred twenty", "hundred",
    "zero hundred", "two thousand", "double", "double dash", "alfa beta", "α", "é", "٣", "point", "and", "7.5",
    "double double two"])
def test_other_words_are_no_spelling(line: str) -> None:
    """Plain English words and unclear groups are refused: "three hundred one" could be 301 or 3001."""
    assert spelled(line) is None


def test_shorter_spellings_are_offered_too() -> None:
    """What follows a spelling may need its last words; "twenty four" is 24 before it is 20 and 4."""
    assert read_spelling(("tango", "twenty", "four")) == [("T24", 3), ("T20", 2), ("T", 1)]


@pytest.mark.parametrize("characters, words", [
    ("P0204", "Papa zero two zero four"), ("p0204", "Papa zero two zero four"), ("95", "nine five"),
    ("A-1", "Alfa dash one"), ("X", "X-ray")])
def test_a_code_is_said_in_icao_words(characters: str, words: str) -> None:
    """Digits are said plainly: a synthetic voice needs no "fife"."""
    assert say_spelling(characters) == words


@pytest.mark.parametrize("characters", ["", "A B", "É", "A.1", "٣", "ß"])
def test_only_letters_digits_and_dashes_can_be_said(characters: str) -> None:
    """Anything else is refused."""
    with pytest.raises(BadInput):
        say_spelling(characters)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-", min_size=1, max_size=17))
def test_what_is_said_is_read_as_the_same_code(characters: str) -> None:
    """Saying and reading are inverse for any code up to the length of a vehicle identification number."""
    assert spelled(say_spelling(characters)) == characters


def test_no_word_stands_for_two_characters() -> None:
    """A spoken form means one character, and the digits are those of spoken numbers."""
    assert all(HEARD[word] == str(digit) for word, digit in HEARD_DIGITS.items())
    assert all(len(character) <= 1 for character in HEARD.values())
    assert all(HEARD[name.lower()] == letter for letter, name in ICAO.items())
