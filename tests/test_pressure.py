"""Opening a line: the wait and the pressure must both allow it, and nothing is taken for granted."""
from __future__ import annotations

import inspect
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.pressure import Opening, may_open

WAIT = 600_000
BARS = st.decimals("-1", "2500", places=1)


def ask(waited: int = WAIT, reading: str | None = "2", limit: str | None = "5", first: str | None = None,
        readable: bool = True) -> Opening:
    return may_open(waited_ms=waited, wait_ms=WAIT, reading=None if reading is None else Decimal(reading),
                    limit=None if limit is None else Decimal(limit), first=None if first is None else Decimal(first),
                    readable=readable)


@pytest.mark.parametrize("given_, expected", [
    ({}, Opening(True)), ({"waited": WAIT - 1}, Opening(False, "wait not over")),
    ({"waited": 0, "reading": "0"}, Opening(False, "wait not over")),
    ({"reading": None}, Opening(False, "no reading")), ({"reading": "5"}, Opening(True)),
    ({"reading": "5.1"}, Opening(False, "pressure left")), ({"limit": None}, Opening(False, "pressure left")),
    ({"reading": "0", "limit": "0"}, Opening(True)), ({"first": "2"}, Opening(True)), ({"first": "4"}, Opening(True)),
    ({"first": "1.9"}, Opening(False, "pressure rose", restart=True)),
    ({"reading": "90", "first": "2"}, Opening(False, "pressure rose", restart=True)),
    ({"waited": WAIT - 1, "reading": "90", "first": "2"}, Opening(False, "wait not over")),
    ({"reading": None, "readable": False}, Opening(True)),
    ({"reading": None, "readable": False, "waited": 1}, Opening(False, "wait not over")),
    ({"reading": "90", "readable": False}, Opening(False, "pressure left")),
    ({"reading": None, "first": "2", "readable": False}, Opening(False, "no reading"))])
def test_the_line_opens_only_when_wait_and_pressure_both_allow_it(given_: dict, expected: Opening) -> None:
    """Each way to keep it closed has its own reason; a reading counts wherever one was taken, and cannot then be
    dropped."""
    assert ask(**given_) == expected


def test_there_is_no_default_wait_or_limit() -> None:
    """Trap: practice spans 30 s to 10 min (common practice, no source), so wait, reading and limit must be given."""
    parameters = inspect.signature(may_open).parameters
    for name in ("waited_ms", "wait_ms", "reading", "limit"):
        assert parameters[name].default is inspect.Parameter.empty
    for wait in (0, -1):
        with pytest.raises(BadInput, match="wait before opening: the card must state one above 0 ms"):
            may_open(waited_ms=WAIT, wait_ms=wait, reading=Decimal(0), limit=Decimal(5))


def test_trapped_fuel_that_warms_restarts_the_wait() -> None:
    """Trap: fuel can press again as it warms (common practice, no source): a rise restarts the wait though it is still
    far below the limit."""
    assert ask(reading="0.2", first="0.1", limit="5") == Opening(False, "pressure rose", restart=True)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.integers(0, 2 * WAIT), st.integers(0, WAIT), BARS, BARS, BARS, st.decimals("0", "100", places=1))
def test_waiting_longer_or_less_pressure_never_closes_an_open_line(waited, more, reading, limit, first, less) -> None:
    """Monotonic in wait and pressure; and whenever it opens, wait, limit and no rise all held."""
    found = may_open(waited_ms=waited, wait_ms=WAIT, reading=reading, limit=limit, first=first)
    assert found.ok == (waited >= WAIT and reading <= limit and reading <= first) == (found.why == "")
    assert not (found.ok and found.restart)
    assert not found.ok or may_open(waited_ms=waited + more, wait_ms=WAIT, reading=reading - less, limit=limit,
                                    first=first).ok


@pytest.mark.parametrize("given_, words", [
    ({"waited": -1}, "time waited: must be 0 ms or more, not -1"), ({"reading": "NaN"}, "pressure: must be a number"),
    ({"limit": "Infinity"}, "pressure limit: must be a number"),
    ({"first": "NaN"}, "first pressure: must be a number")])
def test_what_cannot_be_is_refused_by_name(given_: dict, words: str) -> None:
    """No endless limit opens a line, and no broken number is compared."""
    with pytest.raises(BadInput, match=words):
        ask(**given_)
