"""Whoever worked alone, as a supervisor sees it: agreed checks, alarms, calls for help, signing off; and a log held back."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.core.job.inputs import AlarmHeard, LogFailed, LogWritten, LoneTerms, MessageDone
from companion.office.findings.alone import (
    alarm_raised, alarm_unheard, alone_unagreed, help_called, log_held_back, log_not_caught_up,
    not_signed_off)
from golden import card, lines_of, play
from simulator import TO, Simulator

TEN = 10 * 60_000
SILENT = 9 * 60 + 60 + 30
"""Seconds without a word until the first alarm, at an interval of ten minutes."""
INJECTOR = card("common-rail-injector")
AGREED = LoneTerms(every_ms=TEN, contacts=2)


def lone(step: str = "torque", terms: LoneTerms = AGREED) -> Simulator:
    """At a step of the card `every-kind`, looked after."""
    job = Simulator(lone=terms)
    for line in TO[step]:
        job.wait(line) if isinstance(line, int) else job.say(line)
    return job


def rung(seconds: int = SILENT) -> Simulator:
    """Nobody answers for so long."""
    return lone().wait(seconds)


def asked(**changes: int):
    """The injector card, opened, with other terms in the log."""
    return made(Simulator(INJECTOR, lone=LoneTerms())).but(ev.LoneWorkAgreed, **changes)


UNAGREED = [
    ("as the card says", lambda: asked(), {}, []),
    ("more often", lambda: asked(every_ms=TEN), {}, []),
    ("less often", lambda: asked(every_ms=21 * 60_000), {}, ["LoneWorkAgreed"]),
    ("less often at risk", lambda: asked(at_risk_ms=7 * 60_000), {}, ["LoneWorkAgreed"]),
    ("not at all", lambda: asked(every_ms=0), {}, ["LoneWorkAgreed"]),
    ("nothing agreed", lambda: made(Simulator(INJECTOR)), {"format": 2}, ["JobOpened"]),
    ("nothing agreed, by an older companion", lambda: made(Simulator(INJECTOR)), {"format": 1}, []),
    ("nothing agreed, as far as a damaged log goes", lambda: made(Simulator(INJECTOR)), {"format": 2, "holds": False}, []),
    ("a card that does not ask for it", lambda: made(Simulator()), {"format": 2}, []),
]


@pytest.mark.parametrize("what, job, found, lines", UNAGREED, ids=[case[0] for case in UNAGREED])
def test_the_mechanic_was_checked_on_as_often_as_the_card_says(what, job, found, lines) -> None:
    """By the card in the log, whatever was agreed."""
    job = job()
    names = [(one.name, type(job.events[one.lines[0] - 1]).__name__) for one in alone_unagreed(job.account(**found))]
    assert names == [("alone-unagreed", line) for line in lines]


ALARMS = [
    ("a check that was answered", lambda: rung(9 * 60 + 30).say("I am okay"), []),
    ("once, and ended", lambda: rung().say("I am okay", "alarm over"), ["AlarmRaised torque, AlarmEnded torque"]),
    ("three times, and the log ends", lambda: rung(SILENT + 40), ["AlarmRaised torque, AlarmRaised torque"]),
    ("an emergency in it", lambda: rung().say("emergency"), ["AlarmRaised torque, EmergencyCalled torque"]),
    ("twice in one job", lambda: rung().say("I am okay", "alarm over").wait(SILENT).say("I am okay", "alarm over"),
     ["AlarmRaised torque, AlarmEnded torque"] * 2),
    ("an emergency without an alarm", lambda: lone().say("emergency"), []),
    ("taken up again", lambda: rung().come_back(60), ["AlarmRaised torque, JobResumed torque"]),
]


@pytest.mark.parametrize("what, job, lines", ALARMS, ids=[case[0] for case in ALARMS])
def test_an_alarm_that_rang_is_seen(what, job, lines) -> None:
    """Once from its beginning to its end, whatever ends it."""
    assert shown([alarm_raised], job()) == [f"alarm-raised: {line}" for line in lines]


def told(job: Simulator, kind: str, sent: bool, why: str = "") -> Simulator:
    job.take(MessageDone(kind, sent, why))
    return job


HELP = [
    ("nobody was called", lambda: rung(), []),
    ("called, and not known what became of it", lambda: rung(SILENT + 60), ["HelpCalled torque"]),
    ("called, and sent", lambda: told(rung(SILENT + 60), "help", True), ["HelpCalled torque, MessageSent torque"]),
    ("another message was sent", lambda: told(rung(SILENT + 60), "test", True), ["HelpCalled torque"]),
    ("in an emergency", lambda: lone().say("emergency"), ["HelpCalled torque"]),
    ("in an emergency with nobody to call", lambda: lone(terms=LoneTerms(every_ms=TEN)).say("emergency"), []),
]


@pytest.mark.parametrize("what, job, lines", HELP, ids=[case[0] for case in HELP])
def test_a_call_for_help_is_seen_with_what_became_of_it(what, job, lines) -> None:
    """Only its own message counts."""
    assert shown([help_called], job()) == [f"help-called: {line}" for line in lines]


def ended() -> object:
    """The injector card to its end, looked after, whoever checks answered in time."""
    job = Simulator(INJECTOR, lone=LoneTerms())
    play(job, lines_of("injector-clean"))
    assert job.kinds(ev.JobEnded) and job.kinds(ev.SignedOff)
    return made(job)


def test_whoever_is_looked_after_signs_off_at_the_end() -> None:
    """The companion sees to it; a log without it is not one of its own. Where nobody was looked after there is nothing to
    sign off from."""
    job = ended()
    assert not shown([not_signed_off], job)
    assert shown([not_signed_off], job.without(ev.SignedOff)) == ["not-signed-off: JobEnded sign-off"]
    nobody = job.without(ev.SignedOff).but(ev.LoneWorkAgreed, every_ms=0)
    assert not shown([not_signed_off], nobody)


@pytest.mark.parametrize("answer, found", [("affirm", []), ("negative", ["alarm-unheard: AlarmTestAnswered begin"])])
def test_an_alarm_that_was_not_heard_in_its_test_is_seen(answer, found) -> None:
    """The day's test asks for it."""
    job = Simulator(lone=AGREED)
    job.take(AlarmHeard("not measured"))
    assert shown([alarm_unheard], job.say(answer)) == found


