"""The job core: what each thing said does, step by step, on a simulated clock."""
from __future__ import annotations

from decimal import Decimal

import pytest

from companion.core import events as ev
from companion.core.commands import RULES, phrases
from companion.core.job.effects import Hush, Say
from companion.core.job.speech import effects
from companion.core.job.table import TABLE
from companion.core.log.codec import encode
from simulator import EVERY_KIND, TO, Simulator, at


def test_the_job_opens_with_title_practice_deference_and_first_step():
    words = " ".join(Simulator().spoken)
    for piece in ("Every kind of step", "practice card", "maker's data", "Say emergency", "first words", "Lay the mat out"):
        assert piece in words


@pytest.mark.parametrize("step", TO)
def test_every_step_can_be_reached_by_plain_answers(step):
    """Each kind of step ends on its plain answer (`at` asserts where it stands)."""
    at(step)


ANSWERS = [
    # step, said, the fact logged, fields that must hold
    ("torque", "seven point five", ev.ValueLogged, dict(value="7.5", unit="N·m", verdict="inside", said_unit="N·m")),
    ("torque", "seven decimal five newton metres", ev.ValueLogged, dict(value="7.5", verdict="inside")),
    ("torque", "log value 7.50 newton-meters.", ev.ValueLogged, dict(value="7.50", said="7.50")),
    # 66.4 lbf·in = 7.502 N·m: 1 lbf·in = 0.1129848290276167 N·m (NIST SP 811, App. B)
    ("torque", "sixty six point four inch pounds", ev.ValueLogged,
     dict(value="7.5", said="66.4", said_unit="lbf·in", verdict="inside")),
    ("rags", "three", ev.CountLogged, dict(count=3, verdict="right")),
    ("rags", "two", ev.CountLogged, dict(count=2, verdict="wrong")),
    ("codes", "papa zero two six three", ev.CodeHeard, dict(code="P0263")),
    ("suspect", "cylinder two", ev.AnswerGiven, dict(answer="cylinder two", name="suspect cylinder")),
    ("fitted", "negative", ev.AnswerGiven, dict(answer="negative")),
    ("rail-pressure", "three", ev.ValueLogged, dict(value="3", unit="bar", verdict="inside")),
]


@pytest.mark.parametrize("step, said, kind, fields", ANSWERS)
def test_answers_are_logged_as_said_and_as_understood(step, said, kind, fields):
    fact = at(step).say(said).kinds(kind)[-1]
    assert {name: getattr(fact, name) for name in fields} == fields
    assert fact.step == step


def test_a_value_is_read_back_with_unit_and_verdict():
    job = at("torque")
    before = len(job.spoken)
    assert "Seven point five newton metres. Inside." in job.say("7.5").since(before)


def test_teens_and_tens_are_read_back_digit_by_digit():
    """Design, speech rules: fifteen and fifty are told apart by digits."""
    assert "one five" in at("torque").say("fifteen").last and "five zero" in at("torque").say("fifty").last


def test_what_came_from_speech_carries_words_score_and_ear():
    fact = at("torque").say("seven point five", score="0.91").kinds(ev.ValueLogged)[-1]
    assert fact.heard == ev.Hearing("seven point five", Decimal("0.91"), "test ear")


# -- out of limits -----------------------------------------------------------------------------------------------------

def test_a_value_outside_needs_a_reason_and_affirm():
    job = at("torque").say("nine")
    assert "Outside" in job.last and "seven to eight newton metres" in job.last and not job.kinds(ev.ValueLogged)
    job.say("affirm")
    assert not job.kinds(ev.ValueLogged), "affirm alone is a reflex"
    job.say("the maker allows it", "affirm")
    fact = job.kinds(ev.ValueLogged)[-1]
    assert (fact.value, fact.verdict, fact.reason) == ("9", "outside", "the maker allows it")


def test_a_value_outside_is_replaced_by_a_new_reading():
    job = at("torque").say("nine", "seven point two")
    assert [fact.value for fact in job.kinds(ev.ValueLogged)] == ["7.2"]


