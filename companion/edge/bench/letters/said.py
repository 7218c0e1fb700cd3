"""What is said in training: all that the shipped cards listen for, numbers, codes, and words that no card knows."""
from __future__ import annotations

import random
from collections.abc import Callable

from companion.core.job.listen import listen_for
from companion.core.numbers import DIGITS, say_digits, say_number
from companion.core.sentences import sentences
from companion.core.spelling import ICAO, say_spelling
from companion.edge.cards import read_card, shipped
from companion.trade.units import UNITS

_UNITS = [form for unit in UNITS.values() for form in unit.heard if len(form) > 1]
_SHORT = """yes no next repeat stop go done affirm negative up down left right on off start help pause options memo
    emergency dry leaking point decimal correction confirm cancel back forward ready open closed hold fife niner""".split()
_CHARACTERS = "".join(ICAO) + 2 * "0123456789"


def texts(words: list[str], count: int) -> list[str]:
    """So many sentences, always the same ones for the same `words`."""
    chance = random.Random(5)
    live = _live()
    brief = [text for text in live if len(text.split()) <= 2 and not any(c.isdigit() for c in text)]
    single = [*DIGITS, *(word.lower() for word in ICAO.values()), *_SHORT]
    kinds: list[tuple[int, Callable[[], str]]] = [
        (8, lambda: chance.choice(live)),
        (14, lambda: chance.choice(brief)),
        (17, lambda: chance.choice(single)),
        (17, lambda: chance.choice(words)),
        (14, lambda: " ".join(chance.choices(words, k=chance.randint(2, 5)))),
        (14, lambda: _value(chance)),
        (9, lambda: say_spelling("".join(chance.choices(_CHARACTERS, k=chance.randint(2, 7))))),
        (5, lambda: " ".join(chance.choices(list(DIGITS), k=chance.randint(2, 6)))),
        (2, lambda: " ".join(chance.choices("abcdefghijklmnopqrstuvwxyz", k=chance.randint(1, 5)))),
    ]
    made = chance.choices([make for _, make in kinds], [weight for weight, _ in kinds], k=count)
    return [make() for make in made]


def _live() -> list[str]:
    """What may be said at each step of the shipped cards."""
    steps = [(card, step) for card in map(read_card, shipped()) for step in card.steps]
    rules = [rule for card, step in steps for rule in listen_for(card, step.id).rules]
    return list(dict.fromkeys(text for number, rule in enumerate(rules)
                              for text in sentences(rule, seed=1000 + number % 20, count=6)))


def _value(chance: random.Random) -> str:
    digits = f"{chance.uniform(0, chance.choice((9, 50, 99, 200, 999, 2500))):.{chance.choice((0, 0, 1, 1, 2))}f}"
    said = chance.choice((say_number, say_number, say_digits))(digits)
    return f"{said} {chance.choice(_UNITS)}" if chance.random() < 0.7 else said
