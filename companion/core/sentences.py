"""Example sentences of a grammar, for round trips: always the same ones, spread by striding rather than by chance."""
from __future__ import annotations

from companion.core.grammar import Choice, Expr, Free, Maybe, Number, Phrase, Rule, Sequence, Spelling, Unit
from companion.core.numbers import say_digits, say_number
from companion.core.spelling import ICAO, say_spelling
from companion.trade.units import UNITS

_STRIDE = 7_919
_FREE = ("the washer was already new", "maker says otherwise", "part not fitted here")
_CHARACTERS = "".join(ICAO) + "0123456789"


def sentences(rule: Rule | Expr, seed: int = 0, count: int = 20) -> tuple[str, ...]:
    """Up to `count` different sentences that `rule` accepts, as a person may say them. `seed` begins elsewhere."""
    expr = rule.expr if isinstance(rule, Rule) else rule
    first = seed * count * 10
    found = dict.fromkeys(" ".join(_say(expr, turn).split()) for turn in range(first, first + count * 10))
    return tuple(found)[:count]


def _say(expr: Expr, turn: int) -> str:
    if isinstance(expr, Phrase):
        return expr.text
    if isinstance(expr, Sequence):
        return " ".join(_say(part, turn + place * (turn // 2)) for place, part in enumerate(expr.parts))
    if isinstance(expr, Choice):
        return _say(expr.options[turn % len(expr.options)], turn // len(expr.options))
    if isinstance(expr, Maybe):
        return _say(expr.part, turn // 2) if turn % 2 == 0 else ""
    return _say_slot(expr, turn)


def _say_slot(expr: Number | Unit | Spelling | Free, turn: int) -> str:
    if isinstance(expr, Number):
        return _say_value(expr, turn)
    if isinstance(expr, Unit):
        heard = UNITS[expr.symbols[turn % len(expr.symbols)]].heard
        return heard[turn // len(expr.symbols) % len(heard)]
    if isinstance(expr, Spelling):
        length = expr.least + turn % (expr.most - expr.least + 1)
        return _say_code("".join(_CHARACTERS[(turn * 5 + place * (place + 13)) % 36] for place in range(length)), turn)
    return _FREE[turn % len(_FREE)]


def _say_value(expr: Number, turn: int) -> str:
    """A value that fits, as a whole, digit by digit, or in figures; small ones as often as large ones."""
    top = (9, 99, 999, expr.most)[turn // 3 % 4]
    digits = str(turn * _STRIDE % (min(top, expr.most) + 1))
    places = turn // 2 % (expr.decimals + 1)
    if places:
        digits += "." + str(turn * _STRIDE % 10 ** places).zfill(places)
    if expr.signed and turn % 5 == 4 and digits.strip("0."):
        digits = "-" + digits
    return (say_number, say_digits, str)[turn % 3](digits)


def _say_code(characters: str, turn: int) -> str:
    """In ICAO words, or in plain letters where that is safe (a plain O would be heard as zero)."""
    if turn % 2 == 0 or "O" in characters:
        return say_spelling(characters)
    return " ".join(c.lower() if c.isalpha() else say_digits(c) for c in characters)
