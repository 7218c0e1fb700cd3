"""Looking after a lone mechanic: agreed intervals, checks, the alarm, calling help, the road, signing off.

Intervals agreed beforehand and what follows when they pass: HSE INDG73 (seen second-hand), which gives no minutes; the
minutes here are invented.
"""
from __future__ import annotations

import pytest

from companion.core import events as ev
from companion.core.card import CardErrors, load_card
from companion.core.job.effects import Hush, Message, Tone
from companion.core.grammar import Reading
from companion.core.job.alone.acts import _ring, alarm_over
from companion.core.job.draft import Draft
from companion.core.job.inputs import AlarmHeard, CameBack, LogFailed, LoneTerms, MessageDone, Now, SoundLost
from companion.core.job.listen import listen
from companion.core.job.alone.changes import step_ended
from companion.core.job.planned import planned
from companion.core.job.ticks import due
from golden import card, lines_of, play
from simulator import EVERY_KIND, Simulator, TO

TEN = 10 * 60_000
TERMS = LoneTerms(every_ms=TEN, contacts=2, place="lay-by, invented")


def lone(step: str = "", terms: LoneTerms = TERMS, **options: object) -> Simulator:
    """At a step of the card `every-kind`, looked after."""
    job = Simulator(lone=terms, **options)  # type: ignore[arg-type]
    for line in TO.get(step, ()):
        job.wait(line) if isinstance(line, int) else job.say(line)
    return job


def injector_at(step: str, **options: object) -> Simulator:
    return play(Simulator(card("common-rail-injector"), lone=LoneTerms(), **options), lines_of("injector-clean"), until=step)


def messages(job: Simulator) -> list[str]:
    return [effect.kind for effect in job.effects if isinstance(effect, Message)]


def tones(job: Simulator) -> list[str]:
    return [effect.kind for effect in job.effects if isinstance(effect, Tone) and effect.kind.startswith("alarm")]


def live(job: Simulator) -> set[str]:
    return {rule.name for rule in listen(job.job).rules}


# -- agreeing ----------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("terms, words", [
    (LoneTerms(), "Nobody checks on you in this job. No one is called, whatever you say."),
    (LoneTerms(contacts=2), "Nobody checks on you in this job. When you say emergency, two contacts get a message."),
    (LoneTerms(every_ms=TEN), "but no one is called. Tell somebody where you are."),
    (LoneTerms(every_ms=TEN, contacts=1), "and then one contact gets a message."),
    (LoneTerms(every_ms=TEN, contacts=2), "I check on you when I hear nothing for ten minutes."),
])
def test_what_was_agreed_is_said_at_the_start(terms, words):
    """Also that no one will be called, or that nobody checks at all."""
    assert words in lone(terms=terms).since(0)


@pytest.mark.parametrize("asked, every, by", [
    (0, 20 * 60_000, "card"), (15 * 60_000, 15 * 60_000, "operator"), (60 * 60_000, 20 * 60_000, "card")])
def test_the_operator_may_ask_for_more_checks_than_the_card_but_not_for_fewer(asked, every, by):
    """The shorter of the two holds."""
    agreed = Simulator(card("common-rail-injector"), lone=LoneTerms(every_ms=asked)).kinds(ev.LoneWorkAgreed)[0]
    assert (agreed.every_ms, agreed.by, agreed.at_risk_ms) == (every, by, 6 * 60_000)


def test_the_mechanic_sets_the_interval_by_voice():
    """Shorter than the card's, or any where the card has none; never longer than the card's."""
    assert lone(terms=LoneTerms()).say("check on me every five minutes").kinds(ev.LoneWorkAgreed)[-1].every_ms == 300_000
    job = Simulator(card("common-rail-injector"), lone=LoneTerms())
    play(job, lines_of("injector-clean"), until="contact")
    assert job.say("check on me every one hours").kinds(ev.Refused)[-1].why.startswith("The card checks on you more often")
    job.say("check on me every ten minutes")
    assert job.job.lone.every_ms == TEN and "ten minutes" in job.last
    assert [type(event) for event in job.events[-2:]] == [ev.ChecksAsked, ev.LoneWorkAgreed]
    assert job.events[-2].heard.words == "check on me every ten minutes"


# -- checks ------------------------------------------------------------------------------------------------------------

