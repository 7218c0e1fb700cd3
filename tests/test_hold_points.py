"""Hold points: said as such, passed only by a spelled release, waited for as long as it takes, signed in the office."""
from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
import jsonschema
import yaml

from companion.__main__ import main
from companion.core import events as ev
from companion.core.card import CardErrors, load_card
from companion.core.card.form import json_schema
from companion.core.log.journal import Entry
from companion.core.log.rfc3339 import stamp
from companion.edge.device import device_key
from companion.edge.screen.board import board
from companion.office.account import Account, read_account
from companion.office.findings.office import hold_findings
from companion.office.holds import holds_in, holds_passed
from companion.office.review_log import HoldSignedOff, append, read_review
from simulator import Simulator

CARD = (Path(__file__).parent / "cases" / "job" / "hold-points.yaml").read_text(encoding="utf-8")
TO = {"release": ("next", "hands are clear"), "start": ("next", "hands are clear", "golf hotel", "affirm")}
TO["look.1"] = (*TO["start"], "next", 120)
TO["look.2"] = (*TO["look.1"], "alfa bravo", "affirm")
TO["over"] = (*TO["look.2"], "alfa bravo", "affirm")


def at(step: str, brief: bool = False) -> Simulator:
    """The card of this file, standing at a step with its cautions acknowledged."""
    job = Simulator(CARD, brief)
    for line in TO[step]:
        job.wait(line) if isinstance(line, int) else job.say(line)
    assert job.job.at == step and job.job.mode == "asking", job.spoken[-3:]
    return job


def account(job: Simulator) -> Account:
    """What the log of a simulated job tells."""
    told = enumerate(zip(job.events, job.stamps))
    return Account("van.jsonl", {}, tuple(Entry(n, stamp(now.at_ms), now.up_ms, event) for n, (event, now) in told), "")


# -- on the card -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("old, new, line, words", [
    ("hold: true\n        cautions", "hold: perhaps\n        cautions", 27, 'hold must be true or false, not "perh'),
    ("{spelling: released by, least: 2, most: 4}", "affirm", 27,
     "a hold point must ask for a spelling: the initials of whoever releases it"),
    ("{spelling: released by, least", "{spelling: mechanic, least", 30, 'must not call who releases it "mechanic"'),
    ("personal: true", "may_leave_open: true", 29, "a hold point must not be left open"),
    ("personal: true", "at_most: 2\n        after_that: over", 29, "a hold point must not have at_most"),
    ("personal: true", "on_the_road: true", 29, "a hold point must be released at a stand"),
])
def test_a_hold_point_that_could_be_passed_by_is_a_fault_of_the_card(old, new, line, words):
    """Each fault is told on its line when the card loads, as `companion check` prints it."""
    assert old in CARD
    with pytest.raises(CardErrors) as raised:
        load_card(CARD.replace(old, new, 1), "x")
    assert [(fault.line, words in fault.text) for fault in raised.value.faults] == [(line, True)]


@pytest.mark.parametrize("answer, fine", [
    ("{spelling: released by}", True), ("affirm", False), ("{count: caps}", False)])
def test_an_editor_sees_what_a_hold_point_must_ask_for(answer, fine):
    """The JSON Schema holds the same rule: only a spelling."""
    step = {"id": "release", "say": "Who releases it?", "hold": True, "answer": yaml.safe_load(answer)}
    card = {**yaml.safe_load(CARD), "stages": [{"stage": "one", "steps": [step]}]}
    assert jsonschema.Draft202012Validator(json_schema()).is_valid(card) == fine


# -- at the vehicle ----------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("brief, words", [
    (False, "Spell the initials of whoever releases the start."), (True, "Initials.")])
def test_a_hold_point_is_said_as_one_each_time(brief, words):
    """Its name before the step's own words, the office after them; brief words leave neither out, nor does repeat."""
    whole = f"Hold point. This waits for a sign-off. {words} The office must sign it too."
    job = at("release", brief)
    assert job.last == whole and job.say("repeat").last == whole
    assert "Hold point released. Logged." in job.say("golf hotel", "affirm").spoken
    assert "Hold point" not in job.last, "other steps are said as they were"


def test_the_screen_shows_what_a_hold_point_is():
    """What is asked stands on the screen whole, beside whatever is large."""
    job = at("release").job
    assert board(job, 0).asks == board(job, 0).step == at("release").last


def test_a_caution_comes_before_the_hold_points_words():
    """Whoever releases hears first what can hurt."""
    job = Simulator(CARD).say("next")
    assert job.last.startswith("Caution.") and "Hold point" not in job.last


@pytest.mark.parametrize("said", [
    "next", "done", "leave out", "leave open", "affirm", "negative", "end the wait", "seven", "golf"])
