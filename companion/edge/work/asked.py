"""What is typed after `companion work`: commands with their examples, and arguments read as numbers and quantities.

Arguments stay text until the command runs: then a wrong one is a BadInput like any other, in one line.
"""
from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NoReturn, Optional

from companion.edge.work.answer import Answer
from companion.errors import BadInput
from companion.terminal import clean
from companion.trade.reading import parse_quantity
from companion.trade.units import check_number, convert

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,9}", re.ASCII)


@dataclass(frozen=True)
class Command:
    """One thing that can be worked out."""

    name: str
    """The word after `companion work`."""
    help: str
    """One line, no full stop."""
    examples: tuple[str, ...]
    """Whole command lines; a test runs each."""
    arguments: Callable[[argparse.ArgumentParser], None]
    """Adds the command's own arguments, all of them text."""
    work: Callable[[argparse.Namespace], Answer]
    """Finds the answer. Raises BadInput for wrong use."""


class Parser(argparse.ArgumentParser):
    """Tells wrong use in one line, and takes "-40degC" for a value, not for an option."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._negative_number_matcher = re.compile(r"-\.?[0-9]")  # argparse's own knows bare numbers only

    def error(self, message: str) -> NoReturn:
        """See `ArgumentParser`: without the usage, which --help shows."""
        self.exit(2, f"companion: {clean(message)}. See {self.prog} --help\n")

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """See `ArgumentParser`: here nothing may be left over."""
        found, rest = super().parse_known_args(args, namespace)
        if rest:
            self.error("not understood: " + " ".join(rest))
        return found, rest


def number(text: str, where: str) -> Decimal:
    """A plain number. Raises BadInput for anything else."""
    text = text.strip().replace("−", "-")
    if len(text) > 60 or not _NUMBER.fullmatch(text):
        raise BadInput(where, 'must be a plain number such as "12.5"', repr(text[:40]))
    value = Decimal(text)
    check_number(value, where)
    return value


def maybe(text: Optional[str], where: str) -> Optional[Decimal]:
    """A plain number, or None where the option was not given."""
    return None if text is None else number(text, where)


def whole(text: str, where: str, least: int, most: int) -> int:
    """A whole number in a range. Raises BadInput for anything else."""
    text = text.strip()
    if not _WHOLE.fullmatch(text) or not least <= int(text) <= most:
        raise BadInput(where, f"must be a whole number, {least} to {most}", repr(text[:40]))
    return int(text)


def quantity(text: str, where: str, like: str = "") -> tuple[Decimal, str]:
    """A number with its unit, of the quantity of `like`. Raises BadInput, naming the argument."""
    try:
        return parse_quantity(text, like)
    except BadInput as error:
        raise BadInput(f"{where}: {error.where}", error.must, error.found, error.do) from None


def quantity_in(text: str, where: str, unit: str) -> Decimal:
    """A number with its unit, converted to `unit`."""
    value, own = quantity(text, where, unit)
    return convert(value, own, unit)


def number_in(text: str, where: str, unit: str) -> Decimal:
    """A bare number, which is in `unit` already, or a number with its unit, converted to `unit`."""
    return number(text, where) if _NUMBER.fullmatch(text.strip()) else quantity_in(text, where, unit)


def joined(parts: Sequence[str]) -> str:
    """"4", "2 and 4", "1, 2 and 4"."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))
