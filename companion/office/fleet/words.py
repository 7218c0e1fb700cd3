"""How a mechanic says things: the same answer in one of several ways."""
from __future__ import annotations

from decimal import Decimal
from random import Random

from companion.core.card import Card
from companion.core.job.evidence import cylinder_words
from companion.core.numbers import say_number
from companion.core.spelling import say_spelling
from companion.trade.cylinders import positions
from companion.trade.units import UNITS

REASONS = ("already done", "part missing", "reading checked twice", "customer decided", "other reason")
"""Reasons that every card takes."""


def next_words(random: Random) -> str:
    """The step is done."""
    return "next" if random.random() < 0.7 else "done"


def yes_or_no(outcome: str, random: Random) -> str:
    """"affirm" or "negative", or in plain English."""
    plain = {"affirm": "yes", "negative": "no"}[outcome]
    return outcome if random.random() < 0.75 else plain


def value_words(digits: str, unit: str, random: Random) -> str:
    """A reading: mostly with its unit, sometimes as a bare number, sometimes with "log value" before it."""
    said, way = say_number(digits), random.random()
    if way < 0.25:
        return said
    return f"{'log value ' if way > 0.85 else ''}{said} {UNITS[unit].many}"


def spelled_words(text: str) -> str:
    """Letters and digits, in the ICAO alphabet."""
    return say_spelling(text).lower()


def cylinder_said(number: int, card: Card, random: Random) -> str:
    """A cylinder, by its number or by its place."""
    around = card.cylinders
    if around is None or random.random() < 0.6:
        return cylinder_words(number)
    return positions(around.count, around.counted_from)[number - 1]


def as_digits(value: float | Decimal, decimals: int) -> str:
    """A figure with so many digits after the point."""
    return f"{value:.{decimals}f}"
