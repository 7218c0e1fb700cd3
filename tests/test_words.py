"""Folding: the ways of writing one thing become one, and nothing with a meaning is dropped."""
from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.core.words import british, fold, words


@pytest.mark.parametrize("line, folded", [
    ("Log value 7.5 newton-meters.", ("log", "value", "7.5", "newton", "metres")),
    ("O.K.", ("okay",)), ("OK", ("okay",)), ("ok!", ("okay",)), ("Okay.", ("okay",)),
    ("What's that?", ("whats", "that")), ("driver’s", ("drivers",)), ("x-ray", ("x", "ray")),
    ("1,600", ("1600",)), ("1,600.50", ("1600.50",)), ("7.5Nm", ("7.5", "nm")), ("P0204", ("p", "0204")),
    ("N·m", ("n", "m")), ("km/h", ("km", "h")),
    (".9", ("point", "9")), ("-3", ("minus", "3")), ("–3", ("minus", "3")), ("− 3", ("minus", "3")),
    ("-.5", ("minus", "point", "5")),
    ("80 °C", ("80", "degrees", "c")), ("50%", ("50", "percent")), ("10-12", ("10", "-", "12")),
    ("P-0204", ("p", "-", "0204")), ("value - 3", ("value", "-", "3")),
    ("1,6", ("1,6",)), ("3/4", ("3/4",)), ("7.5.2", ("7.5.2",)), ("10:30", ("10:30",)),
    ("<5", ("<", "5")), ("7²", ("7", "²")), ("½", ("½",)), ("٣", ("٣",)),
    ("tire colour color", ("tyre", "colour", "colour")),
    ("  ", ()), ("...", ()), ("", ()), ("— “” ()", ()),
])
def test_lines_are_folded(line: str, folded: tuple[str, ...]) -> None:
    """Case, punctuation, hyphens and spelling go; signs, figures and unknown marks stay."""
    assert fold(line) == folded


@pytest.mark.parametrize("line, codes", [("P0204", [True, True]), ("AXKP", [True]), ("axkp", [False]), ("Nm", [False]),
    ("A", [False]), ("7.5Nm", [True, True])])
def test_words_written_as_codes_are_marked(line: str, codes: list[bool]) -> None:
    """Capitals, or letters joined to digits, may be spelled letter by letter; a plain word never is."""
    assert [word.code for word in words(line)] == codes


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=60))
def test_every_word_keeps_its_place(line: str) -> None:
    """Whatever is typed, words come in order, do not overlap, and leave only punctuation between them."""
    place = 0
    for word in words(line):
        assert place <= word.start < word.end <= len(line)
        assert not any(c.isalnum() for c in line[place:word.start])
        place = word.end
    assert not any(c.isalnum() for c in line[place:])


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(["seven", "x-ray", "7.5", "1,600", "newton-meters", "O.K.", "P0204", "°",
    "%"]), max_size=8))
def test_folding_twice_changes_nothing(parts: list[str]) -> None:
    """A folded line is already folded."""
    folded = fold(" ".join(parts))
    assert fold(" ".join(folded)) == folded


def test_a_line_longer_than_any_answer_has_no_words() -> None:
    """150 words or 4,000 characters are the bound; beyond it nothing is read at all."""
    assert len(fold("word " * 150)) == 150
    assert fold("word " * 151) == () == fold("w" * 4_001)


@pytest.mark.parametrize("american, ours", [("kilometers", "kilometres"), ("liter", "litre"), ("tires", "tyres"),
    ("meter", "metre"), ("parameter", "parametre"), ("next", "next")])
def test_american_spelling_becomes_british(american: str, ours: str) -> None:
    """Phrases and lines are folded by the same rule, so an odd result ("parametre") still agrees with itself."""
    assert british(american) == ours
