"""A `Listen` as a list of phrases, for a recogniser that is given a word list (Vosk).

Such a recogniser makes a bigram of its phrases: it knows which word may follow which, and joins the rest freely.
Whatever it hears must therefore still be understood as one whole (`core.understand`). A thing that can be said may have
several writings of the same sound; a model knows some of them. Plain letters are left out of spellings: B, D, E, P and T
are taken for one another, and the spelling alphabet is there for that. Left out too: `Free`, and with it every rule
that cannot be said without it.
"""
from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from companion.core.grammar import Choice, Expr, Free, Listen, Maybe, Number, Phrase, Sequence, Spelling, Unit
from companion.core.numbers import DIGITS, NUMERAL, TEENS, TENS, say_number
from companion.core.spelling import ICAO
from companion.core.words import british
from companion.edge.ear.pattern import writings
from companion.trade.units import AMBIGUOUS, UNITS

DECOYS = tuple("""
about animal anything around beautiful because before bird birthday blue boy bread breakfast children coffee computer
could dangerous doing evening everybody family food football from funny girl going good goodbye government happy he
hello him holiday home hospital interesting just kitchen machine maybe milk money morning mountain much never nobody
nothing office orange phone probably radio rain restaurant river sandwich saturday school sea she should somebody
something sugar summer those together tomorrow understand university up usually wonderful world would yellow yesterday
""".split())
"""Everyday words that no job asks for. Without something else to choose, the recogniser takes other speech for a
command (measured: models/README.md). They are unlike the standing commands by `core.sounding`; no English model was at
hand to measure them."""


@dataclass(frozen=True)
class Way:
    """One thing that can be said."""

    texts: tuple[str, ...]
    """Its writings, of one sound: ("newton metres", "newton meters"). Lower case, single spaces."""
    needed: bool = True
    """False where another word says the same, or a unit or letter that most jobs never use."""


def ways(listen: Listen) -> tuple[Way, ...]:
    """All that `listen` can hear, each thing once; none at all if it can hear nothing."""
    found = (way for rule in listen.rules for way in _ways(rule.expr) or ())
    return tuple(dict.fromkeys(found))


def counted(expr: Expr) -> bool:
    """Whether a number or a spelling is part of it: what a dropped or doubled digit can spoil."""
    if isinstance(expr, (Number, Spelling)):
        return True
    return any(counted(part) for part in _parts(expr))


def _parts(expr: Expr) -> tuple[Expr, ...]:
    if isinstance(expr, Maybe):
        return (expr.part,)
    return expr.parts if isinstance(expr, Sequence) else expr.options if isinstance(expr, Choice) else ()


def _ways(expr: Expr) -> list[Way] | None:
    """None for what cannot be heard at all."""
    if isinstance(expr, Free):
        return None
    if isinstance(expr, Phrase):
        return [Way(_written(expr.text))]
    if isinstance(expr, Unit):
        return _unit(expr)
    if isinstance(expr, Number):
        return _number(expr)
    if isinstance(expr, Spelling):
        return [*_LETTERS, *_ONES, *_FIGURES]
    inner = [_ways(part) for part in _parts(expr)]
    if isinstance(expr, Maybe):
        return inner[0] or []
    heard = [found for found in inner if found is not None]
    lost = len(heard) < len(inner) if isinstance(expr, Sequence) else not heard
    return None if lost else [way for found in heard for way in found]


def _written(text: str) -> tuple[str, ...]:
    """Every writing of some words; figures are written out."""
    spoken = " ".join(say_number(word) if NUMERAL.fullmatch(word) else word for word in text.lower().split())
    return tuple(dict.fromkeys(" ".join(way) for way in product(*(writings(word) for word in spoken.split()))))


def _unit(expr: Unit) -> list[Way]:
    """Spoken forms; American and British writings of one form are one way. Lone letters are too easily imagined."""
    forms = [form for symbol in expr.symbols for form in UNITS[symbol].heard]
    forms += [form for form, meant in AMBIGUOUS.items() if set(meant) & set(expr.symbols)]
    spoken = dict.fromkeys(" ".join(map(british, form.lower().split())) for form in forms if len(form) > 1)
    return [Way(_written(form), needed=False) for form in spoken]


# Writings of one sound, and the radio's own sounds for five and nine (ICAO Annex 10).
_SAME = {"one": ("one", "wun"), "three": ("three", "tree"), "four": ("four", "fower"), "eight": ("eight", "ait")}
_ONES = [*(Way(_SAME.get(word, (word,))) for word in DIGITS),
         *(Way(texts, needed=False) for texts in (("oh", "o"), ("nought", "naught"), ("fife",), ("niner",), ("double",),
                                                  ("triple", "treble")))]
_TEENS = [Way((word,)) for word in (*TEENS, *TENS)]
_FIGURES = [*_TEENS, Way(("hundred",)), Way(("dash",), needed=False)]
_WHOLE = [*_ONES, *_TEENS, *(Way((word,)) for word in ("a", "hundred", "thousand", "and"))]
_POINTS = [Way(("point",)), Way(("decimal",), needed=False), Way(("dot",), needed=False),
           Way(("and a half",), needed=False)]
_SIGNS = [Way(("minus",)), Way(("plus",), needed=False)]
_VARIANTS = {"alfa": ("alfa", "alpha"), "juliett": ("juliett", "juliet"), "whiskey": ("whiskey", "whisky")}
_LETTERS = [Way(_VARIANTS.get(word.lower(), writings(word.lower())), needed=False) for word in ICAO.values()]


def _number(expr: Number) -> list[Way]:
    return [*_WHOLE, *(_POINTS if expr.decimals else ()), *(_SIGNS if expr.signed else ())]