def test_silence_brings_a_check_before_the_interval_runs_out_and_i_am_okay_answers_it():
    """The check comes `within` before the ten minutes; nothing else of the job changes."""
    job = lone("torque").wait(9 * 60 - 1)
    before = job.job.mode
    assert not job.kinds(ev.CheckedOn)
    job.wait(1)
    assert job.last == "Checking on you. Say: I am okay." and job.job.mode == before
    job.say("I am okay")
    assert job.kinds(ev.CheckAnswered)[-1].number == 1 and job.last == "Good."
    job.wait(9 * 60 - 1)
    assert len(job.kinds(ev.CheckedOn)) == 1
    job.wait(1)
    assert len(job.kinds(ev.CheckedOn)) == 2


@pytest.mark.parametrize("words, score, sure, counts", [
    ("7.5", None, True, True),
    ("7.5", "0.95", True, True),
    ("I am okay", "0.95", True, True),
    ("how long", None, True, True),       # typed: a hand was on the keyboard
    ("how long", "0.70", True, False),    # harmless words are heard in noise too easily
    ("louder", "0.99", True, False),
    ("7.5", "0.60", False, False),        # a doubt that is asked back
    ("cylinder one", "0.95", True, False),  # refused here
])
def test_what_counts_as_a_sign_of_life(words, score, sure, counts):
    """What is surely heard and goes on record, or was typed; nothing that noise is easily taken for."""
    job = lone("torque").wait(9 * 60)
    assert job.job.lone.answer_by_up
    job.say(words, sure=sure, score=score)
    assert (job.job.lone.answer_by_up == 0) == counts


@pytest.mark.parametrize("step", ["torque", "fitted", "codes"])
def test_mumbling_is_no_sign_of_life(step):
    """A radio may be what was heard, nor is what the companion offers after it a sign of anybody."""
    job = lone(step).wait(9 * 60).mumble(7)
    assert job.job.lone.answer_by_up and job.kinds((ev.DigitsBegun, ev.KeyOffered))


@pytest.mark.parametrize("words", ["stop", "pause", "timer two minutes", "memo"])
def test_what_is_done_without_asking_back_is_no_sign_of_life(words):
    """It is done however doubtfully it was heard."""
    job = lone("torque", ear="test").wait(9 * 60).say(words, sure=False, score="0.40")
    assert job.job.lone.answer_by_up


def test_the_check_s_answer_is_listened_for_only_then():
    """One phrase more that is live is one more that can be taken for another."""
    job = lone("torque")
    assert "okay" not in live(job)
    assert "okay" in live(job.wait(9 * 60))


@pytest.mark.parametrize("step", [*TO])
def test_a_check_comes_and_can_be_answered_at_every_step(step):
    """Whatever is asked there; the job stands where it stood."""
    job = lone(step)
    clocks_due = due(job.job)
    assert clocks_due is not None
    job.jump(9 * 60)
    job.jump(0)
    while not job.job.lone.answer_by_up and job.job.mode != "ended":
        job.wait(30)
    at, mode = job.job.at, job.job.mode
    job.say("I am okay")
    assert (job.job.at, job.job.mode) == (at, mode) and job.kinds(ev.CheckAnswered)


def test_a_silence_that_was_asked_for_is_checked_on_too():
    """"pause" asks for silence, not to be forgotten."""
    job = lone("torque").say("pause").wait(9 * 60)
    assert job.last.startswith("Checking on you")
    assert job.say("I am okay").job.paused


def test_a_companion_that_cannot_hear_asks_for_a_typed_answer():
    """Else the alarm would rise over somebody who answers all the time."""
    job = lone("torque")
    job.take(SoundLost("ear", "it stalls"))
    assert job.wait(9 * 60).last == "Checking on you. Type: I am okay."
    job.say("I am okay")
    assert job.kinds(ev.CheckAnswered)


# -- risk --------------------------------------------------------------------------------------------------------------

def test_an_open_fuel_system_shortens_the_interval_until_it_is_closed():
    """From the step that opens it to the last union's torque."""
    job = injector_at("crack-union")
    assert job.job.lone.risks == ("fuel system open",)
    job.wait(5 * 60)
    assert len(job.kinds(ev.CheckedOn)) == 1
    closed = injector_at("turn-by-hand")
    assert closed.job.lone.risks == () and closed.job.lone.interval_ms == 20 * 60_000


@pytest.mark.parametrize("outcome, over", [
    ("done", True), ("inside", True), ("negative", False), ("outside", False), ("wrong", False)])
def test_a_risk_ends_with_what_was_done_only(outcome, over):
    """A step that was answered "negative" has closed nothing."""
    job = injector_at("crack-union").job
    step = next(step for step in job.card.steps if step.ends_risks)
    assert (not step_ended(job, step, outcome, Now(0, 0)).risks) == over


