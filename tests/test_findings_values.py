"""Measured values as a supervisor sees them: judged again, whatever verdict was logged."""
from __future__ import annotations

from decimal import Decimal

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.edge.ear import alternatives, floors
from companion.office.findings.values import LEAST_SURE, value_beyond_limits, value_changed, value_doubtful
from golden import card, injector_at, lines_of, play
from simulator import EVERY_KIND, Simulator, at

OUT, CLOSE = "value-outside: ValueLogged ", "value-too-close: ValueLogged "
KEPT = ("the maker allows it", "affirm")
PERSONAL = EVERY_KIND.replace('say: "Tighten the bolt. Say the torque."', 'personal: true, say: "Say it."')
ROAD_WHEELS = card("road-wheels")


def kept(*lines: str) -> Simulator:
    """At the torque of 7 to 8 N·m."""
    return at("torque").say(*lines)


def lied(value: str, verdict: str, **more) -> object:
    """Logged as 7.5, and changed in the log to something else under this verdict."""
    return made(kept("7.5")).but(ev.ValueLogged, value=value, said=value, verdict=verdict, **more)


def pressures(*lines: str | int) -> Simulator:
    """At the second reading of the rail pressure, which must not rise."""
    job = injector_at("rail-pressure-held")
    for line in lines:
        job.wait(line) if isinstance(line, int) else job.say(line)
    return job


def wheels(first: str, second: str) -> Simulator:
    """Two wheels; the torque of the first nut of each, first pass, that of the first wheel kept."""
    lines = lines_of("road-wheels")
    job = play(Simulator(ROAD_WHEELS), lines, until="half-torque.1").say(first, *KEPT, *["63"] * 4)
    job.say("nobody underneath", "next", *["126"] * 5, "affirm", "front right", "nobody underneath", "next", "clean",
            "sound", "knees bent", "next", "five", second)
    assert job.job.at == "half-torque.2", job.spoken[-3:]
    return job


