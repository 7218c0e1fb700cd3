"""Values in words a voice can say."""
from __future__ import annotations

from companion.core.numbers import say_number
from companion.trade.units import say_unit


def say_quantity(digits: str, symbol: str) -> str:
    """A number with its unit: "7.50", "N·m" is "seven point five zero newton metres"."""
    return f"{say_number(digits)} {say_unit(symbol, digits)}"