def test_a_raised_vehicle_shortens_the_interval_until_it_is_lowered():
    """Only what was done ends a risk."""
    job = play(Simulator(card("road-wheels"), lone=LoneTerms()), lines_of("road-wheels"), until="faces")
    assert job.job.lone.risks == ("raised vehicle",) and job.job.lone.interval_ms == 5 * 60_000
    job = play(Simulator(card("road-wheels"), lone=LoneTerms()), lines_of("road-wheels"), until="another-wheel")
    assert job.job.lone.risks == ()


# -- the alarm ---------------------------------------------------------------------------------------------------------

def silent(job: Simulator) -> Simulator:
    """Nobody answers the check: until the first alarm."""
    job.wait(9 * 60 + 60 + 30)
    assert job.job.lone.level == 1
    return job


def test_no_answer_brings_a_rising_alarm_and_then_a_call_for_help():
    """Three levels, then the message, once; the alarm goes on."""
    job = silent(lone("torque", mechanic="AB")).wait(3 * 20)
    assert tones(job) == ["alarm 1", "alarm 2", "alarm 3", "alarm 3"] and messages(job) == ["help"]
    text = next(effect.text for effect in job.effects if isinstance(effect, Message))
    assert "AB does not answer" in text and "lay-by, invented" in text and text.startswith("PRACTICE")
    job.wait(10 * 60)
    assert messages(job) == ["help"] and len(tones(job)) == 14
    assert [event.why for event in job.kinds(ev.HelpCalled)] == ["no answer"]


def test_after_a_break_help_can_be_called_again():
    """The call before it was for another silence; nothing of it may keep the next one from going out."""
    for before in (silent(lone("torque")).wait(60), lone("torque").say("emergency")):
        assert messages(before) == ["help"]
        before.come_back(600)
        assert messages(before.say("same mechanic", "emergency")) == ["help", "help"]


def test_an_alarm_is_ended_in_two_parts_only():
    """One misheard word does not end it, and a second part that comes too late begins again."""
    job = silent(lone("torque"))
    assert job.say("7.5").kinds(ev.ValueLogged) == [] and job.job.mode == "alarm"
    job.say("affirm")
    assert job.job.lone.level
    job.say("alarm over")
    assert job.job.lone.level
    job.say("I am okay")
    assert job.job.mode == "alarm" and job.last == "To end the alarm, say: alarm over."
    assert job.say("next").last == "To end the alarm, say: alarm over."
    job.wait(20)
    assert job.job.lone.level == 2
    job.say("alarm over")
    assert job.job.lone.level
    job.say("I am okay", "alarm over")
    assert job.job.lone.level == 0 and job.kinds(ev.AlarmEnded) and job.job.mode == "asking"
    assert job.say("7.5").kinds(ev.ValueLogged)


def test_the_all_clear_goes_to_whoever_was_called():
    """And to nobody where nobody was."""
    job = silent(lone("torque")).say("I am okay", "alarm over")
    assert messages(job) == []
    job = silent(lone("torque")).wait(60).say("I am okay", "alarm over")
    assert messages(job) == ["help", "all clear"] and not job.job.lone.called


def test_an_alarm_breaks_a_leak_watch():
    """A watch that nobody watches does not pass; after the alarm the job goes where silence leads."""
    job = lone("watch")
    assert job.job.watched
    draft = Draft(job.job, Now(job.at, job.up))
    _ring(draft)
    assert [type(event) for event in draft.events] == [ev.AlarmRaised, ev.RunBroken]
    sounds = planned(job.job, draft.events, draft.now)[1]
    assert [effect.kind for effect in sounds if isinstance(effect, Tone)] == ["alarm 1", "alarm"]
    assert not any(isinstance(effect, Hush) for effect in sounds[1:])  # neither silences the other
    alarm_over(draft, Reading("alarm_over"))
    assert draft.events[-2].outcome == "silence"


def test_a_wait_goes_on_under_an_alarm():
    """It protects a person whatever rings, and is over afterwards."""
    job = lone("pressure-wait", terms=LoneTerms(every_ms=2 * 60_000))
    job.wait(4 * 60 + 60)
    assert job.job.lone.level
    job.say("I am okay", "alarm over")
    assert job.job.at == "rail-pressure"


