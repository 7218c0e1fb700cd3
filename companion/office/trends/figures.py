"""How the trends' figures are shown, in tables and pictures alike."""
from __future__ import annotations

from typing import Optional

from companion.office.record import cells
from companion.office.trends.rates import Rate


def number(value: float) -> str:
    """Two decimals, fewer for large ones; never "-0.00"."""
    decimals = 2 if abs(value) < 100 else 1 if abs(value) < 1000 else 0
    text = f"{value:.{decimals}f}"
    return text if float(text) else text.lstrip("-")


def signed(value: float) -> str:
    text = number(value)
    return text if text.startswith("-") or not float(text) else f"+{text}"


def percent(ratio: Optional[float]) -> str:
    """ "112 %"; "" for nothing."""
    return "" if ratio is None else f"{100 * ratio:.0f} %"


def span(ms: Optional[float]) -> str:
    """To whole seconds; "" for nothing."""
    return "" if ms is None else cells.span(round(ms))


def interval(rate: Rate) -> str:
    """The 95 % interval, per hundred."""
    low, high = rate.interval
    return f"{low:.1f} to {high:.1f}"


def share(rate: Rate) -> str:
    """ "12.5 in a hundred (8.1 to 18.9), 20 of 160"."""
    return f"{rate.hundred:.1f} in a hundred ({interval(rate)}), {rate.hits} of {rate.jobs}"
