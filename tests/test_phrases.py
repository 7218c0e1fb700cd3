"""What can be said, as a list of phrases for a recogniser that is given words."""
from __future__ import annotations

import pytest

from companion.core.commands import RULES, all_commands
from companion.core.grammar import Choice, Free, Listen, Maybe, Number, Phrase, Rule, Sequence, Spelling, Unit
from companion.core.numbers import DIGITS
from companion.core.sentences import sentences
from companion.core.sounding import ALIKE_AT, alike
from companion.core.spelling import ICAO
from companion.core.words import fold
from companion.edge.ear.further import Further
from companion.edge.ear.phrases import DECOYS, counted, ways

VALUE = Rule("value", Sequence((Phrase("log value"), Number(), Maybe(Unit(("N·m", "lbf·ft", "bar"))))))
SPELLED = Rule("code", Spelling(1, 17))


def listed(expr) -> list[tuple[str, ...]]:
    return [way.texts for way in ways(Listen((Rule("x", expr),)))]


@pytest.mark.parametrize("expr, texts", [
    (Phrase("dry"), [("dry",)]),
    (Phrase("tyre centre"), [("tyre centre", "tyre center", "tire centre", "tire center")]),
    (Phrase("leak-off"), [("leak-off", "leak off", "leakoff")]),
    (Phrase("cylinder 2"), [("cylinder two",)]),
    (Choice((Phrase("dry"), Phrase("leaking"))), [("dry",), ("leaking",)]),
    (Sequence((Maybe(Phrase("log")), Phrase("dry"))), [("log",), ("dry",)]),
    (Sequence((Phrase("because"), Free())), []),
    (Sequence((Phrase("dry"), Maybe(Free()))), [("dry",)]),
    (Choice((Phrase("dry"), Free())), [("dry",)]),
    (Unit(("bar",)), [("bar",), ("bars",)]),
])
def test_a_thing_said_is_listed_in_every_writing(expr, texts) -> None:
    """British and American, with and without a hyphen, figures in words; what only typing can fill is left out."""
    assert listed(expr) == texts


@pytest.mark.parametrize("rule", [*RULES.values(), VALUE, SPELLED], ids=lambda rule: rule.name)
def test_every_word_of_every_sentence_is_listed(rule) -> None:
    """Whatever a rule can hear, its words are given to the recogniser (figures and plain letters are only typed)."""
    known = {word for way in ways(Listen((rule,))) for text in way.texts for word in fold(text)}
    for sentence in sentences(rule, count=60):
        said = fold(sentence)
        if not any(word[:1].isdecimal() or len(word) == 1 and word != "a" for word in said if word not in known):
            assert known.issuperset(said), sentence


def test_only_synonyms_units_and_letters_may_be_lacking() -> None:
    """Every standing command and plain number word is needed; "niner", "alfa" and "newton metres" are not."""
    needed = {text for way in ways(all_commands()) if way.needed for text in way.texts}
    assert {"next", "stop job", "seven", "hundred", "point", "minus"} <= needed
    assert needed.isdisjoint({"niner", "alfa", "newton metres", "oh"})


def test_what_a_lost_digit_can_spoil_is_known() -> None:
    """A number or a spelling anywhere inside, and nothing else."""
    assert counted(VALUE.expr) and counted(SPELLED.expr) and counted(RULES["timer"].expr)
    assert not counted(RULES["next"].expr) and not counted(Free())


def test_decoys_are_unlike_what_a_job_listens_for() -> None:
    """No decoy is, or sounds like, a command of one word, a digit or a letter of the spelling alphabet."""
    commands = {way.texts[0] for way in ways(all_commands()) if way.needed and " " not in way.texts[0]}
    for word in (commands | set(DIGITS) | {name.lower() for name in ICAO.values()}):
        near = [decoy for decoy in DECOYS if decoy == word or alike(decoy, word) >= ALIKE_AT]
        assert not near, word


@pytest.mark.parametrize("text, more", [
    ("stop", True), ("stop job", False), ("next", False), ("emergency", True), ("emergency over", False),
    ("log value seven", True), ("log value seven newton metres", False), ("what can i say", False),
    ("nothing of the kind", True)])
def test_whether_more_may_follow(text, more) -> None:
    """So that an utterance ends early only where nothing longer is live; what is not understood waits."""
    assert Further(all_commands()).after(text) is more