def test_a_silence_that_was_asked_for_outlasts_an_alarm():
    """The job stands still until "resume"."""
    job = lone("pressure-wait", terms=LoneTerms(every_ms=2 * 60_000)).say("pause").wait(4 * 60 + 60)
    job.say("I am okay", "alarm over")
    assert job.job.mode == "paused" and job.job.at == "pressure-wait"
    assert job.say("resume").job.at == "rail-pressure"


def test_emergency_calls_at_once_and_over_gives_the_all_clear():
    """Without asking back; ended in two parts as well."""
    job = lone("torque").say("emergency")
    assert messages(job) == ["help"] and job.kinds(ev.HelpCalled)[-1].why == "emergency"
    job.wait(60 * 60)
    assert not job.kinds(ev.CheckedOn)
    job.say("emergency over", "affirm")
    assert messages(job) == ["help", "all clear"] and job.job.mode == "asking"
    job.say("emergency")
    assert messages(job) == ["help", "all clear", "help"]


def test_where_nobody_can_be_called_the_alarm_goes_on():
    """And nothing claims that help was called."""
    job = silent(lone("torque", terms=LoneTerms(every_ms=TEN))).wait(5 * 60)
    assert not job.kinds(ev.HelpCalled) and messages(job) == [] and len(tones(job)) > 4
    assert "help is called" not in job.since(0).lower().replace("no one is called", "")


@pytest.mark.parametrize("kind, sent, words", [
    ("help", True, "The call for help is sent."), ("help", False, "It is tried again."),
    ("all clear", False, "Tell them yourself."), ("test", True, "The test message is sent.")])
def test_what_became_of_a_message_is_said_and_logged(kind, sent, words):
    job = lone("torque")
    job.take(MessageDone(kind, sent, "" if sent else "no network"))
    assert words in job.last and job.kinds(ev.MessageSent)[-1].sent is sent


# -- the road, the contact, the end ------------------------------------------------------------------------------------

def test_on_the_road_prompts_rest_and_the_agreed_return_time_counts():
    """Nothing is asked for the agreed minutes; then a check, and the alarm where it is not answered."""
    job = injector_at("back")
    minutes = int(next(event for event in job.kinds(ev.ValueLogged) if event.name == "return time").value)
    said, start = len(job.spoken), job.up
    left = job.job.lone.back_by_up - start
    assert 0 < left <= minutes * 60_000
    job.wait(left / 1000 - 1)
    assert job.since(said) == "The road test is over."  # the clock of the drive, which asks nothing
    job.wait(1)
    assert job.kinds(ev.CheckedOn)[-1].why == "return time" and "Checking on you" in job.last
    job.wait(90)
    assert job.job.lone.level == 1


def test_whoever_is_late_and_says_so_is_checked_on_as_usual():
    job = injector_at("back")
    job.wait((job.job.lone.back_by_up - job.up) / 1000).say("I am okay")
    job.wait(18 * 60)
    assert len(job.kinds(ev.CheckedOn)) == 1
    job.wait(60)
    assert len(job.kinds(ev.CheckedOn)) == 2


def test_a_contact_is_told_when_to_call_and_so_is_the_mechanic():
    """The message is sent at the start; ten minutes before the time the mechanic is told."""
    terms = LoneTerms(every_ms=TEN, contacts=1, call_by_ms=1_700_000_000_000 + 30 * 60_000, call_by_said="sixteen forty")
    job = lone("torque", terms=terms)
    assert messages(job) == ["call by"] and "Your contact calls at sixteen forty" in job.since(0)
    for _ in range(4):
        job.wait(5 * 60).say("repeat")
    assert len(job.kinds(ev.CallByNear)) == 1


def test_without_a_way_to_send_it_the_mechanic_is_asked_to_say_it():
    terms = LoneTerms(every_ms=TEN, call_by_ms=1_700_000_000_000 + 30 * 60_000, call_by_said="sixteen forty")
    assert "Tell somebody now: call me at sixteen forty. I cannot send it." in lone(terms=terms).since(0)


def test_signing_off_ends_it():
    """The card's last step; the contacts are told, and nobody checks any more."""
    job = Simulator(card("common-rail-injector"), lone=LoneTerms(contacts=1))
    play(job, lines_of("injector-clean"))
    assert job.kinds(ev.SignedOff) and messages(job)[-1] == "signed off" and job.job.mode == "ended"