def test_nothing_but_a_spelled_release_passes_a_hold_point(said):
    """Whatever else is said is refused or not understood, and the job stays."""
    job = at("release").say(said)
    assert job.job.at == "release" and job.job.asked is None
    assert not [event for event in job.events if isinstance(event, ev.StepEnded) and event.step == "release"]
    assert not job.kinds(ev.StepLeftOut) and not job.kinds(ev.StepLeftOpen)


def test_a_refused_next_says_what_a_hold_point_waits_for():
    """Neither the mechanic nor a visitor is left guessing."""
    assert at("release").say("next").last == (
        "This is a hold point. Spell the initials of whoever releases it, or say pause, or stop job.")


def test_a_spelling_that_is_not_affirmed_is_no_release():
    """What was misheard is denied or corrected, and only the affirmed initials stand in the log."""
    job = at("look.1").say("alfa bravo", "negative")
    assert job.job.at == "look.1"
    job.say("alfa bravo", "correction, place two, charlie", "affirm")
    assert job.job.at == "look.2" and job.kinds(ev.SpellingLogged)[-1].text == "AC"


def test_it_waits_as_long_as_it_takes():
    """Ten hours, a pause, leaving the job and coming back the next day: it stands at the hold point, cautions first."""
    job = at("release").wait(36_000)
    assert job.job.at == "release" and not job.kinds(ev.SpellingLogged)
    job.say("pause").wait(600).say("resume")
    assert job.job.at == "release"
    job.say("stop job", "affirm").come_back(80_000).say("same mechanic")
    assert (job.job.at, job.job.mode) == ("release", "caution")
    assert "Hold point." in job.say("hands are clear").last
    assert job.say("golf hotel", "affirm").job.at == "start"


@pytest.mark.parametrize("cut", range(1, 4))
def test_a_job_cut_off_at_a_hold_point_comes_back_to_it(cut):
    """After a power cut in the middle of the release the job asks for it again."""
    job = at("release").say("golf hotel")
    back = job.cut(len(job.events) - cut).come_back(60).say("same mechanic")
    assert back.job.at == "release" and not back.kinds(ev.SpellingLogged)


# -- in the log, and in the office -------------------------------------------------------------------------------------

@pytest.mark.parametrize("step, passed", [
    ("release", ()), ("start", ("release",)), ("look.2", ("release", "look.1")),
    ("over", ("release", "look.1", "look.2"))])
def test_the_log_tells_which_hold_points_were_passed_and_by_whom(step, passed):
    """Those whose step ended, each with its line; the one that is waited for is not among them."""
    job = at(step)
    told = account(job)
    assert tuple(holds_passed(told)) == passed
    for hold, initials in zip(holds_in(told), ("GH", "AB", "AB")):
        event = told.entries[hold.line - 1].event
        assert hold.by == initials and isinstance(event, ev.SpellingLogged) and event.step == hold.step


def test_a_hold_point_passed_twice_shows_its_last_release():
    """Going back asks for the release again; the log keeps both, and the later one is who let the job go on."""
    job = at("look.2").say("previous step", "charlie delta", "affirm")
    assert [hold.by for hold in holds_in(account(job))] == ["GH", "CD"]


def test_a_card_without_hold_points_and_a_log_without_a_card_have_none():
    """Nothing is made up where there is nothing."""
    assert holds_passed(account(Simulator().say("next"))) == {} == holds_passed(Account("x.jsonl", {}, (), ""))


def test_from_the_vehicle_to_the_office(tmp_path, monkeypatch, capsys):
    """A real log: the initials are hashed where the step is personal, and the finding stands until the office signs."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    lines = [f"wait {line} s" if isinstance(line, int) else line for line in (*TO["over"], "next")]
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    (tmp_path / "hold.yaml").write_text(CARD, encoding="utf-8")
    log = tmp_path / "van.jsonl"
    assert main(["job", str(tmp_path / "hold.yaml"), "--log", str(log), "--typed", "--clock", "simulated"]) == 0
    assert '"GH"' not in log.read_text(encoding="utf-8") and '"AB"' in log.read_text(encoding="utf-8")
    told = read_account(log)
    assert [hold.by for hold in holds_in(told)] == ["GH", "AB", "AB"]
    for count, (step, seal) in enumerate(holds_passed(told).items()):
        unsigned = list(hold_findings(log.name, holds_passed(told), read_review(tmp_path)))
        assert len(unsigned) == 3 - count
        append(tmp_path, HoldSignedOff(by="R. Example", log=log.name, step=step, reason="seen", seal=seal), device_key(),
               f"2026-02-03T08:0{count}:00.000Z")
    assert not list(hold_findings(log.name, holds_passed(told), read_review(tmp_path)))
    log.with_name("van.personal").unlink()
    assert holds_in(read_account(log))[0].by == "(erased)"
