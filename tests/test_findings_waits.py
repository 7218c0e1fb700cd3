"""Waits as a supervisor sees them: served whole, by the clock that only counts."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.office.findings.waits import waits_cut_short
from golden import injector_at
from simulator import at

PERSON, WORK = "protective-wait-cut-short", "wait-cut-short"


def waited():
    """The pressure wait of four minutes, which protects a person, is over."""
    return made(at("rail-pressure"))


def away(*answers: str, seconds: int = 100):
    """A minute of that wait, then away, then what is answered, then what is left of it."""
    return at("pressure-wait").wait(60).come_back(seconds).say("same mechanic", *answers)


CASES = [
    ("served whole", waited, []),
    ("a second short", lambda: waited().sooner(ev.ClockEnded, 1),
     [f"{PERSON}: ClockStarted key-out, ClockEnded pressure-wait"]),
    ("a second long", lambda: waited().sooner(ev.ClockEnded, -1), []),
    ("its step ended before its clock", lambda: waited().without(ev.ClockEnded).sooner(ev.StepEnded, 1),
     [f"{PERSON}: ClockStarted key-out, StepEnded pressure-wait"]),
    ("its clock's end is missing, and it was whole", lambda: waited().without(ev.ClockEnded), []),
    ("never started", lambda: waited().without(ev.ClockStarted), [f"{PERSON}: StepEnded pressure-wait"]),
    ("a clock shorter than the card's", lambda: waited().but(ev.ClockStarted, lasts_ms=1000).sooner(ev.ClockEnded, 239),
     [f"{PERSON}: ClockStarted key-out, ClockEnded pressure-wait"]),
    ("a person's wait ended with a reason all the same", lambda: made(at("settling").wait(30).say(
        "end the wait", "maker's tool says ready", "affirm")).but(ev.WaitCutShort, clock="bleed-down").but(
            ev.ClockStarted, clock="bleed-down"),
     [f"{PERSON}: ClockStarted settling, WaitCutShort settling", f"{WORK}: StepEnded settling"]),
    ("a work's wait ended with a reason",
     lambda: at("settling").wait(30).say("end the wait", "maker's tool says ready", "affirm"),
     [f"{WORK}: ClockStarted settling, WaitCutShort settling"]),
    ("a reason asked, and taken back", lambda: at("settling").wait(30).say("end the wait", "negative").wait(90), []),
    ("ended early, and refused", lambda: at("pressure-wait").say("end the wait").wait(240), []),
    ("a wait that nobody waits for goes on", lambda: at("pressure-wait").wait(30), []),
    ("left out of", lambda: at("pressure-wait").wait(60).say("previous step", "next").wait(240), []),
    ("time away counted", lambda: away("affirm", "affirm").wait(80), []),
    ("time away dropped", lambda: away("affirm", "negative").wait(240), []),
    ("more counted than there was", lambda: made(away("affirm", "affirm").wait(80)).but(
        ev.TimeAwayCounted, away_ms=900_000).sooner(ev.ClockEnded, 5),
     [f"{PERSON}: ClockStarted key-out, ClockEnded pressure-wait"]),
    ("away over a restart of the machine, by the time of day",
     lambda: at("pressure-wait").wait(60).come_back(100, same_boot=False).say("same mechanic", "affirm",
                                                                              "affirm").wait(80), []),
    ("not counted, and taken for granted", lambda: made(away("affirm", "affirm").wait(80)).without(ev.TimeAwayCounted),
     [f"{PERSON}: ClockStarted key-out, ClockEnded pressure-wait"]),
    ("a timer of one's own", lambda: at("torque").say("timer two minutes").wait(10).say("cancel timer"), []),
    ("an old clock is not served twice", lambda: made(injector_at("plug-back")).without(ev.ClockStarted, at=-1),
     [f"{PERSON}: StepEnded plug-back-rest"]),
    ("a clock of no card of ours", lambda: waited().but(ev.ClockStarted, clock="x").but(ev.ClockEnded, clock="x"),
     [f"{PERSON}: StepEnded pressure-wait"]),
]


@pytest.mark.parametrize("what, job, lines", CASES, ids=[case[0] for case in CASES])
def test_a_wait_is_served_whole(what, job, lines) -> None:
    """By the clock that only counts, with time away as far as it was counted and there was any."""
    assert shown([waits_cut_short], job()) == lines


def test_the_sentence_gives_both_times_and_the_reason() -> None:
    """What passed, what the card asks for, and why it was ended."""
    job = at("settling").wait(30).say("end the wait", "maker's tool says ready", "affirm")
    assert [one.said for one in waits_cut_short(made(job).account())] == [
        'The wait "settle", which protects the work, ended after 30 s of 2 min; because: maker\'s tool says ready.']
    assert [one.said for one in waits_cut_short(waited().sooner(ev.ClockEnded, 1).account())] == [
        'The wait "bleed-down", which protects a person, ended after 3 min 59 s of 4 min.']
