"""The ear's pattern of a `Listen`: takes all that can be said, as the recogniser writes it, and reads it back."""
from __future__ import annotations

import re

import pytest

from companion.core.commands import ALL_UNITS, RULES, all_commands
from companion.core.grammar import Choice, Free, Listen, Maybe, Number, Phrase, Rule, Sequence, Spelling, Unit
from companion.core.sentences import sentences
from companion.core.understand import understand
from companion.core.words import british
from companion.edge.ear.pattern import _AMERICAN, SAME_SOUND, pattern, plain

NUMBER = Rule("value", Sequence((Number(), Maybe(ALL_UNITS))))
SPELLED = Rule("spelled", Spelling())
PRESSURE = Rule("value", Sequence((Maybe(Phrase("log value")), Number(signed=False, decimals=1),
                                  Maybe(Unit(("bar", "kPa", "psi"))))))


def takes(rule: Rule, text: str) -> bool:
    """Whether the pattern allows the recogniser to write `text`."""
    return re.fullmatch(pattern(Listen((rule,))), " " + text) is not None


@pytest.mark.parametrize("rule", [*RULES.values(), NUMBER, SPELLED, PRESSURE], ids=lambda rule: rule.name)
def test_every_sentence_that_is_understood_can_be_recognised(rule: Rule) -> None:
    """The pattern and the parser agree: 60 example sentences of every rule pass the pattern and keep their meaning."""
    listen = Listen((rule,))
    for sentence in sentences(rule, seed=1, count=60):
        if "because" in sentence.split():
            continue
        assert takes(rule, sentence), sentence
        assert understand(listen, plain(sentence)) == understand(listen, sentence) is not None


# Writings that the model was seen to use for speech, or that people use.
WRITTEN = [
    (NUMBER, "7.5", "7.5"), (NUMBER, "1,600 bar", "1600"), (NUMBER, "1600", "1600"),
    (NUMBER, "-3 degrees Celsius", "-3"),
    (NUMBER, "Seven point five newton-meters", "7.5"), (NUMBER, "Seven decimal five", "7.5"),
    (NUMBER, "Oh point nine", "0.9"),
    (NUMBER, "One thousand, six hundred", "1600"), (NUMBER, "Sixteen hundred bar", "1600"),
    (NUMBER, "Minus three", "-3"),
    (NUMBER, "A hundred and five", "105"), (NUMBER, "Two, five, zero", "250"), (NUMBER, "Zero point five zero", "0.50"),
    (NUMBER, "80°C", "80"), (NUMBER, "20%", "20"), (NUMBER, "50 psi", "50"), (NUMBER, "25 Nm", "25"),
    (NUMBER, "Seven and a half", "7.5"), (NUMBER, "for", "4"), (NUMBER, "Two point to", "2.2"),
    (SPELLED, "P0204", "P0204"), (SPELLED, "Papa zero two zero four", "P0204"), (SPELLED, "C-l-i-e-t", "CLIET"),
    (SPELLED, "J. C. H. E. Q.", "JCHEQ"), (SPELLED, "Alpha, X-Ray, niner", "AX9"),
    (SPELLED, "1G4AH59H45G118341", "1G4AH59H45G118341"),
    (SPELLED, "double two", "22"),
]


@pytest.mark.parametrize("rule, text, meant", WRITTEN)
def test_the_recognisers_writing_is_taken_and_understood(rule: Rule, text: str, meant: str) -> None:
    """Figures, commas, hyphens, capitals, American spelling and words of one sound lead to what was meant."""
    assert takes(rule, text)
    reading = understand(Listen((rule,)), plain(text))
    assert reading is not None and meant in (reading.get("number"), reading.get("spelled"))


@pytest.mark.parametrize("rule, text", [
    (NUMBER, "Seven. five"), (NUMBER, "newton metres"), (NUMBER, ""), (SPELLED, "PZER0204"),
    (SPELLED, "papalima"),
    (PRESSURE, "minus three bar"), (PRESSURE, "7.55 bar"), (PRESSURE, "seven newton metres"), (RULES["next"], "necks"),
    (RULES["stop"], "stop job"), (NUMBER, "Oh"), (NUMBER, "O bar"),
])
def test_what_is_not_listened_for_is_not_taken(rule: Rule, text: str) -> None:
    """A full stop inside a number could be a lost decimal point; other rules' words, units and signs stay out."""
    assert not takes(rule, text)


def test_what_only_a_typed_line_can_say_is_left_out() -> None:
    """A rule of free words has no pattern; the other choices beside it stay."""
    free = Rule("reason", Sequence((Phrase("because"), Free())))
    assert pattern(Listen((free,))) is None
    assert pattern(Listen()) is None
    mixed = Rule("reason", Choice((Phrase("part missing"), free.expr)))
    assert takes(mixed, "Part missing") and not takes(mixed, "because it broke")


def test_every_command_at_once_is_one_pattern() -> None:
    """The pattern of all commands takes each command's own words."""
    whole = pattern(all_commands())
    for rule in all_commands().rules:
        for sentence in sentences(rule, count=5):
            assert re.fullmatch(whole, " " + sentence), sentence


def test_spellings_agree_with_the_parsers() -> None:
    """The parser folds back every American spelling allowed here; no word of the same sound is given twice."""
    assert [british(american) for american in _AMERICAN.values()] == list(_AMERICAN)
    others = [other for same in SAME_SOUND.values() for other in same]
    assert len(others) == len(set(others))