def test_a_protecting_value_outside_is_never_accepted():
    """Promise 1: rail pressure above the card's limit leads back to the wait, with no way to affirm it away."""
    job = at("rail-pressure").say("forty bar")
    assert job.job.at == "pressure-wait-again" and job.job.mode == "waiting"
    assert job.kinds(ev.ValueLogged)[-1].verdict == "outside"
    job.say("affirm", "leave out", "end the wait", "next", "previous step")
    assert job.job.at in ("pressure-wait-again", "rail-pressure") and not job.kinds(ev.StepLeftOut)


def test_a_wrong_count_must_be_counted_again():
    job = at("rags").say("two", "affirm", "leave out", "next")
    assert job.job.at == "rags"
    assert job.say("three").job.at == "codes"


@pytest.mark.parametrize("said, asked, answer, value", [
    ("sixty six pounds", "Pounds of what", "inch pounds", "7.5"),
    ("66.4 pounds", "Pounds of what", "pound inches", "7.5"),
    ("seven point five newtons", "Newtons of what", "newton metres", "7.5"),
])
def test_an_ambiguous_unit_is_asked_never_guessed(said, asked, answer, value):
    job = at("torque").say(said)
    assert asked in job.last and not job.kinds(ev.ValueLogged)
    assert job.say(answer).kinds(ev.ValueLogged)[-1].value == value


def test_a_unit_of_another_quantity_is_refused():
    job = at("torque").say("log value seven bar")
    assert job.job.at == "torque" and not job.kinds(ev.ValueLogged)


# -- doubt -------------------------------------------------------------------------------------------------------------

def test_a_doubtful_hearing_is_asked_before_it_is_logged():
    job = at("torque").say("seven point five", sure=False, score="0.40")
    assert "Did you say: seven point five?" in job.last and not job.kinds(ev.ValueLogged)
    job.say("affirm", score="0.95")
    fact = job.kinds(ev.ValueLogged)[-1]
    assert fact.value == "7.5" and fact.heard.score == Decimal("0.40"), "the act keeps its own score"


def test_a_doubt_denied_changes_nothing_and_counts_as_a_failure():
    job = at("torque").say("seven point five", sure=False).say("negative")
    assert job.job.failures == 1 and not job.kinds(ev.ValueLogged) and job.job.at == "torque"


@pytest.mark.parametrize("step, asked, doubtful, kind, fields", [
    ("torque", "sixty six point four pounds", "inch pounds", ev.ValueLogged, dict(value="7.5")),
    ("torque", "leave out", "tool missing", ev.Asked, dict(about="leave out", reason="tool missing")),
    ("part", "alfa one bravo three", "correction place four two", ev.Asked, dict(about="spelling", value="A1B2")),
    ("torque", "nine", "seven point two", ev.ValueLogged, dict(value="7.2")),
])
def test_a_doubtful_answer_to_what_was_asked_is_still_its_answer(step, asked, doubtful, kind, fields):
    fact = at(step).say(asked).say(doubtful, sure=False).say("affirm").kinds(kind)[-1]
    assert {name: getattr(fact, name) for name in fields} == fields
    job = at(step).say(asked)
    before = job.job.asked
    assert job.say(doubtful, sure=False).say("negative").job.asked == before, "denied: the question stands"


def test_a_doubt_in_the_middle_of_a_caution_has_it_read_again():
    job = at("rail-pressure")
    job.speaks = False
    job.say("zero bar").say("stop job", sure=False)
    before = len(job.spoken)
    assert "Fuel may be under high pressure" in job.say("negative").since(before) and job.job.mode == "cautioning"


def test_a_doubtful_affirm_settles_nothing():
    job = at("crack").say("pressure gone", "next").say("affirm", sure=False)
    assert job.job.mode == "assent" and job.job.at == "crack"


def test_a_doubtful_answer_said_again_the_same_counts():
    """A caution's words, an affirm: two hearings that agree are worth one that is sure; two that differ are not."""
    job = at("crack").say("pressure gone", sure=False)
    assert job.job.cautions and "Say again" in job.last
    assert not job.say("pressure gone", sure=False).job.cautions
    job = at("fitted").say("affirm", sure=False).say("negative", sure=False)
    assert job.job.at == "fitted"
    assert job.say("negative", sure=False).job.at == "tidy-up"


