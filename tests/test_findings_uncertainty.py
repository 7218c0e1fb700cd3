"""How far values can be trusted, as a supervisor sees it: worked out again from the tool list, whatever was logged."""
from __future__ import annotations

from decimal import Decimal

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.office.findings.uncertainty import uncertainty_differs
from companion.office.findings.values import value_beyond_limits
from golden import injector_at
from simulator import TOOLS, at

# The short wrench: U = 3 % of the reading, by the shipped list; 0.252 of 8.4 N·m.
CLAMP = "ValueLogged clamp-torque"


def clamped(read: str = "8.0", **changes):
    """The clamp torque on the short wrench, and the log changed."""
    return made(injector_at("clamp-torque").say(read)).but(ev.ValueLogged, **changes)


DIFFERS = [
    ("as it was worked out", lambda: clamped(), []),
    ("another figure", lambda: clamped(uncertainty=Decimal("0.1")), [CLAMP]),
    ("no figure", lambda: clamped(uncertainty=None), [CLAMP]),
    ("another reading", lambda: clamped(value="7.9", said="7.9"), [CLAMP]),
    ("another tool named", lambda: clamped(tool="long wrench"), [CLAMP]),
    ("a better tool on the list", lambda: made(injector_at("clamp-torque").say("8.0")).but(
        ev.JobOpened, tools_text=TOOLS.replace("uncertainty_percent: 3", "uncertainty_percent: 1")), [CLAMP]),
    ("a tool on no list: that is another finding", lambda: clamped(tool="my own"), []),
    ("no list", lambda: clamped(uncertainty=Decimal("0.1")).but(ev.JobOpened, tools_text=""), []),
    ("a name that the card does not have", lambda: clamped(name="other", uncertainty=Decimal("0.1")), []),
    ("through an adaptor", lambda: injector_at("injector-union").say("21.4"), []),
    ("through an adaptor, forgotten", lambda: made(injector_at("injector-union").say("21.4")).but(
        ev.ValueLogged, uncertainty=Decimal("0.642")), ["ValueLogged injector-union"]),
    ("no tool asked for", lambda: at("torque").say("7.5"), []),
    ("no tool asked for, and yet one", lambda: made(at("torque").say("7.5")).but(ev.ValueLogged, uncertainty=Decimal(1)),
     ["ValueLogged torque"]),
    ("no number", lambda: clamped(said="eight"), []),
    ("another quantity", lambda: clamped(said_unit="bar"), []),
]


@pytest.mark.parametrize("what, job, lines", DIFFERS, ids=[case[0] for case in DIFFERS])
def test_an_uncertainty_is_that_of_the_tool(what, job, lines) -> None:
    """By the list in the first line and by the card; nothing is said where neither tells."""
    assert shown([uncertainty_differs], job()) == [f"uncertainty-differs: {line}" for line in lines]


def test_the_verdict_hangs_on_the_one_worked_out() -> None:
    """A small uncertainty written into the log does not move a value away from its limit."""
    job = clamped("8.0", value="8.4", said="8.4", verdict="inside", uncertainty=Decimal("0.001"))
    assert shown([value_beyond_limits], job) == [f"value-too-close: {CLAMP}"]


def test_the_sentence_gives_both_figures() -> None:
    """What was logged, and what it is."""
    assert [one.said for one in uncertainty_differs(clamped(uncertainty=Decimal("0.1")).account())] == [
        "Clamp torque was logged with an uncertainty of 0.1, but read on the short wrench it has one of 0.24."]
