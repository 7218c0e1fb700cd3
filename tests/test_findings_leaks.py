"""Leak looks and leak runs as a supervisor sees them."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.office.findings.leaks import leak_found, leak_run_broken, leak_run_short
from golden import injector_at, worked
from simulator import Simulator, at


def watched(*said: str) -> Simulator:
    """The leak run of the card `every-kind`, three questions in three minutes; the answers in turn."""
    job = at("watch")
    for words in said:
        job.wait(60)
        job.say(words)
    return job


def dry():
    return made(watched("dry", "dry", "dry"))


SHORT, BROKEN = "leak-run-short: ", "leak-unanswered: RunBroken watch"
RUNS = [
    (leak_run_short, "dry to the end", dry, []),
    (leak_run_short, "an answer missing", lambda: dry().without(ev.RunAnswered),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "the first answer missing", lambda: dry().without(ev.RunAnswered, at=0),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "one answer counted twice", lambda: dry().but(ev.RunAnswered, number=2),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "an answer that is not good", lambda: dry().but(ev.RunAnswered, at=1, answer="maybe"),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "an answer unasked", lambda: watched("dry").say("dry").wait(60).say("dry").wait(60).say("dry"),
     []),
    (leak_run_short, "not its whole time", lambda: dry().sooner(ev.RunAnswered, 30),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "never started", lambda: dry().without(ev.ClockStarted), [f"{SHORT}StepEnded watch"]),
    (leak_run_short, "leaking", lambda: watched("dry", "leaking at the union"), []),
    (leak_run_short, "silence", lambda: watched("dry").wait(90), []),
    (leak_run_short, "once more after silence",
     lambda: watched("dry").wait(90).say("next").wait(60).say("dry").wait(60).say("dry").wait(60).say("dry"), []),
    (leak_run_short, "answers of the run before do not count",
     lambda: made(watched("dry").wait(90).say("next").wait(60).say(
        "dry").wait(60).say("dry").wait(60).say("dry")).without(ev.RunAnswered, at=1),
     [f"{SHORT}ClockStarted watch, StepEnded watch"]),
    (leak_run_short, "a resumed run begins anew", lambda: watched("dry").come_back(5).say("same mechanic").wait(60).say(
        "dry").wait(60).say("dry").wait(60).say("dry"), []),
    (leak_run_broken, "dry to the end", dry, []),
    (leak_run_broken, "silence", lambda: watched("dry").wait(90), [BROKEN]),
    (leak_run_broken, "paused", lambda: watched("dry").say("pause"), [f"{SHORT}RunBroken watch"]),
    (leak_run_broken, "an emergency", lambda: watched("dry").say("emergency"), [f"{SHORT}RunBroken watch"]),
    (leak_run_broken, "the machine slept", lambda: watched("dry").jump(150), [f"{SHORT}RunBroken watch"]),
    (leak_run_broken, "asked something back, and answered", lambda: watched("dry", "dry").say("stop job", "negative"),
     []),
    (leak_found, "dry to the end", dry, []),
    (leak_found, "leaking in the run", lambda: watched("dry", "leaking at the union"),
     ["leak-found: RunAnswered watch"]),
    (leak_found, "leaking, unasked", lambda: at("watch").say("leaking at the union"),
     ["leak-found: RunAnswered watch"]),
    (leak_found, "leaking at a look", lambda: injector_at("first-look").say("leaking"),
     ["leak-found: AnswerGiven first-look"]),
    (leak_found, "dry at a look", lambda: injector_at("first-look").say("dry"), []),
    (leak_found, "a choice that is no look for leaks", lambda: made(injector_at("weep").say("slow weep")).but(
        ev.AnswerGiven, answer="leaking"), []),
    (leak_found, "where it was, asked later", lambda: worked("injector-union-leak"),
     ["leak-found: RunAnswered leak-run"]),
    (leak_found, "a card that cannot be read", lambda: made(watched("dry", "leaking at the union")).but(
        ev.JobOpened, card_text="card: 2"), ["leak-found: RunAnswered watch"]),
]


@pytest.mark.parametrize("rule, what, job, lines", RUNS, ids=[f"{case[0].__name__}: {case[1]}" for case in RUNS])
def test_leaks_and_leak_runs(rule, what, job, lines) -> None:
    """Each rule by itself, near misses among the cases."""
    assert shown([rule], job()) == lines


SAID = [
    (leak_run_short, lambda: dry().without(ev.RunAnswered, at=0).sooner(ev.RunAnswered, 30),
     'The leak run "leak-watch" was passed, but had no good answer to 1 of its 3 questions and '
     'lasted 2 min 30 s of 3 min.'),
    (leak_run_broken, lambda: watched("dry").wait(90),
     'A question of the leak run "leak-watch" was not answered, and the run was broken off.'),
    (leak_run_broken, lambda: watched("dry").say("pause"), 'The leak run "leak-watch" was broken off: pause.'),
    (leak_found, lambda: at("watch").say("leaking at the union"),
     'At the step "watch" the answer was: leaking at the union.'),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:60] for case in SAID])
def test_the_sentences(rule, job, said) -> None:
    """What is missing, in figures."""
    job = job()
    assert [one.said for one in rule((made(job) if isinstance(job, Simulator) else job).account())] == [said]