def test_nobody_checks_on_whoever_has_signed_off_while_the_log_is_not_written():
    """The job is not over then, but the mechanic is gone."""
    job = Simulator(card("common-rail-injector"), lone=LoneTerms(contacts=1))
    job.take(LogFailed("the disk is full"))
    play(job, lines_of("injector-clean"))
    checks = len(job.kinds(ev.CheckedOn))
    job.wait(2 * 60 * 60)
    assert job.job.mode == "unwritten" and job.kinds(ev.SignedOff) and len(job.kinds(ev.CheckedOn)) == checks


def test_no_check_breaks_into_a_memo():
    """It comes when the memo is over; what began it may have been noise."""
    job = lone("torque", ear="test").wait(9 * 60 - 10).say("memo", score="0.90").wait(60)
    assert job.job.memo and not job.kinds(ev.CheckedOn)
    job.wait(30)
    assert not job.job.memo and job.kinds(ev.CheckedOn)


def test_leaving_the_job_says_that_nobody_checks_any_more():
    assert "Nobody checks on you now." in lone("torque").say("stop job", "affirm").since(0)


def test_after_a_power_cut_whoever_comes_back_is_looked_after_again():
    """In whatever state it was, and with the return time as it stood."""
    job = silent(lone("torque")).come_back(600, same_boot=False)
    assert job.job.lone.level == 0 and job.job.lone.sign_up == job.up
    job.wait(9 * 60)
    assert job.kinds(ev.CheckedOn)
    road = injector_at("back")
    left = road.job.lone.back_by_up - road.up
    road.come_back(300, same_boot=False)
    assert road.job.lone.back_by_up - road.up == left - 300_000


@pytest.mark.parametrize("given, every, place, said", [
    (LoneTerms(contacts=1), TEN, "lay-by, invented", "sixteen forty"),
    (LoneTerms(every_ms=TEN // 2, contacts=1), TEN // 2, "lay-by, invented", "sixteen forty"),
    (LoneTerms(contacts=1, place="yard, invented"), TEN, "yard, invented", "sixteen forty"),
    (LoneTerms(contacts=1, call_by_ms=1_700_000_000_000 + 9 * TEN, call_by_said="seventeen"), TEN, "lay-by, invented",
     "seventeen"),
])
def test_what_is_given_on_coming_back_holds_beside_what_was_agreed(given, every, place, said):
    """Nothing that was asked for on the command line is passed over in silence."""
    agreed = LoneTerms(TEN, 1, "lay-by, invented", 1_700_000_000_000 + 6 * TEN, "sixteen forty")
    job = lone("torque", terms=agreed)
    job.take(CameBack("boot", True, lone=given))
    now = job.job.lone
    assert (now.every_ms, now.place, now.call_by_said) == (every, place, said)
    assert messages(job) == ["call by"] * (1 + (given != LoneTerms(contacts=1)))


def test_a_time_to_call_that_has_passed_is_sent_to_nobody_again():
    job = lone("torque", terms=LoneTerms(TEN, 1, "", 1_700_000_000_000 + TEN, "sixteen"))
    job.jump(60 * 60)
    job.take(CameBack("boot", True, lone=LoneTerms(contacts=2)))
    assert messages(job).count("call by") == 1 and not job.job.lone.call_by_ms


@pytest.mark.parametrize("answer, then", [("affirm", ["help", "all clear"]), ("negative", ["help", "help"])])
def test_whoever_was_called_before_a_power_cut_hears_how_it_ended(answer, then):
    """The one who goes on is asked; "negative" calls help again, as an emergency."""
    job = silent(lone("torque")).wait(60)
    assert messages(job) == ["help"]
    job.come_back(600, same_boot=False).say("same mechanic")
    assert job.last == "Help was called before the program stopped. Is all clear now? Affirm, or negative?"
    job.say(answer)
    assert messages(job) == then and job.job.emergency == (answer == "negative")
    if answer == "negative":
        job.say("emergency over", "affirm")
        assert messages(job)[-1] == "all clear" and not job.job.proofs


def test_an_emergency_called_after_the_alarm_called_is_told_to_the_contacts_too():
    """They know then that somebody speaks, and says so."""
    job = silent(lone("torque")).wait(60).say("emergency")
    assert [event.why for event in job.kinds(ev.HelpCalled)] == ["no answer", "emergency"]


@pytest.mark.parametrize("contacts, words", [(0, "No one is called from here. Call for help yourself."), (1, "Help is being called.")])
def test_an_emergency_sounds_the_alarm_at_its_loudest_and_says_whether_anybody_is_called(contacts, words):
    job = lone("torque", terms=LoneTerms(every_ms=TEN, contacts=contacts))
    said = len(job.spoken)
    job.say("emergency")
    assert tones(job) == ["alarm 3"] and words in job.since(said)


def test_how_many_could_not_be_reached_is_said():
    """That nobody got it must not be said where somebody did."""
    job = lone("torque")
    job.take(MessageDone("help", False, "1 of 2 could not be reached", 1))
    assert job.last == "One of two contacts could not be reached. It is tried again."


def test_a_note_is_not_spoken_into_about_the_contact_s_call():
    """It is said once the memo is over."""
    terms = LoneTerms(every_ms=TEN, contacts=1, call_by_ms=1_700_000_000_000 + 11 * 60_000, call_by_said="sixteen forty")
    job = lone("torque", terms=terms, ear="test ear").say("memo").wait(80)
    assert job.job.memo and not job.kinds(ev.CallByNear)
    assert job.wait(60).kinds(ev.CallByNear)


# -- the day's test ----------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("answer, heard_it, words", [
    ("affirm", True, "Unroll"), ("negative", False, "Do not work alone until you can hear the alarm.")])
