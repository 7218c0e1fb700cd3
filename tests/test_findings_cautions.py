"""Cautions as a supervisor sees them: acknowledged before the act, and not faster than they can be said."""
from __future__ import annotations

import pytest

from account_maker import Made, made, shown
from companion.core import events as ev
from companion.core.job.inputs import SpokenToEnd
from companion.office.findings.cautions import WORDS_A_SECOND, caution_rushed, caution_unacknowledged
from golden import injector_at, worked
from simulator import EVERY_KIND, Simulator, at

NEED = len("Fuel may be under high pressure. Keep your hands away.".split()) / WORDS_A_SECOND
"""Seconds for the caution of the step "crack"."""


def cracked() -> Simulator:
    return at("crack").wait(2).say("pressure gone", "next", "affirm")


UNACKNOWLEDGED = [
    ("acknowledged, and worked", lambda: cracked(), []),
    ("worked without", lambda: made(cracked()).without(ev.CautionAcknowledged), ["StepBegun crack, AnswerGiven crack"]),
    ("another caution acknowledged", lambda: made(cracked()).but(ev.CautionAcknowledged, caution="hot parts"),
     ["StepBegun crack, AnswerGiven crack"]),
    ("only one of two", lambda: made(injector_at("goggles")).without(ev.CautionAcknowledged),
     ["StepBegun fresh-air, AnswerGiven fresh-air"]),
    ("ended without a word",
     lambda: made(cracked()).without(ev.CautionAcknowledged).without(ev.AnswerGiven, step="crack"),
     ["StepBegun crack, StepEnded crack"]),
    ("the log ends while it stands", lambda: at("crack"), ["StepBegun crack, CautionHeard crack"]),
    ("left while it stands", lambda: at("crack").say("stop job", "affirm"), ["StepBegun crack, CautionHeard crack"]),
    ("the log ends before its last word", lambda: made(at("crack")).without(ev.CautionHeard), []),
    ("the log ends after it", lambda: at("crack").say("pressure gone"), []),
    ("left, resumed, acknowledged then", lambda: at("crack").say("stop job", "affirm").come_back(60).say(
        "same mechanic", "affirm", "affirm", "pressure gone", "next", "affirm"), []),
    ("gone back to, and acknowledged only once",
     lambda: made(at("crack").say("pressure gone", "next", "affirm", "previous step", "pressure gone", "next",
                                  "affirm")).without(ev.CautionAcknowledged), ["StepBegun crack, AnswerGiven crack"]),
    ("gone back from it, and the log ends elsewhere", lambda: at("crack").say("previous step"), []),
    ("a step without cautions", lambda: at("torque"), []),
]


@pytest.mark.parametrize("what, job, lines", UNACKNOWLEDGED, ids=[case[0] for case in UNACKNOWLEDGED])
def test_a_caution_is_acknowledged_before_its_act(what, job, lines) -> None:
    """Each visit by itself; and one that was heard must not be the end of the log."""
    assert shown([caution_unacknowledged], job()) == [f"caution-unacknowledged: {line}" for line in lines]


def test_of_a_damaged_log_nothing_is_said_of_what_may_be_cut_off() -> None:
    """The acknowledgement may stand on the next line."""
    assert not list(caution_unacknowledged(made(at("crack")).account(holds=False)))
    worked = made(cracked()).without(ev.CautionAcknowledged)
    assert len(list(caution_unacknowledged(worked.account(holds=False)))) == 1


def after(seconds: float) -> Simulator:
    return at("crack").wait(seconds).say("pressure gone")


def paused(before: float, heard: bool, later: float = 0) -> Simulator:
    """A pause `before` seconds after the step began, the caution's last word heard before that, or after it."""
    job = at("crack", speaks=heard).wait(before).say("pause").wait(60).say("resume").wait(later)
    if not heard:
        job.take(SpokenToEnd("caution:pressure"))
    return job.say("pressure gone")


def second_after_a_pause() -> Simulator:
    """The first of two cautions answered at once; the second paused before its last word, and then answered at once."""
    job = injector_at("automatic-start-off").say("next", "fresh air first")
    assert job.job.at == "fresh-air" and job.job.cautions == ("ignition",)
    cut = job.cut(len(job.events) - 1)
    cut.speaks = False
    cut.wait(30).say("pause").wait(5).say("resume").take(SpokenToEnd("caution:ignition"))
    return cut.say("extinguisher is here")


RUSHED = [
    ("at once", lambda: after(0), ["StepBegun crack, CautionAcknowledged crack"]),
    ("just too soon", lambda: after(NEED - 0.002), ["StepBegun crack, CautionAcknowledged crack"]),
    ("just long enough", lambda: after(NEED), []),
    ("heard before a pause", lambda: paused(2, True), []),
    ("not heard before a pause", lambda: paused(30, False), ["Resumed crack, CautionAcknowledged crack"]),
    ("heard after a pause", lambda: paused(30, False, 2), []),
    ("at once after coming back", lambda: at("crack").wait(9).come_back(60).say("same mechanic", "affirm", "affirm",
                                                                               "pressure gone"),
     ["StepBegun crack, CautionAcknowledged crack"]),
    ("the second at once after the first",
     lambda: made(injector_at("goggles")).sooner(ev.CautionAcknowledged, -9, at=-2),
     ["StepBegun off-traffic, CautionAcknowledged off-traffic",
      "CautionAcknowledged fresh-air, CautionAcknowledged fresh-air"]),
    ("the second, a pause after the first", lambda: made(second_after_a_pause()), [
        "StepBegun off-traffic, CautionAcknowledged off-traffic",
        "StepBegun fresh-air, CautionAcknowledged fresh-air", "Resumed fresh-air, CautionAcknowledged fresh-air"]),
    ("a caution that the card does not know", lambda: made(after(0)).but(ev.CautionAcknowledged, caution="none"), []),
    ("an up-clock that stepped back", lambda: made(after(0)).sooner(ev.CautionAcknowledged, 5), []),
]


@pytest.mark.parametrize("what, job, lines", RUSHED, ids=[case[0] for case in RUSHED])
def test_a_caution_takes_the_time_to_say_it(what, job, lines) -> None:
    """From when its words could begin: the step, the caution before, or a pause in which they were not yet heard."""
    assert shown([caution_rushed], job()) == [f"caution-rushed: {line}" for line in lines]


def test_the_sentences_give_the_figures() -> None:
    """Which caution, how fast, and how long it takes."""
    assert [one.said for one in caution_rushed(made(after(1)).account())] == [
        'The caution "pressure" was acknowledged after 1 s, but its 10 words take at least 1.4 s to say.']
    assert "Fuel may be under high pressure. Keep your hands away." in EVERY_KIND
    job = made(cracked()).without(ev.CautionAcknowledged)
    assert [one.said for one in caution_unacknowledged(job.account())] == [
        'At the step "crack" the caution "pressure" was not acknowledged, and the step was worked.']


def test_a_step_that_was_never_begun_cannot_hide_its_cautions() -> None:
    """A program that is not ours may sign a log without the step's beginning and its cautions."""
    job = made(worked("injector-clean"))
    kept = [place for place, event in enumerate(job.events) if event.step != "crack-union" or not isinstance(
        event, (ev.StepBegun, ev.CautionHeard, ev.CautionAcknowledged))]
    less = Made([job.events[place] for place in kept], [job.moments[place] for place in kept])
    assert shown([caution_unacknowledged], less) == ["caution-unacknowledged: StepEnded crack-union"]
    assert shown([caution_unacknowledged], job) == []
