"""What is said to the ears: one `Utterance` each, in sets. Here the synthetic ones; recordings come from `manifest`."""
from __future__ import annotations

import functools
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import numpy as np

from companion.core.card import Card, CodesOf, SpellingOf, Step, ValueOf
from companion.core.grammar import Listen, Phrase, Rule
from companion.core.job.listen import listen_for
from companion.core.numbers import DIGITS
from companion.core.saying import say_quantity
from companion.core.sentences import sentences
from companion.core.spelling import ICAO
from companion.edge.bench.ear.voices import CHATTER, Spoken, bench_voices
from companion.edge.cards import read_card, shipped
from companion.edge.sound import read_sound

COMMANDS = ("next", "repeat", "stop", "yes", "no", "done", "pause", "options", "memo", "emergency")
_WITH_NUMBERS = ("value", "correction", "correct_place", "timer")


@dataclass(frozen=True)
class Utterance:
    """One thing said, or a noise."""

    set: str
    text: str
    """What was said; "" for noise."""
    source: Path | Spoken
    listen: Listen | None
    """What is listened for; None: the steps of the shipped cards by turns, for what is not meant for the program."""
    meant: bool = True
    """Whether it is for the program. What is not must not be accepted."""

    @property
    def voice(self) -> str:
        """"recorded", or the engine that says it."""
        return self.source.voice.engine if isinstance(self.source, Spoken) else "recorded"

    def sound(self) -> np.ndarray:
        """Float32 at 16 kHz. Raises BadInput for a file that is none."""
        return read_sound(self.source) if isinstance(self.source, Path) else self.source.sound()


def phrases_listen(texts: tuple[str, ...]) -> Listen:
    """One rule a phrase, named by it."""
    return Listen(tuple(Rule(text, Phrase(text), shown=text) for text in dict.fromkeys(texts)))


@functools.lru_cache(maxsize=1)
def step_listens() -> tuple[Listen, ...]:
    """What is listened for at each step of the shipped cards, in an order that mixes the cards."""
    found = [listen_for(card, step.id) for card, step in _steps()]
    random.Random(1).shuffle(found)
    return tuple(found)


def synthetic(count: int) -> list[Utterance]:
    """So many utterances of every set of `SETS`; the same ones every time."""
    return [utterance for made in SETS.values() for utterance in made(count)]


def sample(found: list[Utterance], count: int) -> list[Utterance]:
    """At most so many of them, drawn always alike, in their order."""
    chosen = sorted(random.Random(1).sample(range(len(found)), min(count, len(found))))
    return [found[place] for place in chosen]


def _phrase_set(name: str, texts: tuple[str, ...], narrow: bool = False) -> Callable[[int], Iterator[Utterance]]:
    def made(count: int) -> Iterator[Utterance]:
        for number in range(count):
            yield _said(name, texts[number % len(texts)], phrases_listen(texts), number + number // len(texts), narrow)
    return made


def _said(name: str, text: str, listen: Listen | None, number: int, narrow: bool = False,
          meant: bool = True) -> Utterance:
    voices = bench_voices()
    return Utterance(name, text, Spoken(voices[number % len(voices)], text, narrow), listen, meant)


def _commands(count: int) -> Iterator[Utterance]:
    """Whatever is live at a step and holds neither number nor spelling."""
    for number in range(count):
        card, step = _steps()[number % len(_steps())]
        yield _at_step("commands at step", card, step, number, lambda name: name not in (*_WITH_NUMBERS, *_SPELLED))


def _values(count: int) -> Iterator[Utterance]:
    """A reading inside the step's limits, with as many decimals as the step has."""
    steps = [pair for pair in _steps() if isinstance(pair[1].answer, ValueOf)]
    for number in range(count):
        card, step = steps[number % len(steps)]
        low = step.answer.low if step.answer.low is not None else Decimal(0)
        high = step.answer.high if step.answer.high is not None else low + 100
        digits = f"{low + (high - low) * (number * 37 % 101) / 100:.{step.answer.decimals}f}"
        yield _said("values at step", say_quantity(digits, step.answer.unit), listen_for(card, step.id), number)


_SPELLED = ("code", "spelled")


def _spellings(count: int) -> Iterator[Utterance]:
    steps = [pair for pair in _steps() if isinstance(pair[1].answer, (CodesOf, SpellingOf))]
    for number in range(count):
        yield _at_step("spelled at step", *steps[number % len(steps)], number, lambda name: name in _SPELLED)


def _at_step(name: str, card: Card, step: Step, number: int, wanted: Callable[[str], bool]) -> Utterance:
    listen = listen_for(card, step.id)
    rules = [rule for rule in listen.rules if wanted(rule.name)]
    return _said(name, sentences(rules[number * 13 % len(rules)], seed=number, count=1)[0], listen, number)


def _chatter(count: int) -> Iterator[Utterance]:
    for number in range(count):
        yield _said("chatter", CHATTER[number % len(CHATTER)], None, number + number // len(CHATTER), meant=False)


@functools.lru_cache(maxsize=1)
def _steps() -> tuple[tuple[Card, Step], ...]:
    return tuple((card, step) for card in map(read_card, shipped()) for step in card.steps)


SETS: dict[str, Callable[[int], Iterator[Utterance]]] = {
    "alphabet": _phrase_set("alphabet", tuple(word.lower() for word in ICAO.values())),
    "ten commands": _phrase_set("ten commands", COMMANDS),
    "digits": _phrase_set("digits", tuple(DIGITS), narrow=True),
    "commands at step": _commands,
    "values at step": _values,
    "spelled at step": _spellings,
    "chatter": _chatter,
}
"""Name to what makes so many utterances. The digits are in the band of a telephone line; the chatter is not meant."""
