"""Vehicle identification numbers: structure, check digit, model year, and repair of a spelled one.

Sources: 49 CFR 565.15, Tables III to VI (letter values, place weights, check digit, model years; text seen). The check
digit is a North American duty: elsewhere place 9 is free, so a wrong one warns and never rejects. World regions by the
first character: ISO 3780, from memory. That the model-year letters go round every 30 years: from memory.
"""
from __future__ import annotations

import re
from dataclasses import dataclass

from companion.errors import BadInput
from companion.trade import parts

LENGTH = 17
_CHECK_PLACE, _YEAR_PLACE = 9, 10
_VALUES = {**{str(digit): digit for digit in range(10)}, **dict(zip("ABCDEFGH", range(1, 9))),
           **dict(zip("JKLMN", range(1, 6))), "P": 7, "R": 9, **dict(zip("STUVWXYZ", range(2, 10)))}
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_REMAINDERS = "0123456789X"
# Model years from 1980, one a letter: no I, O, Q, U, Z and no 0.
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR, _CYCLE = 1980, len(_YEARS)
_CHECKED_FIRST = "12345"
_REGIONS = (("A-H", "Africa"), ("J-R", "Asia"), ("S-Z", "Europe"), ("1-5", "North America"), ("6-7", "Oceania"),
            ("8-9", "South America"))
# None of the three letters stands in any number, so each can only be the digit it looks or sounds like.
_BANNED = str.maketrans("IOQ", "100")


@dataclass(frozen=True)
class Vin:
    """A well-formed vehicle identification number and what it shows."""

    text: str
    """17 characters: digits and upper-case letters without I, O and Q."""
    region: str
    """World region of the maker (from memory); "" where the first character names none."""
    check_applies: bool
    """Whether the check digit is a duty there: the first character is 1 to 5."""
    check_digit: str
    """The character in place 9."""
    expected: str
    """The check digit worked out: 0 to 9 or X."""
    check_ok: bool
    """Whether the two agree. Means nothing where the check digit does not apply."""
    years: tuple[int, ...]
    """The two model years, 30 apart, that place 10 may mean; () where it is no year code."""
    notes: tuple[str, ...]
    """What to look at, each one short sentence ready to be spoken; () for nothing."""


def repair(text: str) -> str:
    """The number as spelled: upper case, no spaces or dashes, I as one, O and Q as zero; to be read back."""
    return _squeeze(text).translate(_BANNED)


def read(text: str) -> Vin:
    """What the number shows. Letter case, spaces and dashes do not matter.

    Raises BadInput for a wrong length or a character that no number holds, naming its place; never for the check digit.
    """
    number = _squeeze(text)
    _check_structure(number)
    digit, expected, applies = number[_CHECK_PLACE - 1], check_digit(number), number[0] in _CHECKED_FIRST
    years = model_years(number[_YEAR_PLACE - 1])
    return Vin(number, _region(number[0]), applies, digit, expected, digit == expected, years,
               _notes(number, applies, digit == expected, years))


def check_digit(number: str) -> str:
    """The check digit of 17 well-formed characters; what stands in place 9 does not matter (its weight is 0).

    The remainder of the weighted sum by 11 is a whole number, with 10 written X: a printed decimal table of elevenths
    rounds 7/11 to .634. Raises BadInput on structure.
    """
    _check_structure(number)
    return _REMAINDERS[sum(_VALUES[c] * weight for c, weight in zip(number, _WEIGHTS)) % 11]


def model_years(letter: str) -> tuple[int, ...]:
    """Both model years of a year code, 1980 to 2009 and 2010 to 2039; () for a character that is none."""
    if len(letter) != 1 or letter not in _YEARS:
        return ()
    year = _FIRST_YEAR + _YEARS.index(letter)
    return year, year + _CYCLE


def tail(vin: Vin | str, n: int = parts.TAIL) -> str:
    """The last `n` characters, spoken again as the check. Raises BadInput for an empty number."""
    return parts.tail(vin.text if isinstance(vin, Vin) else vin, n)


def _check_structure(number: str) -> None:
    if len(number) != LENGTH:
        raise BadInput("vehicle number", f"must have {LENGTH} characters", f"{len(number)}", "Read it again")
    wrong = next((place for place, c in enumerate(number, 1) if c not in _VALUES), 0)
    if wrong:
        raise BadInput(f"vehicle number, place {wrong}", "must be a digit or a letter other than I, O and Q",
                       repr(number[wrong - 1]), "Read it again")


def _region(first: str) -> str:
    return next((name for span, name in _REGIONS if re.fullmatch(f"[{span}]", first)), "")


def _notes(number: str, applies: bool, check_ok: bool, years: tuple[int, ...]) -> tuple[str, ...]:
    notes = []
    if applies and not check_ok:
        notes.append("The check digit does not fit. Read the number again.")
    if not applies:
        notes.append("No check digit is required in this region.")
    if not years:
        notes.append("Place ten is no model year.")
    if not number[-4:].isdigit():
        # ISO 3779, from memory.
        notes.append("The last four places are usually digits.")
    return tuple(notes)


def _squeeze(text: str) -> str:
    return re.sub(r"[\s-]", "", text).upper()
