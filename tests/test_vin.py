"""Vehicle numbers: structure, check digit, model year, repair."""
from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.vin import check_digit, model_years, read, repair, tail

QUICK = settings(max_examples=100, deadline=None, derandomize=True)
ALPHABET = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
NUMBERS = st.text(alphabet=ALPHABET, min_size=17, max_size=17)

# Published samples.
SAMPLES = [
    ("1G4AH59H45G118341", "4"),   # 49 CFR 565.15, sample calculation (text seen; recomputed)
    ("1M8GDM9AXKP042788", "X"),   # widely reprinted worked example (text seen; recomputed)
    ("1J9RP1A36A1644345", "6"),   # outline for new manufacturers (text seen; recomputed)
    ("11111111111111111", "1"),   # common self-test (seen second-hand; recomputed)
]


@pytest.mark.parametrize("number, digit", SAMPLES)
def test_published_check_digits_fit(number: str, digit: str) -> None:
    """49 CFR 565.15: each published sample's check digit comes out."""
    found = read(number)
    assert (found.expected, found.check_digit, found.check_ok, found.check_applies) == (digit, digit, True, True)
    assert found.notes == () and found.region == "North America"


def test_one_wrong_character_is_noticed() -> None:
    """The sample of 49 CFR with one digit changed: sum 408, 1 and not 4 (recomputed)."""
    found = read("1G4AH59H45G118331")
    assert (found.expected, found.check_ok) == ("1", False)
    assert found.notes == ("The check digit does not fit. Read the number again.",)


def test_trap_the_check_digit_never_rejects_where_it_is_no_duty() -> None:
    """WP0ZZZ99ZTS392124 gives 8 but has Z in place 9 (recomputed): read, with a note, and no word of a misfit."""
    found = read("WP0ZZZ99ZTS392124")
    assert (found.check_applies, found.expected, found.check_digit, found.check_ok) == (False, "8", "Z", False)
    assert found.region == "Europe" and found.notes == ("No check digit is required in this region.",)


def test_trap_the_remainder_is_a_whole_number() -> None:
    """1J9RP1A36A1644345 sums to 314 = 28 × 11 + 6; its outline's table prints 7/11 as .634 for .636 (text seen)."""
    assert check_digit("1J9RP1A36A1644345") == "6"
    # 7 elevenths: place 17 has weight 2, so a sum of 7 needs place 16 (weight 3) at 1 and place 17 at 2.
    assert check_digit("00000000000000012") == "7"


@QUICK
@given(NUMBERS, st.sampled_from(ALPHABET))
def test_place_nine_has_no_weight(number: str, character: str) -> None:
    """The check digit depends on every other place's value, and never on itself."""
    changed = number[:8] + character + number[9:]
    assert check_digit(changed) == check_digit(number)


@QUICK
@given(NUMBERS, st.integers(1, 17), st.sampled_from("0123456789"), st.sampled_from("0123456789"))
def test_one_misread_digit_is_always_noticed(number: str, place: int, right: str, wrong: str) -> None:
    """No weight shares a factor with 11, so one digit changed always changes the remainder."""
    assume(place != 9 and right != wrong)
    one, other = (number[:place - 1] + digit + number[place:] for digit in (right, wrong))
    assert check_digit(one) != check_digit(other)


@QUICK
@given(NUMBERS)
def test_every_well_formed_number_is_read(number: str) -> None:
    """The check digit warns and never rejects; case, spaces and dashes do not matter."""
    found = read(number)
    assert found.text == number and read(f" {number[:3].lower()}-{number[3:9]} {number[9:].lower()}") == found
    assert found.check_ok == (found.check_digit == found.expected)
    assert ("The check digit does not fit. Read the number again." in found.notes) == (
        number[0] in "12345" and not found.check_ok)


@pytest.mark.parametrize("number, must", [
    ("", "17 characters, not 0"), ("1M8GDM9AXKP04278", "17 characters, not 16"), ("1M8GDM9AXKP0427888", "not 18"),
    ("IM8GDM9AXKP042788", "place 1"), ("1M8GDM9AXKPO42788", "place 12"), ("1M8GDM9AXKPQ42788", "place 12"),
    ("1M8GDM9AXKP04278*", "place 17"), ("1M8GDM9AXKP04278８", "place 17")])
def test_bad_structure_is_refused_with_its_place(number: str, must: str) -> None:
    """I, O and Q stand in no number (49 CFR 565.15)."""
    with pytest.raises(BadInput, match=must):
        read(number)


def test_a_spelled_number_is_repaired() -> None:
    """The three banned letters can only be the digits they look like; the repaired number reads."""
    assert repair("im8 gdm9ax kpo-4278q") == "1M8GDM9AXKP042780"
    assert read(repair("IM8GDM9AXKPO42788")).check_ok


@QUICK
@given(st.text(alphabet=ALPHABET + "IOQ ", max_size=20))
def test_repair_twice_is_repair_once(text: str) -> None:
    """A repair leaves no banned letter, and a good number alone."""
    once = repair(text)
    assert repair(once) == once and not set(once) & set("IOQ ")
    if not set(text) & set("IOQ "):
        assert once == text


@pytest.mark.parametrize("letter, years", [
    ("A", (1980, 2010)), ("H", (1987, 2017)), ("J", (1988, 2018)), ("N", (1992, 2022)), ("P", (1993, 2023)),
    ("R", (1994, 2024)), ("T", (1996, 2026)), ("V", (1997, 2027)), ("W", (1998, 2028)), ("Y", (2000, 2030)),
    ("1", (2001, 2031)), ("9", (2009, 2039)), ("0", ()), ("U", ()), ("Z", ()), ("I", ()), ("", ()), ("AB", ())])
def test_a_year_letter_has_two_meanings(letter: str, years: tuple[int, ...]) -> None:
    """49 CFR 565.15, Table VI; that it goes round in 30 years: from memory."""
    assert model_years(letter) == years


def test_a_place_ten_that_is_no_year_gets_a_note() -> None:
    """U is no year code (49 CFR 565.15)."""
    found = read("1M8GDM9AXUP042788")
    assert found.years == () and "Place ten is no model year." in found.notes


def test_letters_at_the_end_get_a_note() -> None:
    """ISO 3779 wants digits in the last four places (from memory): a letter there is often a misreading."""
    assert "The last four places are usually digits." in read("1M8GDM9AXKP0427B8").notes


@pytest.mark.parametrize("first, region", [("A", "Africa"), ("J", "Asia"), ("R", "Asia"), ("S", "Europe"),
                                           ("Z", "Europe"), ("1", "North America"), ("5", "North America"),
                                           ("6", "Oceania"), ("9", "South America"), ("0", "")])
def test_the_first_character_names_the_region(first: str, region: str) -> None:
    """ISO 3780 (from memory)."""
    found = read(first + "M8GDM9AXKP042788")
    assert found.region == region and found.check_applies == (region == "North America")


def test_the_tail_is_the_last_six() -> None:
    """Spoken again as the check, from a number as read or as written."""
    assert tail(read("1M8GDM9AXKP042788")) == "042788" == tail("1m8gdm9axkp042788")
    assert tail("1M8GDM9AXKP042788", 8) == "KP042788"
