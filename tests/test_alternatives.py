"""What a list of alternatives comes to: pure, without a recogniser."""
from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as st

from companion.core.commands import RULES
from companion.core.grammar import Listen, Maybe, Number, Rule, Sequence, Spelling, Unit
from companion.edge.ear.alternatives import judge
from companion.edge.ear.base import NOTHING

COMMANDS = Listen((RULES["next"], RULES["repeat"], RULES["stop"]))
CODE = Listen((Rule("code", Spelling(5, 5), True), RULES["repeat"]))
VALUE = Listen((Rule("value", Sequence((Number(), Maybe(Unit(("N·m",))))), True),))


def outside(text: str) -> bool:
    return not {"[unk]", "kitchen"}.isdisjoint(text.split())


@pytest.mark.parametrize("heard, text, score, accepted, sure", [
    ([("next", 100.0)], "next", 0.881, True, True),
    ([("next", 100.0), ("repeat", 99.0)], "next", 0.665, True, False),
    ([("next", 100.0), ("repeat", 99.9)], "next", 0.49, False, False),
    ([("next", 100.0), ("[unk]", 99.0)], "next", 0.665, True, False),
    ([("[unk]", 100.0), ("next", 99.0)], "next", 0.245, False, False),
    ([("next kitchen", 100.0), ("next", 99.5)], "next", 0.348, False, False),
    ([("next stop", 100.0), ("stop", 99.8)], "stop", 0.419, False, False),
    ([("say again", 100.0), ("repeat", 99.5)], "say again", 0.922, True, True),
])
def test_a_command_is_weighed_against_all_else_that_was_heard(heard, text, score, accepted, sure) -> None:
    """Alone it is sure; another reading, an outside word and live words without a meaning take their share; two phrases
    of one rule do not."""
    guess = judge(heard, COMMANDS, outside)
    assert (guess.text, guess.score, guess.accepted, guess.sure) == (text, score, accepted, sure)


@pytest.mark.parametrize("listen, heard, slot, digits", [
    (CODE, [("papa zero two zero four four", 50.0), ("papa zero two zero four", 49.1)], "spelled", "P0204"),
    (CODE, [("papa zero two four", 50.0), ("papa zero two zero four", 48.8)], "spelled", "P0204"),
    (VALUE, [("zero seven point five newton metres", 50.0), ("seven point five newton metres", 49.5)], "number", "7.5"),
])
def test_a_dropped_or_doubled_digit_is_repaired_and_read_back(listen, heard, slot, digits) -> None:
    """The likeliest text is no code of the right length, or no number: the next is taken, but is never sure."""
    guess = judge(heard, listen, outside)
    assert guess.reading is not None and guess.reading.get(slot) == digits
    assert guess.accepted and not guess.sure


@pytest.mark.parametrize("heard", [
    [], [("", 90.0)], [("[unk]", 90.0)], [("stop next", 90.0)], [("kitchen stop", 90.0)]])
def test_what_is_no_whole_reading_is_nothing(heard) -> None:
    """Silence, an unknown word, live words that make no reading, and a command with an outside word."""
    assert judge(heard, COMMANDS, outside) == NOTHING


@settings(max_examples=60)
@given(st.lists(st.tuples(st.sampled_from(("next", "done", "repeat", "stop", "next stop", "kitchen", "[unk] stop", "")),
                          st.floats(-500, 500, allow_nan=False)), max_size=8), st.floats(-500, 500))
def test_a_score_is_a_share_whatever_the_weights(heard, shift) -> None:
    """It lies between 0 and 1, a constant added to all weights changes nothing, and nothing sure is not accepted."""
    guess = judge(heard, COMMANDS, outside)
    assert 0 <= guess.score < 1 and (guess.accepted or not guess.sure)
    shifted = judge([(text, weight + shift) for text, weight in heard], COMMANDS, outside)
    assert math.isclose(shifted.score, guess.score, abs_tol=0.0011)
