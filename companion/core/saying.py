"""Values in words a voice can say."""
from __future__ import annotations

import re

from companion.core.numbers import say_number
from companion.core.spelling import say_spelling
from companion.trade.units import say_unit

_CODE = re.compile(r"\b[PCBU][0-3][0-9A-F]{3}\b")
_FIGURE = re.compile(r"\b\d+(?:\.\d+)?\b")


def say_quantity(digits: str, symbol: str) -> str:
    """A number with its unit: "7.50", "N·m" is "seven point five zero newton metres"."""
    return f"{say_number(digits)} {say_unit(symbol, digits)}"


def in_words(text: str) -> str:
    """A sentence of the trade's arithmetic with its fault codes spelled and its figures in words."""
    spelled = _CODE.sub(lambda code: say_spelling(code[0]), text)
    return _FIGURE.sub(lambda figure: say_number(figure[0]), spelled)