def test_three_failures_offer_digit_by_digit_then_the_key():
    job = at("torque").mumble(3)
    assert job.job.mode == "digits" and "digits one by one" in job.last
    job.say("seven", "decimal", "five", "that is all")
    assert "Seven point five" in job.last
    assert job.say("affirm").kinds(ev.ValueLogged)[-1].value == "7.5"
    job = at("torque").mumble(6)
    assert job.kinds(ev.KeyOffered) and "keyboard" in job.last


def test_digits_that_were_denied_are_said_from_the_first_one_again():
    job = at("torque").mumble(3).say("nine", "that is all", "affirm", "negative")
    assert job.job.mode == "digits" and job.job.digits == ""


def test_digit_by_digit_can_be_taken_back():
    job = at("torque").mumble(3).say("seven", "decimal", "nine", "correction", "five", "that is all", "affirm")
    assert job.kinds(ev.ValueLogged)[-1].value == "7.5"


def test_the_offered_key_does_the_one_thing_it_was_offered_for():
    assert at("begin").say("").job.at == "begin", "not offered: only repeats"
    assert at("begin").mumble(3).say("").job.at == "who"


# -- corrections -------------------------------------------------------------------------------------------------------

def test_the_value_just_read_back_can_be_corrected():
    job = at("suspect").say("correction seven point two")
    fact = job.kinds(ev.ValueLogged)[-1]
    assert (fact.step, fact.value, fact.corrects, job.job.at) == ("torque", "7.2", True, "suspect")


def test_a_correction_that_changes_the_verdict_goes_back_to_its_step():
    job = at("suspect").say("correction nine")
    assert job.job.at == "torque" and job.job.mode == "reason"


def test_a_correction_passes_over_a_step_that_only_speaks():
    assert at("fitted").say("correction").job.at == "tidy"


def test_a_bare_correction_loses_no_codes():
    job = at("codes").say("papa zero two six four", "correction")
    assert job.job.at == "codes" and job.job.codes == ("P0264",)


def test_a_spelling_is_corrected_by_place():
    job = at("part").say("alfa one bravo three", "correction place four two")
    assert "Alfa one Bravo two" in job.last
    assert job.say("affirm").kinds(ev.SpellingLogged)[-1].text == "A1B2"


def test_a_fault_code_is_corrected_and_its_structure_checked():
    """Structure: P, C, B or U, a digit 0 to 3, three hexadecimal digits (SAE J2012)."""
    job = at("codes").say("papa zero two six four", "correction papa zero two six three", "tango one two three four",
                          "papa niner two six three", "no more codes")
    assert job.kinds(ev.CodesLogged)[-1].codes == ("P0263",)
    assert len(job.kinds(ev.Refused)) == 2


# -- cautions ----------------------------------------------------------------------------------------------------------

def test_a_caution_opens_only_after_its_last_word_and_only_to_its_own_words():
    job = at("rail-pressure")
    job.speaks = False
    job.say("zero bar")
    assert job.job.at == "crack" and job.job.mode == "cautioning"
    job.say("pressure gone")
    assert job.job.cautions, "said before the caution's last word"
    from companion.core.job.inputs import SpokenToEnd
    job.take(SpokenToEnd("caution:pressure"))
    for reflex in ("yes", "affirm", "next", "done", "okay"):
        job.say(reflex)
    assert job.job.cautions and not job.kinds(ev.CautionAcknowledged)
    job.say("pressure gone")
    assert not job.job.cautions and job.kinds(ev.CautionAcknowledged)[-1].caution == "pressure"


def test_a_caution_half_heard_is_read_again_after_a_pause():
    job = at("rail-pressure")
    job.speaks = False
    job.say("zero bar", "stop")
    before = len(job.spoken)
    assert "Fuel may be under high pressure" in job.say("resume").since(before)


def test_what_cannot_be_undone_needs_affirm():
    job = at("crack").say("pressure gone", "next")
    assert "cannot be undone" in job.last
    assert job.say("negative").job.at == "crack"
    assert job.say("next", "affirm").job.at == "cover.1"


# -- clocks ------------------------------------------------------------------------------------------------------------

