"""Answers that are safe to hear: none sounds like another live with it, and no caution is answered by reflex."""
from __future__ import annotations

from functools import lru_cache
from typing import Iterator

from companion.core.card import answer_form
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault, Path
from companion.core.commands import REASONS, STANDING
from companion.core.sounding import sounds_alike

MOST_PHRASES = 200
"""Different answers on one card; a person has to remember them, and each is compared with all that are live with it."""

_REFLEXES = frozenset("""
    yes yeah yep affirm affirmative no negative done next ok okay right all sure ready continue go on ahead understood
    got it i see know am understand of course roger copy fine check confirmed acknowledged noted that is so
    """.split())
"""Words that alone, or only with each other, answer a caution without a thought."""
_LEAK_WORDS = frozenset(("leak", "leaks", "no leak", "no leaks", "leak free", "not leaking"))

Group = tuple[Path, str, tuple[str, ...]]


def phrase_faults(sheet: Sheet) -> Iterator[Fault]:
    """Every answer that may be taken for another, or given without a thought."""
    groups = list(_groups(sheet))
    different = {phrase for _, _, phrases in groups for phrase in phrases}
    yield from _reflexes(sheet)
    if len(different) > MOST_PHRASES:
        yield sheet.fault(f"a job card must have at most {MOST_PHRASES} different answers, not {len(different)}")
        return
    for path, what, phrases in groups:
        for text in _alike(what, phrases):
            yield sheet.fault(text, *path)


def _groups(sheet: Sheet) -> Iterator[Group]:
    """Answers that are live together: where they stand, what they are, and the phrases."""
    for name, caution in sheet.form.cautions.items():
        yield ("cautions", name, "answer"), "the answer to a caution", (caution.answer,)
    for name, clock in sheet.form.clocks.items():
        yield ("clocks", name, "reasons"), "a reason", clock.reasons or ()
    yield ("reasons",), "a reason", sheet.form.reasons
    for path, step, _, _ in sheet.steps():
        if isinstance(step.answer, answer_form.ChoiceForm):
            yield (*path, "answer"), "an answer", step.answer.choice
        if isinstance(step.answer, answer_form.ValueForm):
            yield (*path, "answer", "reasons"), "a reason", step.answer.reasons or ()
        if step.run:
            yield (*path, "run"), "an answer", (*step.run.good, *step.run.bad)


def _alike(what: str, phrases: tuple[str, ...]) -> Iterator[str]:
    usual = REASONS if what == "a reason" else ()
    for place, phrase in enumerate(phrases):
        if phrase in phrases[:place]:
            yield f'{what} must stand once, but "{phrase}" stands twice'
            continue
        for other in dict.fromkeys(phrases[:place]):
            if _taken_for(phrase, other):
                yield f'{what} must not sound like another, but "{phrase}" sounds like "{other}"'
        for other in usual + STANDING:
            if phrase not in usual and _taken_for(phrase, other):
                yield f'{what} must not sound like what can always be said, but "{phrase}" sounds like "{other}"'
        if what == "an answer" and phrase in _LEAK_WORDS:
            yield f'a leak is answered with words such as "dry" and "leaking", not "{phrase}"'


@lru_cache(maxsize=20_000)
def _taken_for(phrase: str, other: str) -> bool:
    return phrase == other or sounds_alike(phrase, other)


def _reflexes(sheet: Sheet) -> Iterator[Fault]:
    for name, caution in sheet.form.cautions.items():
        words = caution.answer.split()
        if all(word in _REFLEXES for word in words):
            text = f'a caution must be answered in its own words, not by the reflex "{caution.answer}"'
            yield sheet.fault(text, "cautions", name, "answer")
        elif len(words) < 2:
            text = 'a caution must be answered in at least two words, such as "keep hands clear", not '
            yield sheet.fault(f'{text}"{caution.answer}"', "cautions", name, "answer")
