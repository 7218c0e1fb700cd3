"""The clocks as a supervisor sees them: the time of day that was set, and long silences."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.core.log.rfc3339 import milliseconds
from companion.office.findings.clocks import _ms, clock_steered, clock_stepped, long_silence
from golden import injector_at
from simulator import at

LONG = 30 * 60
"""Seconds from which silence is long; it must pass them."""


def counted():
    return made(at("rags").wait(5).say("three"))


STEPPED = [
    ("both go alike", counted, []),
    ("by two seconds: rounding", lambda: counted().set_clock(ev.CountLogged, 2), []),
    ("set on", lambda: counted().set_clock(ev.CountLogged, 2.001), ["StepBegun rags, CountLogged rags"]),
    ("set back", lambda: counted().set_clock(ev.CountLogged, -3600), ["StepBegun rags, CountLogged rags"]),
    ("set on and back", lambda: counted().set_clock(ev.CountLogged, 60).set_clock(ev.StepEnded, -60),
     ["StepBegun rags, CountLogged rags", "CountLogged rags, StepEnded rags"]),
    ("the machine slept, and its clock counted on", lambda: at("rags").jump(600).say("three"), []),
    ("away, the machine on", lambda: at("rags").come_back(600), []),
    ("away, the machine on, and the time set", lambda: made(at("rags").come_back(600)).set_clock(ev.JobResumed, 60),
     ["StepBegun rags, JobResumed rags"]),
    ("away, and the machine started anew", lambda: at("rags").come_back(600, same_boot=False), []),
    ("away, started anew, and the time set back", lambda: at("rags").come_back(-3600, same_boot=False),
     ["StepBegun rags, JobResumed rags"]),
    ("set after that",
     lambda: made(at("rags").come_back(600, same_boot=False).wait(5).say("same mechanic", "three")).set_clock(
         ev.CountLogged, -60), ["StepBegun rags, CountLogged rags"]),
    ("over a leap of a year", lambda: counted().set_clock(ev.CountLogged, 366 * 86_400),
     ["StepBegun rags, CountLogged rags"]),
]


@pytest.mark.parametrize("what, job, lines", STEPPED, ids=[case[0] for case in STEPPED])
def test_the_time_of_day_goes_as_the_clock_that_counts(what, job, lines) -> None:
    """Line by line within one start of the machine; from one start to the next it can at least not go back."""
    assert shown([clock_stepped], job()) == [f"clock-stepped: {line}" for line in lines]


def steered(*steps: float, wait: int = 5):
    """A line every `wait` seconds, the time of day set by so much before each."""
    job = at("rags")
    for _ in steps:
        job.wait(wait).say("how long")
    job = made(job)
    for place, seconds in enumerate(steps):
        job = job.set_clock(ev.Told, seconds, at=place)
    return job


STEERED = [
    ("both go alike", lambda: steered(0, 0, 0), []),
    ("a little, and back", lambda: steered(1.9, -1.9, 1.9), []),
    ("five seconds in all", lambda: steered(1.9, 1.9, 1.2), []),
    ("more than five", lambda: steered(1.9, 1.9, 1.201), ["JobOpened, Told rags"]),
    ("back", lambda: steered(-1.9, -1.9, -1.9, -1.9), ["JobOpened, Told rags"]),
    ("a step is told by itself", lambda: steered(60, 1.9), []),
    ("a week of a poor quartz", lambda: steered(*[1.5] * 8, wait=86_400 // 8 * 6), []),
    ("as much within a shift", lambda: steered(*[1.5] * 8, wait=3_600), ["JobOpened, Told rags"]),
    ("each start of the machine by itself", lambda: made(at("rags").wait(5).say("how long").come_back(
        60, same_boot=False).wait(5).say("same mechanic", "how long")).set_clock(ev.Told, 1.9, at=0).set_clock(
        ev.SameMechanicStated, 1.9).set_clock(ev.Told, 1.9, at=-1), []),
]


@pytest.mark.parametrize("what, job, lines", STEERED, ids=[case[0] for case in STEERED])
def test_small_steps_add_up(what, job, lines) -> None:
    """Beyond five seconds and 200 in a million of the time since the machine was started, whichever is more: common
    practice, no source."""
    assert shown([clock_steered], job()) == [f"clock-stepped: {line}" for line in lines]


SILENT = [
    ("half an hour", lambda: at("rags").wait(LONG).say("three"), []),
    ("a moment longer", lambda: at("rags").wait(LONG + 1).say("three"), ["StepBegun rags, CountLogged rags"]),
    ("with words in between", lambda: at("rags").wait(LONG - 1).say("how long").wait(LONG - 1).say("three"), []),
    ("speech that was not understood is no silence",
     lambda: at("rags").wait(LONG - 1).mumble().wait(LONG - 1).say("three"), []),
    ("paused", lambda: at("rags").say("pause").wait(LONG + 1).say("resume"), []),
    ("after a pause", lambda: at("rags").say("pause", "resume").wait(LONG + 1).say("three"),
     ["Resumed rags, CountLogged rags"]),
    ("away", lambda: at("rags").come_back(LONG + 1), []),
    ("away for nobody to say who goes on", lambda: at("rags").come_back(9).wait(LONG + 1).say("same mechanic"),
     ["JobResumed rags, SameMechanicStated rags"]),
    ("left, and resumed", lambda: at("rags").say("stop job", "affirm").come_back(LONG + 1), []),
    ("a timer runs", lambda: at("rags").say("timer forty minutes").wait(LONG + 1).say("three"), []),
    ("a timer ran out", lambda: at("rags").say("timer five minutes").wait(300 + LONG + 1).say("three"),
     ["ClockEnded rags, CountLogged rags"]),
    ("a timer was cancelled", lambda: at("rags").say("timer forty minutes", "cancel timer").wait(LONG + 1).say("three"),
     ["TimerCancelled rags, CountLogged rags"]),
    ("on the road", lambda: injector_at("back").wait(LONG + 600).say("next"), []),
    ("parked again", lambda: injector_at("complaint-after").wait(LONG + 1).say("stayed away"),
     ["StepBegun complaint-after, AnswerGiven complaint-after"]),
    ("after a restart the clock counts from nothing",
     lambda: at("rags").wait(LONG + 1).come_back(9, same_boot=False), []),
    ("the log just ends", lambda: at("rags").wait(LONG + 1), []),
]


@pytest.mark.parametrize("what, job, lines", SILENT, ids=[case[0] for case in SILENT])
def test_long_silence_without_a_clock(what, job, lines) -> None:
    """Not while a clock runs, away, on the road, paused or left."""
    assert shown([long_silence], job()) == [f"long-silence: {line}" for line in lines]


def test_a_clock_that_never_ends_does_not_excuse_silence_for_ever() -> None:
    """It runs no longer than it lasts, even where its end was not logged."""
    job = at("rags").say("timer one minute").wait(90).say("how long").wait(LONG + 1).say("three")
    job = made(job).without(ev.ClockEnded)
    assert shown([long_silence], job) == ["long-silence: Told rags, CountLogged rags"]


SAID = [
    (clock_stepped, lambda: counted().set_clock(ev.CountLogged, -3600),
     "The time of day was set back by 1 h between 2023-11-14T22:13:20.000Z and 2023-11-14T21:13:25.000Z."),
    (clock_stepped, lambda: counted().set_clock(ev.CountLogged, 61.5),
     "The time of day was set on by 1 min 1 s between 2023-11-14T22:13:20.000Z and 2023-11-14T22:14:26.500Z."),
    (clock_steered, lambda: steered(1.9, 1.9, 1.9),
     "The time of day drifts: little by little it went on by 5.7 s between 2023-11-14T22:13:20.000Z and "
     "2023-11-14T22:13:40.700Z."),
    (long_silence, lambda: made(at("rags").wait(LONG + 65).say("three")),
     'Nothing was heard for 31 min 5 s at the step "rags".'),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:50] for case in SAID])
def test_the_sentences_give_the_times(rule, job, said) -> None:
    """How far the clock was set; how long nothing was heard, and where."""
    assert [one.said for one in rule(job().account())] == [said]


@pytest.mark.parametrize("at", ["2023-11-14T22:13:20.000Z", "2024-02-29T23:59:59.999Z", "2016-12-31T23:59:60.500Z",
                                "1970-01-01T00:00:00.000Z", "9999-12-31T23:59:59.001Z"])
def test_the_quick_reading_of_a_time_is_the_right_one(at: str) -> None:
    """The same as that of `rfc3339`, a leap second too."""
    assert _ms(at) == milliseconds(at)