def test_a_wait_that_protects_a_person_never_ends_early():
    job = at("pressure-wait").wait(200)
    for line in ("next", "end the wait", "leave out", "affirm", "leave open", "done", "emergency", "emergency over", "affirm"):
        job.say(line)
    assert job.job.at == "pressure-wait" and not job.kinds(ev.WaitCutShort) and not job.kinds(ev.ClockEnded)
    assert job.wait(40).job.at == "rail-pressure"


def test_only_stop_job_leaves_a_protecting_wait():
    job = at("pressure-wait").say("stop job", "affirm")
    assert job.job.mode == "ended" and job.kinds(ev.JobLeft)


def test_a_wait_that_protects_the_work_may_end_early_with_reason_and_affirm():
    job = at("settling").wait(30).say("end the wait", "affirm")
    assert job.job.at == "settling"
    job.say("maker's tool says ready", "affirm")
    fact = job.kinds(ev.WaitCutShort)[-1]
    assert (fact.left_ms, fact.reason) == (90_000, "maker's tool says ready") and job.job.at == "start"


def test_marks_are_spoken_and_after_a_jump_only_the_latest():
    job = at("settling").wait(120)
    assert [mark.left_ms for mark in job.kinds(ev.MarkReached)][-2:] == [60_000, 10_000]
    job = at("settling").jump(115)
    assert [mark.left_ms for mark in job.kinds(ev.MarkReached) if mark.clock == "settle"] == [10_000]


def test_a_clock_started_earlier_runs_on_beside_others():
    job = at("pressure-wait").say("timer one minute")
    assert set(job.job.clocks) == {"bleed-down", "timer 1"}
    job.wait(60)
    assert "your timer" in job.last.lower() and set(job.job.clocks) == {"bleed-down"}
    assert "left on the pressure wait" in job.say("how long").last


def test_a_wait_needed_again_starts_from_its_full_length():
    job = at("rail-pressure").say("forty bar").wait(230)
    assert job.job.at == "pressure-wait-again"
    assert job.wait(10).job.at == "rail-pressure"


# -- the run -----------------------------------------------------------------------------------------------------------

def test_a_run_asks_each_minute_and_ends_dry():
    job = at("watch")
    for _ in range(3):
        job.wait(60).say("dry")
    assert [answer.number for answer in job.kinds(ev.RunAnswered)] == [1, 2, 3] and job.job.at == "drive"


def test_silence_stops_the_engine_and_is_never_a_pass():
    job = at("watch").wait(60).say("dry").wait(60)
    assert job.job.at == "watch"
    job.wait(20)
    assert job.job.at == "engine-off" and job.kinds(ev.RunBroken)[-1].why == "silence"
    assert any("Stop the engine now" in words for words in job.spoken)


@pytest.mark.parametrize("lines, why", [(("stop",), "pause"), (("pause",), "pause"), (("emergency",), "emergency")])
def test_a_run_that_nobody_watches_is_broken(lines, why):
    job = at("watch").wait(60).say("dry").say(*lines)
    assert job.kinds(ev.RunBroken)[-1].why == why
    job.say(*(("resume",) if why == "pause" else ("emergency over", "affirm")))
    assert job.job.at == "engine-off"


@pytest.mark.parametrize("line", ["stop", "pause", "emergency"])
def test_stop_the_engine_is_said_after_the_silence_not_lost_in_it(line):
    """Promise 1: what was to be said is dropped by a hush, so nothing that must be heard comes before it."""
    job = at("watch")
    job.say(line)
    made = [effect for event in job.events[-2:] for effect in effects(event, job.job)]
    words = " ".join(effect.text for effect in made[made.index(Hush()):] if isinstance(effect, Say))
    assert "Stop the engine now" in words


def test_repeat_says_the_run_s_question_again_while_it_is_open():
    assert at("watch").wait(60).say("repeat").last == "Dry, or leaking?"
    assert "lamp and mirror" in at("watch").wait(60).say("dry", "repeat").last


def test_after_an_emergency_in_a_pause_the_pause_is_said():
    assert "Say resume" in at("torque").say("pause", "emergency", "emergency over", "affirm").last