def test_the_alarm_is_tested_and_the_mechanic_says_whether_it_was_heard(answer, heard_it, words):
    """Then the first step is asked again."""
    job = Simulator(card("learning"), lone=TERMS)
    job.take(AlarmHeard("clear"))
    assert messages(job) == ["test"] and job.last == "Did you hear the alarm? Affirm, or negative?"
    said = len(job.spoken)
    job.say(answer)
    assert job.kinds(ev.AlarmTestAnswered)[-1].heard_it is heard_it is job.job.lone.alarm_heard and words in job.since(said) and "Unroll" in job.since(said)


# -- old logs, and cards -----------------------------------------------------------------------------------------------

def test_a_job_without_terms_is_not_checked_on():
    """Logs that are older hold none, and replay as they were."""
    job = Simulator(card("common-rail-injector")).wait(3 * 3600)
    assert job.job.lone is None and not job.kinds(ev.CheckedOn)


ALONE = "alone: {every: 20 min, at_risk: 6 min, within: 1 min}\n"


@pytest.mark.parametrize("old, new, words", [
    ("card: 1\n", "card: 1\n" + ALONE, "a step that ends the job must sign off"),
    ("answer: done}\n", "answer: done, signs_off: true}\n", 'signs_off must stand on a card with "alone"'),
    ("card: 1\n", "card: 1\n" + ALONE.replace("20 min", "5 h"), "every must be from 1 min to 4 h"),
    ("card: 1\n", "card: 1\n" + ALONE.replace("within: 1 min", "within: 5 s"), "within must be 20 s or more"),
    ("card: 1\n", "card: 1\n" + ALONE.replace("6 min", "30 min"), "at_risk must be at most every"),
    ("card: 1\n", "card: 1\n" + ALONE.replace("}", ", back_by: nothing}"), "back_by must name a value in minutes"),
])
def test_what_does_not_hold_about_working_alone_is_found_on_the_card(old, new, words):
    assert old in EVERY_KIND
    with pytest.raises(CardErrors) as found:
        load_card(EVERY_KIND.replace(old, new, 1), "card.yaml")
    assert words in str(found.value)


@pytest.mark.parametrize("old, new, words", [
    ("        risks: [fuel system open]\n", "", "a step that opens a line under pressure must name the risk that begins"),
    ("ends_risks: [fuel system open]", "ends_risks: [fuel sistem open]", 'ends_risks must name a risk that a step begins'),
    (", back_by: return time", "", "a card with a step on the road must name the agreed return time"),
    ("        signs_off: true\n", "", "a step that ends the job must sign off"),
])
def test_a_shipped_card_that_forgets_a_part_of_it_is_found_out(old, new, words):
    text = card("common-rail-injector")
    assert old in text
    with pytest.raises(CardErrors) as found:
        load_card(text.replace(old, new, 1), "card.yaml")
    assert words in str(found.value)


def test_i_am_okay_is_welcome_unasked():
    """It is a sign of life, and the interval begins anew; whoever says it early is not told off."""
    job = lone("torque").wait(5 * 60).say("I am okay")
    assert job.last == "Good." and job.job.lone.sign_up == job.up
    assert job.say("I am okay", sure=False, score="0.50").last != "Good."
    assert lone("torque", terms=LoneTerms()).say("I am okay").kinds(ev.Refused)


def test_that_no_one_is_called_is_said_again_when_the_alarm_is_at_its_top():
    job = silent(lone("torque", terms=LoneTerms(every_ms=TEN))).wait(40)
    assert "No one is called from here." in job.last
