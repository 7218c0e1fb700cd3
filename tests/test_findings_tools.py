"""Measuring tools as a supervisor sees them: what was really read on them, against the job's own list."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.office.findings.tools import tool_cannot_measure, tool_out_of_calibration
from golden import injector_at
from simulator import TOOLS, Simulator

DAY = "2023-11-14"
"""On which the simulator's jobs are opened."""


def clamped(value: str = "8.0", tool: str = "short wrench", tools: str = TOOLS, **more):
    """The clamp torque, read on a wrench of the list; the log says so, whatever was chosen."""
    job = made(injector_at("clamp-torque").say("8.0"))
    changed = job.but(ev.ValueLogged, value=value, said=value, tool=tool, **more)
    return changed.but(ev.JobOpened, tools_text=tools)


def listed(**changes: str) -> str:
    """The list with other words in it."""
    text = TOOLS
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    return text


CANNOT = [
    ("in its range", lambda: clamped(), []),
    ("at its lowest mark", lambda: clamped("5"), []),
    ("below it", lambda: clamped("4.9"), ["ValueLogged clamp-torque"]),
    ("at its top", lambda: clamped("30"), []),
    ("above it", lambda: clamped("30.1"), ["ValueLogged clamp-torque"]),
    ("a longer one", lambda: clamped(tool="middle wrench"), ["ValueLogged clamp-torque"]),
    ("what was read in another unit, inside", lambda: clamped("71", said_unit="lbf·in"), []),
    ("what was read in another unit, outside", lambda: clamped("40", said_unit="lbf·in"), ["ValueLogged clamp-torque"]),
    ("of another kind", lambda: clamped(tool="hand meter"), ["ValueLogged clamp-torque"]),
    ("not on the list", lambda: clamped(tool="my own"), ["ValueLogged clamp-torque"]),
    ("no tool", lambda: clamped(tool=""), []),
    ("no list", lambda: clamped("4.9", tools=""), []),
    ("a list that cannot be read", lambda: clamped("4.9", tools="tool_list: 1"), []),
    ("no number", lambda: clamped("eight"), []),
    # through the adaptor it is the wrench's own reading that must lie in its range
    ("through an adaptor", lambda: injector_at("injector-union").say("21.4"), []),
    ("another wrench was asked about, and not taken", lambda: injector_at("clamp-wrench").say("middle wrench",
                                                                                              "short wrench"), []),
]


@pytest.mark.parametrize("what, job, lines", CANNOT, ids=[case[0] for case in CANNOT])
def test_a_tool_can_measure_what_was_read_on_it(what, job, lines) -> None:
    """By the list in the log's first line, whatever was judged when it was chosen."""
    assert shown([tool_cannot_measure], job()) == [f"tool-cannot-measure: {line}" for line in lines]


ONE, TWO = ["ValueLogged clamp-torque"], ["ValueLogged injector-union, ValueLogged rail-union-tight"]


def unions(uses: str = "uses: 310") -> Simulator:
    """Both unions, read on the middle wrench."""
    return made(injector_at("turn-by-hand")).but(ev.JobOpened, tools_text=listed(uses=("uses: 310", uses)))


CALIBRATION = [
    ("in calibration", lambda: clamped(), []),
    ("out of date", lambda: clamped(tool="old wrench"), ONE),
    ("never calibrated", lambda: clamped(tools=listed(day=(", calibrated: 120 days ago", ""))), ONE),
    ("on its last day", lambda: clamped(tools=listed(day=("120 days ago", "2022-11-14"))), []),
    ("on the day after", lambda: clamped(tools=listed(day=("120 days ago", "2022-11-13"))), ONE),
    ("dated ahead", lambda: clamped(tools=listed(day=("120 days ago", "2023-11-15"))), ONE),
    ("the job went on into the next day", lambda: clamped(tools=listed(day=("120 days ago", "2022-11-14"))).set_clock(
        ev.ValueLogged, 86_400), ONE),
    ("used up before", lambda: unions("uses: 5000"), TWO),
    ("used up by the first of them", lambda: unions("uses: 4999"), TWO[0].split(", ")[1:]),
    ("its last two uses", lambda: unions("uses: 4998"), []),
    ("not on the list", lambda: clamped(tool="my own"), []),
    ("no list", lambda: clamped(tool="old wrench", tools=""), []),
]


@pytest.mark.parametrize("what, job, lines", CALIBRATION, ids=[case[0] for case in CALIBRATION])
def test_a_calibration_holds_on_the_day_of_the_reading(what, job, lines) -> None:
    """The uses in this job are counted, too."""
    assert shown([tool_out_of_calibration], job()) == [f"tool-out-of-calibration: {line}" for line in lines]


SAID = [
    (tool_cannot_measure, lambda: clamped("4.9"),
     "Clamp torque, 4.9 newton metres, was read on the short wrench, but its range begins at 5 newton metres."),
    (tool_cannot_measure, lambda: clamped(tool="hand meter"),
     "Clamp torque, 8.0 newton metres, was read on the hand meter, but it measures something else."),
    (tool_cannot_measure, lambda: clamped(tool="my own"),
     "Clamp torque, 8.0 newton metres, was read on the my own, which is not on the job's list of tools."),
    (tool_out_of_calibration, lambda: unions("uses: 5000"),
     "The calibration of the middle wrench did not hold (used up): 2 values read on it."),
    (tool_out_of_calibration, lambda: clamped(tool="old wrench"),
     "The calibration of the old wrench did not hold (out of date, and ended on 2023-07-02): 1 value read on it."),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:60] for case in SAID])
def test_the_sentences_give_the_figures(rule, job, said) -> None:
    """What was read on what, and why that will not do."""
    assert [one.said for one in rule(job().account())] == [said]