def test_leaking_ends_the_run_at_once_asked_or_not():
    assert at("watch").wait(30).say("leaking at the union").job.at == "engine-off"


def test_dry_said_unasked_counts_for_nothing():
    job = at("watch").wait(30).say("dry").wait(30).wait(20)
    assert job.job.at == "engine-off"


def test_a_machine_that_slept_through_a_question_breaks_the_run():
    assert at("watch").jump(150).job.at == "engine-off"


@pytest.mark.parametrize("line, sure", [("stop job", True), ("leaking at the union", False)])
def test_a_run_goes_on_asking_while_something_else_waits_for_an_answer(line, sure):
    """Promise 1: whoever is asked back and falls silent is asked the run's question, and then told to stop the engine."""
    job = at("watch").wait(30).say(line, sure=sure).wait(30)
    assert "Dry, or leaking" in job.last and job.job.mode == "watching"
    assert job.wait(20).job.at == "engine-off"
    assert at("watch").wait(60).say("dry", sure=False).wait(20).job.at == "engine-off", "a doubt keeps no run alive"


def test_a_loop_is_bounded():
    job = at("watch")
    for _ in range(3):
        assert job.job.at == "watch"
        job.wait(30).say("leaking at the union", "next")
    assert job.job.at == "hand-over"


def test_on_the_road_it_is_silent_unless_spoken_to():
    """Design, speech rules: on the road it keeps time and asks nothing."""
    job = at("watch").wait(60).say("dry").wait(60).say("dry").wait(60).say("dry", "timer ten minutes")
    assert job.job.at == "drive"
    before = len(job.spoken)
    assert job.mumble(8).wait(500).since(before) == "" and not job.kinds(ev.NotUnderstood)
    assert "left on" in job.say("how long").last


# -- open, out, back ---------------------------------------------------------------------------------------------------

def at_the_gate() -> Simulator:
    """At a step left open, which the gate `start` wants done."""
    job = at("tidy").say("leave open")
    for line in ("affirm", "7.5", "cylinder two", "three", "no codes", "alfa one bravo two", "affirm", "next"):
        job.say(line)
    return job.wait(240).say("zero bar", "pressure gone", "next", "affirm", "next", "next").wait(120)


def test_a_step_left_open_is_done_before_the_gate():
    job = at_the_gate()
    assert job.job.at == "tidy" and job.kinds(ev.OpenStepsDue)[-1].gate == "start"
    assert "It must be done now" in job.say("leave open").last
    assert job.say("next").job.at == "start"


def test_leaving_out_asks_why_and_affirm():
    job = at("torque").say("leave out")
    assert "Why?" in job.last
    job.say("part not fitted here", "affirm")
    assert job.kinds(ev.StepLeftOut)[-1].reason == "part not fitted here" and job.job.at == "suspect"


@pytest.mark.parametrize("step", ["rags", "key-out", "pressure-wait", "rail-pressure", "settling"])
def test_protecting_steps_counts_and_waits_cannot_be_left_out(step):
    job = at(step).say("leave out")
    assert "cannot be left out" in job.last and job.job.at == step and job.job.asked is None


def test_previous_step_goes_back_through_what_was_gone_through():
    job = at("torque").say("previous step")
    assert job.job.at == "fitted"
    assert job.say("previous step").job.at == "tidy", "a step that only speaks is passed over"


def test_a_branch_leads_where_the_card_says():
    assert at("fitted").say("negative").job.at == "tidy-up"
    assert at("fitted").say("negative", "next").job.at == "torque"


# -- asides ------------------------------------------------------------------------------------------------------------

ASIDES = [
    ("torque", "repeat", "Tighten the bolt"),
    ("torque", "say again", "Tighten the bolt"),
    ("torque", "what torque", "seven to eight newton metres"),
    ("begin", "what torque", "Next, bolt torque"),
    ("torque", "what limit", "seven to eight newton metres"),
    ("suspect", "what did I read", "Bolt torque: seven point five newton metres"),
    ("rags", "which cylinder", "cylinder two"),
    ("begin", "detail", "shows what is missing"),
    ("rags", "where was I", "First words, step"),
    ("begin", "options", "next"),
    ("begin", "how long", "No clock is running"),
    ("begin", "timer five minutes", "five minutes"),
    ("pressure-wait", "how long", "Four minutes left on the pressure wait"),
    ("codes", "repeat", "for cylinder two"),
]


