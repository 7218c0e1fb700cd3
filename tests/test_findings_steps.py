"""The course of a job as a supervisor sees it: left out, unfinished, stopped; and emergencies."""
from __future__ import annotations

import pytest

from account_maker import Made, calm, made, shown
from companion.core import events as ev
from companion.office.findings.alarms import emergency_called
from companion.office.findings.steps import job_stopped, job_unfinished, step_left_out, steps_passed_over
from golden import worked
from simulator import EVERY_KIND, Simulator, at


def left_out() -> Simulator:
    return at("torque").say("leave out", "part not fitted here", "affirm")


def done() -> Simulator:
    """The card `every-kind`, to its end."""
    job = at("watch")
    for _ in range(3):
        job.wait(60).say("dry")
    return job.say("next", "next")


def stopped():
    return made(worked("injector-wrong-cylinder"))


NO_CLOSE = EVERY_KIND.replace("answer: done, closes: end", "answer: done")
CASES = [
    (step_left_out, "left out", left_out, ["step-left-out: StepLeftOut torque"]),
    (step_left_out, "asked, and taken back", lambda: at("torque").say("leave out", "part not fitted here", "negative"),
     []),
    (step_left_out, "left open", lambda: at("tidy").say("leave open"), []),
    (step_left_out, "refused", lambda: at("rags").say("leave out"), []),
    (job_unfinished, "done", done, []),
    (job_unfinished, "goes no further", lambda: at("torque"), ["job-unfinished: StepBegun torque"]),
    (job_unfinished, "left", lambda: at("torque").say("stop job", "affirm"), ["job-unfinished: JobLeft torque"]),
    (job_unfinished, "left and resumed", lambda: at("torque").say("stop job", "affirm").come_back(60),
     ["job-unfinished: JobResumed torque"]),
    (job_unfinished, "only its first line", lambda: made(at("torque")).upto(ev.JobOpened),
     ["job-unfinished: JobOpened"]),
    (job_unfinished, "stopped", stopped, []),
    (job_stopped, "done", done, []),
    (job_stopped, "unfinished", lambda: at("torque"), []),
    (job_stopped, "stopped", stopped, ["job-stopped: JobEnded hand-over-unfinished"]),
    (job_stopped, "signed off by negative", lambda: made(worked("injector-clean")).but(
        ev.StepEnded, step="sign-off", outcome="negative"), ["job-stopped: JobEnded sign-off"]),
    (job_stopped, "signed off", lambda: made(worked("injector-clean")), []),
    (job_stopped, "the closing step left out", lambda: made(done()).without(ev.StepEnded),
     ["job-stopped: JobEnded hand-over"]),
    (job_stopped, "a card that no step closes", lambda: made(done()).but(
        ev.JobOpened, card_text=NO_CLOSE).without(ev.StepEnded), []),
    (emergency_called, "called", lambda: at("torque").say("emergency"), ["emergency-called: EmergencyCalled torque"]),
    (emergency_called, "called, and over", lambda: at("torque").say("emergency").wait(90).say("emergency over",
                                                                                              "affirm"),
     ["emergency-called: EmergencyCalled torque, EmergencyEnded torque"]),
    (emergency_called, "called twice", lambda: at("torque").say("emergency", "emergency over", "affirm", "emergency"),
     ["emergency-called: EmergencyCalled torque, EmergencyEnded torque", "emergency-called: EmergencyCalled torque"]),
    (emergency_called, "none", lambda: at("torque").say("pause", "resume"), []),
]


@pytest.mark.parametrize("rule, what, job, lines", CASES, ids=[f"{case[0].__name__}: {case[1]}" for case in CASES])
def test_the_course_of_a_job(rule, what, job, lines) -> None:
    """Each rule by itself, near misses among the cases."""
    assert shown([rule], job()) == lines


@pytest.mark.parametrize("rule, job", [(job_unfinished, lambda: made(at("torque"))), (job_stopped, stopped)])
def test_a_damaged_log_is_not_called_unfinished_or_stopped(rule, job) -> None:
    """The end may just be cut off."""
    assert list(rule(job().account())) and not list(rule(job().account(holds=False)))


def test_an_end_without_its_seal_is_no_end() -> None:
    """`verify` calls such a log unfinished, and so do the findings."""
    assert [one.name for one in job_unfinished(calm(made(done())).account(finished=False))] == ["job-unfinished"]