BEYOND = [
    ("inside", lambda: kept("7.5"), []),
    ("at the limit", lambda: kept("8.0"), []),
    ("outside, kept", lambda: kept("8.1", *KEPT), [f"{OUT}torque"]),
    ("outside, then read again before it was kept", lambda: kept("8.1", "7.9"), []),
    ("outside, then corrected", lambda: kept("8.1", *KEPT, "correction 7.5"), []),
    ("outside, then gone back to", lambda: kept("8.1", *KEPT, "previous step", "7.6"), []),
    ("inside, then changed to outside", lambda: kept("7.5", "correction 8.1", *KEPT), [f"{OUT}torque"]),
    ("called inside, and is not", lambda: lied("9.1", "inside"), [f"{OUT}torque"]),
    ("called outside, and is not", lambda: lied("7.5", "outside"), []),
    ("called too close, and is outside", lambda: lied("9.1", "too close"), [f"{OUT}torque"]),
    ("only the figure changed, not what was said", lambda: made(kept("7.5")).but(ev.ValueLogged, value="9.1"),
     [f"{OUT}torque"]),
    ("only what was said changed", lambda: made(kept("7.5")).but(ev.ValueLogged, said="9.1"), [f"{OUT}torque"]),
    ("limits widened in the log", lambda: lied("9.1", "inside", high=Decimal(10)), [f"{OUT}torque"]),
    ("a name that the card does not have, by its own limits",
     lambda: lied("9.1", "inside", name="other", high=Decimal(10)), []),
    ("the same, outside them", lambda: lied("9.1", "inside", name="other"), [f"{OUT}torque"]),
    ("no limits", lambda: lied("9.1", "none", name="other", low=None, high=None), []),
    ("in another unit, inside", lambda: kept("66 pound inches"), []),
    ("in another unit, outside", lambda: kept("77 pound inches", *KEPT), [f"{OUT}torque"]),
    # 71.2 lbf·in is 8.044 N·m: logged as 8.0, and all the same outside 8
    ("in another unit, rounded to the limit", lambda: kept("71.2 pound inches", *KEPT), [f"{OUT}torque"]),
    ("must be right, and is read until it is", lambda: at("rail-pressure").say("40 bar").wait(240).say("zero bar"), []),
    ("must be right, and the log ends before it is", lambda: at("rail-pressure").say("40 bar").wait(240),
     [f"{OUT}rail-pressure"]),
    ("each wheel by itself", lambda: wheels("75", "63"), [f"{OUT}half-torque.1"]),
    ("a finding of the proof", lambda: injector_at("coil").say("2.5 ohms", "affirm"), [f"{OUT}coil"]),
    ("inside by less than its tool can tell", lambda: injector_at("clamp-torque").say("8.4", *KEPT),
     [f"{CLOSE}clamp-torque"]),
    ("outside by less than that", lambda: injector_at("clamp-torque").say("8.6", *KEPT), [f"{CLOSE}clamp-torque"]),
    ("inside by enough", lambda: injector_at("clamp-torque").say("8.3"), []),
    ("too close, then a better reading", lambda: injector_at("clamp-torque").say("8.4", "8.0"), []),
    ("its uncertainty forgotten by the verdict", lambda: made(injector_at("clamp-torque").say("8.0")).but(
        ev.ValueLogged, value="8.4", said="8.4", verdict="inside"), [f"{CLOSE}clamp-torque"]),
    # the wrench shows 21.4 and the union gets 21.4·(340 + 42)/340 = 24.04
    ("through an adaptor, inside", lambda: injector_at("injector-union").say("21.4"), []),
    ("through an adaptor, outside", lambda: injector_at("injector-union").say("24.0", *KEPT), [f"{OUT}injector-union"]),
    ("no pressure", lambda: pressures("zero bar"), []),
    ("pressure that rose", lambda: pressures("2 bar"), [f"{OUT}rail-pressure-held"]),
    ("pressure that rose, and the wait again", lambda: pressures("2 bar", "next", 660, "zero bar", 45, "zero bar"), []),
    ("a rise that was called inside", lambda: made(pressures("zero bar")).but(
        ev.ValueLogged, value="1", said="1"), [f"{OUT}rail-pressure-held"]),
    ("personal", lambda: at("torque", card=PERSONAL).say("9.1", *KEPT), [f"{OUT}torque"]),
    ("erased", lambda: made(at("torque", card=PERSONAL).say("9.1", *KEPT)).but(
        ev.ValueLogged, value=ev.Personal("(erased)"), said=ev.Personal("(erased)")), []),
    ("no number", lambda: lied("NaN", "inside"), []),
    ("limits the wrong way round", lambda: lied("7.5", "inside", name="other", low=Decimal(9)), []),
    ("another quantity", lambda: made(kept("7.5")).but(ev.ValueLogged, said_unit="bar"), []),
]


@pytest.mark.parametrize("what, job, lines", BEYOND, ids=[case[0] for case in BEYOND])
def test_a_value_that_stands_is_judged_again(what, job, lines) -> None:
    """From reading, limits and uncertainty, and never by the verdict that was logged with it."""
    assert shown([value_beyond_limits], job()) == lines


CHANGED = [
    ("logged once", lambda: kept("7.5"), []),
    ("corrected", lambda: kept("7.5", "correction 7.2"), ["ValueLogged torque, ValueLogged torque"]),
    ("corrected twice", lambda: kept("7.5", "correction 7.2", "correction 7.3"),
     ["ValueLogged torque, ValueLogged torque"] * 2),
    ("corrected to another branch", lambda: kept("7.5", "correction 9", *KEPT),
     ["ValueLogged torque, ValueLogged torque"]),
    ("gone back to", lambda: kept("7.5", "previous step", "7.2"), ["ValueLogged torque, ValueLogged torque"]),
    ("gone back past, and done again", lambda: kept("7.5", "previous step", "previous step", "affirm", "7.2"),
     ["ValueLogged torque, ValueLogged torque"]),
    ("gone back to, and found the same", lambda: kept("7.5", "previous step", "7.5"), []),
    ("said anew before it was kept", lambda: kept("9", "7.5"), []),
    ("gone back before it was logged", lambda: kept("previous step", "affirm", "7.5"), []),
    ("read until it is right", lambda: at("rail-pressure").say("40 bar").wait(240).say("zero bar"), []),
    ("by the card's own way, for another wheel", lambda: wheels("75", "63"), []),
    ("on coming back to an unfinished job", lambda: made(at("torque").come_back(60).say("same mechanic", "7.5")), []),
    ("gone back, then the card leads round", lambda: kept("7.5", "previous step", "previous step", "negative", "next",
                                                          "7.2"),
     ["ValueLogged torque, ValueLogged torque"]),
]