@pytest.mark.parametrize("step, said, answer", ASIDES)
def test_questions_about_the_job_are_answered(step, said, answer):
    job = at(step).say(said)
    assert answer in job.last and job.job.at == step


def test_brief_words_shorten_steps_but_never_cautions():
    job = at("begin").say("brief words", "repeat")
    assert job.last == "Mat."
    whole = at("crack").spoken[-1]
    assert at("crack", brief=True).spoken[-1] == whole and "Keep your hands away" in whole


@pytest.mark.parametrize("step", [step for step in TO] + ["begin"])
def test_emergency_is_read_at_once_at_any_moment(step):
    job = at(step).say("emergency")
    assert "Go to hospital emergency now" in " ".join(job.spoken[-2:]) and job.kinds(ev.EmergencyCalled)
    job.say("next", "resume", "done")
    assert job.job.mode == "emergency"
    job.say("emergency over", "affirm")
    assert not job.job.emergency


def test_stop_is_silence_until_resume():
    job = at("settling").say("stop")
    before = len(job.spoken)
    job.wait(90)
    assert job.since(before) == "", "no marks are spoken in a pause, though the clock goes on"
    assert job.kinds(ev.MarkReached)
    job.wait(60)
    assert job.say("resume").job.at == "start"


def test_a_command_at_the_wrong_moment_is_refused_aloud_and_logged():
    job = at("begin").say("end the wait")
    assert job.kinds(ev.Refused)[-1].act == "end_wait" and job.job.at == "begin"


def test_a_value_nobody_asked_for_is_noted_with_its_unit():
    job = at("begin").say("log value twelve point six volts")
    fact = job.kinds(ev.ReadingNoted)[-1]
    assert (fact.value, fact.unit) == ("12.6", "V") and job.job.at == "begin"
    assert "with its whole unit" in at("begin").say("log value twelve").last


def test_personal_words_are_marked_everywhere_they_stand():
    job = at("who").say("alfa bravo", "affirm")
    spelled = job.kinds(ev.SpellingLogged)[-1]
    assert spelled.text == ev.Personal("AB")
    for event in job.events:
        if event.step == "who" and event.heard is not None:
            assert isinstance(event.heard.words, ev.Personal)


def test_nothing_personal_stands_in_the_chain():
    """Whatever way a personal value is said, asked back, corrected or refused, the log's own lines never hold it."""
    card = EVERY_KIND.replace("answer: {value: bolt torque, unit: N·m, low: 7, high: 8, decimals: 1}}",
                              "answer: {value: bolt torque, unit: N·m, low: 700, high: 800}, personal: true}")
    job = Simulator(card)
    for line in (*TO["torque"], "711 pounds", "log value 911", "negative", "712"):
        job.say(line)
    job.say("713", sure=False).say("correction 714").say("correction 715", sure=False)
    job.come_back(60).say("taking over").say("golf hotel", sure=False).say("golf hotel", "affirm")
    assert job.job.value.value == ev.Personal("714") and job.job.mechanic == "GH"
    chain = " ".join(str(encode(event, lambda: b"0" * 16)[0]) for event in job.events[1:])
    for words in ("711", "911", "712", "714", "715", "golf", "GH", "alfa bravo"):
        assert words not in chain, words


# -- coming back -------------------------------------------------------------------------------------------------------

def test_resume_asks_who_and_proves_what_made_the_place_safe():
    job = at("crack").come_back(600)
    assert "Job resumed after ten minutes." in " ".join(job.spoken) and "Who goes on?" in job.last
    job.say("same mechanic")
    assert "Is the key still out" in job.last
    job.say("affirm")
    assert "rail pressure still gone" in job.last
    assert job.say("affirm").job.at == "crack" and job.job.mode == "caution"


