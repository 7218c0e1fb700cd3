"""Measured values typed as text ("135 lbf·in"), as they stand on a command line or in a tool record.

A spelling is taken where it cannot be mistaken ("N.m", "ft-lb", "degC"); another is refused with what it may mean.
"""
from __future__ import annotations

import re
from decimal import Decimal

from companion.errors import BadInput
from companion.trade.units import AMBIGUOUS, UNITS, Unit, check_number, forms, key, same_quantity, unit

# A prefix in the wrong case names another size of unit, a thousand or a thousand million times off.
_OTHER_SIZE = frozenset(("mPa", "Mg", "MV", "MA", "Mm", "Ml", "Ms", "Mbar"))
_QUANTITY = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*([^\d\s.,].*|[0-9]+/min)", re.ASCII)


def parse_unit(text: str, like: str = "") -> str:
    """The symbol of the unit that `text` spells; with `like`, one of the same quantity as that unit ("lb" like "kg").

    Spaces, points, hyphens and letter case do not matter, a stroke does. Raises BadInput for an unknown spelling, one
    of another quantity, or one with several meanings ("pounds"), and names the meanings.
    """
    written = text.strip()
    wanted = same_quantity(like) if like else tuple(UNITS)
    found = forms(wanted).get(key(written), "") if written not in _OTHER_SIZE else ""
    if found.startswith("?"):
        meant = [symbol for symbol in AMBIGUOUS[found[1:]] if symbol in wanted]
        raise BadInput("unit", "must have one meaning", repr(written), "It may mean " + " or ".join(meant))
    if not found or not _strokes_agree(written, unit(found)):
        of = f"a unit of {unit(like).quantity}" if like else "a unit"
        raise BadInput("unit", f"must be {of}", repr(written), "The units are " + ", ".join(wanted))
    return found


def parse_quantity(text: str, like: str = "") -> tuple[Decimal, str]:
    """The number, with its trailing zeros, and the unit's symbol, as in "135 lbf·in" or "-40degC".

    Raises BadInput where there is no plain number with a decimal point before the unit, and as `parse_unit` does.
    """
    match = _QUANTITY.fullmatch(text.strip().replace("−", "-"))
    if match is None:
        raise BadInput("value", 'must be a number and a unit, such as "27.5 N·m", with no comma', repr(text[:60]))
    value = Decimal(match[1])
    check_number(value)
    return value, parse_unit(match[2], like)


def _strokes_agree(written: str, found: Unit) -> bool:
    """A newton per metre is no newton metre, and a metre per inch no minute."""
    alike = (form for form in (found.symbol, *found.heard, *found.typed) if key(form) == key(written))
    return any(form.count("/") == written.count("/") for form in alike)