def test_a_log_that_was_held_back_is_seen_once_it_has_caught_up() -> None:
    """From the first entry that waited to the one that says so; nothing where the disk took everything."""
    job = lone()
    assert not shown([log_held_back], job)
    job.take(LogFailed("the disk is full"))
    job.wait(90).say("7.5")
    job.take(LogWritten(7))
    assert shown([log_held_back], job) == [f"log-held-back: LogHeldBack torque, LogCaughtUp {job.job.at}"]
    assert [one.said for one in log_held_back(made(job).account())] == [
        "7 entries waited in memory for 1 min 30 s (the disk is full): a crash would have lost them."]


def test_a_log_that_never_caught_up_is_a_fault() -> None:
    """The program stopped meanwhile: at the end of the log, or before it was taken up again. A log that caught up is none."""
    job = lone()
    job.take(LogFailed("the disk is full"))
    job.take(LogFailed("the disk has failed"))
    assert shown([log_not_caught_up], job) == ["log-not-caught-up: LogHeldBack torque"]
    job.come_back(60)
    assert shown([log_not_caught_up], job) == ["log-not-caught-up: LogHeldBack torque"]
    caught = lone()
    caught.take(LogFailed("the disk is full"))
    caught.take(LogWritten(1))
    assert not shown([log_not_caught_up], caught.come_back(60))


SAID = [
    (alarm_raised, lambda: rung().wait(5).say("I am okay", "alarm over"),
     'At the step "torque" nobody answered, and the alarm rang 1 time, up to level 1. After 5 s it was ended by its two '
     "phrases."),
    (alarm_raised, lambda: rung(SILENT + 40),
     'At the step "torque" nobody answered, and the alarm rang 3 times, up to level 3. Nobody ended it: the log ends 40 s '
     "later."),
    (help_called, lambda: told(rung(SILENT + 60), "help", False, "no network"),
     'Help was called at the step "torque" (no answer), a message to 2 contacts: it could not be sent: no network.'),
    (alone_unagreed, lambda: asked(every_ms=21 * 60_000),
     "The mechanic was to be checked on only every 21 min, and the card says every 20 min, or 6 min at risk."),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:50] for case in SAID])
def test_the_sentences_give_the_times(rule, job, said) -> None:
    """How long it rang and how loud, who was called, how often was agreed."""
    job = job()
    assert [one.said for one in rule((made(job) if isinstance(job, Simulator) else job).account())] == [said]