def test_a_doubt_restarts_what_made_it_safe():
    job = at("crack").come_back(600).say("same mechanic", "affirm", "negative")
    assert job.job.at == "pressure-wait" and job.job.mode == "waiting"
    assert job.job.clocks["bleed-down"].left(job.up) == 240_000
    job = at("crack").come_back(600).say("same mechanic", "negative", "negative")
    assert job.job.at == "key-out", "the earliest of several doubts"


def test_a_doubt_outlives_a_second_crash():
    """Promise 1: killed again before all proofs were answered, the job still goes back to make the place safe."""
    job = at("crack").come_back(600).say("same mechanic", "negative").come_back(5).say("same mechanic", "affirm")
    assert job.job.at == "key-out"


def test_what_is_read_again_and_no_longer_safe_is_not_asked_for_as_safe():
    job = at("crack").say("previous step", "forty bar")
    assert job.job.at == "pressure-wait-again" and job.job.safeguards == ("key held",)


def test_a_doubt_or_a_step_back_at_a_gate_goes_the_whole_way_again():
    """Promise 1: from the wait that a doubt restarts the job goes on to the pressure reading, not straight to the gate."""
    job = at_the_gate().come_back(600).say("same mechanic", "affirm", "negative").wait(240)
    assert job.job.at == "rail-pressure"
    job = at_the_gate().say("previous step").wait(120)
    assert job.job.at == "tidy" and job.say("next").job.at == "start"


@pytest.mark.parametrize("same_boot", [True, False])
def test_time_away_counts_only_after_the_card_s_question(same_boot):
    job = at("pressure-wait").wait(100).come_back(60, same_boot).say("same mechanic", "affirm", "affirm")
    assert job.job.clocks["bleed-down"].left(job.up) == 80_000, "four minutes less 100 and 60 seconds"
    job = at("pressure-wait").wait(100).come_back(60, same_boot).say("same mechanic", "affirm", "negative")
    assert job.job.clocks["bleed-down"].left(job.up) == 240_000


def test_a_wait_without_that_question_is_not_credited():
    job = at("settling").wait(60).come_back(600).say("same mechanic", "affirm", "affirm")
    assert job.job.clocks["settle"].left(job.up) == 60_000, "the mark at one minute was the last entry"


def test_a_leak_run_restarts():
    job = at("watch").wait(60).say("dry").come_back(30).say("same mechanic")
    assert job.job.at == "watch" and job.job.clocks["leak-watch"].left(job.up) == 180_000 and job.job.watch.number == 0


def test_another_mechanic_takes_over_a_job_of_which_only_the_first_line_is_left():
    """A power cut can leave the opening alone on the disk, before any step began."""
    job = at("begin").cut(1).come_back(5).say("taking over", "charlie delta", "affirm")
    assert job.job.mechanic == "CD" and job.job.at == "begin"


def test_another_mechanic_takes_over_by_name():
    job = at("torque").come_back(60).say("taking over", "charlie delta", "affirm")
    assert job.kinds(ev.TakenOver)[-1].mechanic == ev.Personal("CD") and job.job.at == "torque"
    job = at("torque").come_back(60, mechanic="C. Delta")
    assert job.kinds(ev.TakenOver)[-1].mechanic == ev.Personal("C. Delta")


# -- the table ---------------------------------------------------------------------------------------------------------

def test_every_act_of_the_table_can_be_said():
    """Standing commands and the acts that steps make: no row is dead."""
    made = {"acknowledge", "choice", "code", "spelled", "reason", "unit", "digit", "run_answer"}
    assert {act for _, act in TABLE} == set(RULES) | made


def test_emergency_and_a_way_out_exist_in_every_mode():
    modes = {mode for mode, _ in TABLE}
    assert all((mode, "emergency") in TABLE for mode in modes)
    for mode in modes - {"assent", "reason", "unit", "initials", "digits", "memo", "emergency", "alarm"}:
        assert (mode, "stop_job") in TABLE, mode


def test_yes_and_no_are_live_only_where_they_were_asked_for():
    from companion.core.job.listen import listen
    for step in TO:
        job = at(step).job
        live = {rule.name for rule in listen(job).rules}
        assert ("affirm" in live) == (step == "fitted"), step
    assert phrases(RULES["affirm"]) == ("affirm", "yes")