SAID = [
    (step_left_out, left_out, 'The step "torque" was left out; because: part not fitted here.'),
    (step_left_out, lambda: made(left_out()).but(ev.StepLeftOut, reason=" "),
     'The step "torque" was left out; no reason was given.'),
    (job_unfinished, lambda: at("torque"), 'The log ends at the step "torque", and the job goes no further.'),
    (job_unfinished, lambda: at("torque").say("stop job", "affirm"),
     'The log ends at the step "torque", and the job was left there, to be resumed.'),
    (job_stopped, stopped,
     'The job was ended after the step "hand-over-unfinished", and not by the step that closes it.'),
    (emergency_called, lambda: at("torque").say("emergency").wait(90).say("emergency over", "affirm"),
     'An emergency was called at the step "torque", and said to be over after 1 min 30 s.'),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:40] for case in SAID])
def test_the_sentences(rule, job, said) -> None:
    """One plain sentence each, with the reason and the time where there are any."""
    job = job()
    assert [one.said for one in rule((made(job) if isinstance(job, Simulator) else job).account())] == [said]


@pytest.mark.parametrize("session, step", [
    ("injector-clean", "bleed-down-wait"), ("injector-clean", "rags-back"), ("injector-clean", "leak-run"),
    ("injector-clean", "crack-union"), ("road-wheels", "off-traffic"), ("road-wheels", "tools-back")])
def test_a_log_that_passes_a_step_over_is_not_clean(session: str, step: str) -> None:
    """A program that is not ours may sign a log without the step; the card's own way shows that it is missing."""
    job = made(worked(session))
    kept = [place for place, event in enumerate(job.events) if event.step != step]
    less = Made([job.events[place] for place in kept], [job.moments[place] for place in kept])
    found = list(steps_passed_over(less.account()))
    assert [one.name for one in found] == ["step-left-out"] and f'"{step}"' in found[0].said
    assert not list(steps_passed_over(job.account())) and not list(steps_passed_over(less.account(holds=False)))


def test_only_the_first_steps_that_were_passed_over_are_named() -> None:
    """A log of nothing but its start and its end says how much is missing, in one sentence."""
    job = made(worked("road-wheels"))
    kept = [place for place, event in enumerate(job.events)
            if not event.step or event.step in ("sign-on", "sign-off")]
    said = [one.said for one in steps_passed_over(Made([job.events[place] for place in kept],
                                                       [job.moments[place] for place in kept]).account())]
    assert len(said) == 1 and '"vehicle"' in said[0] and said[0].endswith("more.")


@pytest.mark.parametrize("kind, step", [
    (ev.CountLogged, "tools-back"), (ev.ValueLogged, "rail-pressure"), (ev.AnswerGiven, "suspect"),
    (ev.SpellingLogged, "vehicle-again"), (ev.CodesLogged, "induced-code")])
def test_a_step_that_ended_without_its_answer_was_passed_over(kind: type[ev.Event], step: str) -> None:
    """Its end alone shows nothing: what was counted, measured or said must stand in the log."""
    found = list(steps_passed_over(made(worked("injector-clean")).without(kind, step=step).account()))
    assert [one.name for one in found] == ["step-left-out"] and f'"{step}"' in found[0].said


def test_a_log_of_one_line_names_no_step_that_is_not_there() -> None:
    """Nothing had been begun."""
    [one] = job_unfinished(made(at("torque")).upto(ev.JobOpened).account())
    assert one.said == "The log ends before its first step, and the job goes no further."


@pytest.mark.parametrize("kind, step, changes", [
    (ev.ValueLogged, "clamp-torque", {"name": "something else"}), (ev.ValueLogged, "clamp-torque", {"unit": "bar"}),
    (ev.CountLogged, "rags-back", {"name": "something else"})])
def test_an_answer_to_something_else_is_none(kind: type[ev.Event], step: str, changes: dict[str, str]) -> None:
    """By another name or unit it would be judged by nothing but the limits that its writer put beside it."""
    found = list(steps_passed_over(made(worked("injector-clean")).but(kind, step=step, **changes).account()))
    assert [one.name for one in found] == ["step-left-out"] and f'"{step}"' in found[0].said