@pytest.mark.parametrize("what, job, lines", CHANGED, ids=[case[0] for case in CHANGED])
def test_a_value_that_was_changed_is_seen(what, job, lines) -> None:
    """Corrected, or gone back to; not where the card itself asks for another measurement."""
    assert shown([value_changed], job()) == [f"value-changed: {line}" for line in lines]


def scored(score: str | None) -> Simulator:
    return at("torque").say("7.5", score=score)


DOUBTFUL = [
    ("typed", lambda: scored(None), []),
    ("sure", lambda: scored("0.85"), []),
    ("doubtful", lambda: scored("0.84"), ["ValueLogged torque"]),
    ("a doubtful count", lambda: at("rags").say("three", score="0.70"), ["CountLogged rags"]),
    ("a doubtful answer is not asked about here", lambda: at("suspect").say("cylinder two", score="0.70"), []),
]


@pytest.mark.parametrize("what, job, lines", DOUBTFUL, ids=[case[0] for case in DOUBTFUL])
def test_a_doubtful_hearing_is_seen(what, job, lines) -> None:
    """Below the floor under which the ear asks back."""
    assert shown([value_doubtful], job()) == [f"value-doubtful: {line}" for line in lines]


def test_the_floor_is_the_ears_own() -> None:
    """The office does not load the ears for one number, so it is written twice: the lowest of theirs, for a log does not
    say which one heard."""
    assert float(LEAST_SURE) == min(floors.SURE_RECORDS, alternatives.SURE_RECORDS)


SAID = [
    (value_beyond_limits, lambda: kept("9.1", *KEPT),
     "Bolt torque was 9.1 newton metres, outside 7 to 8; kept because: the maker allows it."),
    (value_beyond_limits, lambda: lied("9.1", "inside"), "Bolt torque was 9.1 newton metres, outside 7 to 8."),
    (value_beyond_limits, lambda: injector_at("clamp-torque").say("8.4", *KEPT),
     "Clamp torque was 8.4 newton metres, inside 7.5 to 8.5, but too close to call with an uncertainty of 0.252; kept "
     "because: the maker allows it."),
    (value_beyond_limits, lambda: pressures("2 bar"),
     "Rail pressure held was 2 bar: it rose from 0, and must not rise."),
    (value_changed, lambda: kept("7.5", "correction 7.2"),
     "Bolt torque was changed from 7.5 newton metres to 7.2 newton metres after it was logged."),
    (value_doubtful, lambda: scored("0.7"), "Bolt torque was accepted on a hearing of 0.7, below 0.85."),
    (value_beyond_limits, lambda: at("torque", card=PERSONAL).say("9.1", *KEPT),
     "Bolt torque was a personal value, outside 7 to 8; kept because: the maker allows it."),
    (value_changed, lambda: at("torque", card=PERSONAL).say("7.5", "correction 7.2"),
     "Bolt torque was changed after it was logged."),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:50] for case in SAID])
def test_the_sentences_give_the_figures(rule, job, said) -> None:
    """Value, limits and reason; of a personal value none."""
    job = job()
    assert [one.said for one in rule((made(job) if isinstance(job, Simulator) else job).account())] == [said]


def test_the_rose_from_that_was_logged_decides_nothing() -> None:
    """The earlier reading does."""
    job = made(pressures("zero bar"))
    assert not shown([value_beyond_limits], job.but(ev.ValueLogged, rose_from=Decimal(-1), verdict="outside"))
