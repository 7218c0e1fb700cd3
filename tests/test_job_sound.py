"""How the companion speaks, spoken memos, and devices lost and found: each a fact of the job."""
from __future__ import annotations

from decimal import Decimal
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.core import events as ev
from companion.core.commands import REASONS, STANDING
from companion.core.job.effects import Hush, Record, Say, SetVoice, StopRecording, Tone
from companion.core.job.inputs import MemoTaken, RoomHeard, SoundFound, SoundLost
from companion.core.job.listen import listen
from companion.core.job.sound import LOUDNESS, SPEEDS, VOICE_WORDS
from companion.core.sounding import sounds_alike
from companion.core.understand import options
from simulator import at

KEPT = MemoTaken(1, "van.memo-1.flac", "ab" * 32, 11_200, "the union was wet before I began")


def memo(step: str = "torque"):
    """A job with a memo being recorded."""
    return at(step, ear="test ear").say("memo", score="0.97")


# -- the voice ---------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("word, then", [
    ("slower", [(85, 0), (70, 0)]), ("faster", [(115, 0), (130, 0)]),
    ("quieter", [(100, -6)]), ("louder", [(100, 6), (100, 12)])])
def test_the_voice_goes_step_by_step_to_its_end_and_no_further(word, then):
    """Each word changes one thing by one step, confirmed in the new voice; at the end nothing changes and that is told."""
    job = at("torque").say(*[word] * len(then))
    assert [(event.word, event.speed, event.loudness) for event in job.kinds(ev.VoiceSet)] == [
        (word, *voice) for voice in then]
    assert job.effects[-2:] == [SetVoice(*then[-1]), Say(f"{word.capitalize()}.")]
    job.say(word)
    assert job.last == {"slower": "This is the slowest.", "faster": "This is the fastest.",
                        "quieter": "This is the quietest.", "louder": "This is the loudest."}[word]
    assert isinstance(job.events[-1], ev.Told) and len(job.kinds(ev.VoiceSet)) == len(then)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(VOICE_WORDS), max_size=12))
def test_any_order_of_voice_words_stays_on_its_steps(words):
    """The state, the last event and the last effect agree, and the voice never leaves its steps."""
    job = at("torque").say(*words)
    set_to = [(event.speed, event.loudness) for event in job.kinds(ev.VoiceSet)]
    assert (job.job.voice_speed, job.job.voice_loudness) == (set_to or [(100, 0)])[-1]
    assert all(speed in SPEEDS and loudness in LOUDNESS for speed, loudness in set_to)


def test_the_voice_can_be_set_in_a_pause_and_is_as_it_was_after_a_restart():
    """A pause keeps silent, yet answers this; a program that comes back speaks as it was told, from its first word."""
    job = at("torque").say("pause", "louder", "slower")
    assert job.job.paused and job.last == "Slower."
    count = len(job.effects)
    job.come_back(5)
    assert job.effects[count:count + 2] == [Hush(), SetVoice(85, 6)]


def test_the_new_words_sound_like_nothing_that_is_live_with_them():
    """None is taken for another standing command, a reason, or one of the others (threshold of `core.sounding`)."""
    new = (*VOICE_WORDS, "memo")
    alike = {(a, b) for a in new for b in (*STANDING, *REASONS) if a != b and sounds_alike(a, b)}
    assert not alike | {(a, b) for a, b in permutations(new, 2) if sounds_alike(a, b)}


def test_the_voice_takes_two_places_in_the_list_of_options():
    """The list of what can be said stays short enough to listen to."""
    said = options(listen(at("torque").job))
    assert "slower, or faster" in said and "louder, or quieter" in said and "faster" not in said


# -- memos -------------------------------------------------------------------------------------------------------------

def test_a_memo_is_asked_for_recorded_kept_and_what_was_asked_is_asked_again():
    """Words, tone, recording in this order; then name, hash, length and personal draft in the log, and the prompt."""
    job = memo()
    words = "Speak after the tone. Two seconds of silence end the memo."
    assert job.effects[-3:] == [Say(words), Tone("memo"), Record(1)] and job.effects[-1].name == "memo-1"
    assert {rule.name for rule in listen(job.job).rules} == {"emergency", "stop"}
    job.take(KEPT)
    kept = job.events[-1]
    assert kept == ev.MemoKept(step="torque", memo=1, file=KEPT.file, sha256=KEPT.sha256, ms=11_200,
                               draft=ev.Personal(KEPT.draft))
    assert job.spoken[-2].startswith("Memo kept. Twelve seconds.")
    assert job.last == at("torque").last and job.job.mode == "asking"
    assert job.say("memo").effects[-1] == Record(2)


@pytest.mark.parametrize("taken, why", [
    (MemoTaken(1), "nothing was said"), (MemoTaken(1, fault="the disk is full"), "the disk is full"),
    (None, "no sound came")])
def test_a_memo_of_which_nothing_is_kept_says_why_and_holds_nothing_up(taken, why):
    """Silence, a fault, or no report at all within ninety seconds: the job goes on with its question."""
    job = memo()
    job.take(taken) if taken else job.wait(89).wait(1)
    assert job.events[-1] == ev.MemoLost(step="torque", memo=1, why=why)
    assert f"No memo is kept. {why.capitalize()}." in job.spoken and job.job.mode == "asking"
    assert not job.take(KEPT), "what comes later is no longer waited for"


def test_a_memo_is_not_disturbed():
    """What is said into it is no answer, no failure, and no "stop" while the ear is not sure; a clock that runs out
    sounds its tone, and no words are spoken into it."""
    job = at("torque", ear="test ear").say("timer one minute", "memo")
    events, said = len(job.events), len(job.spoken)
    job.mumble(4).say("", "stop", sure=False)
    assert len(job.events) == events
    job.wait(60)
    assert job.kinds(ev.ClockEnded) and len(job.spoken) == said and job.effects[-1] == Tone("time")


@pytest.mark.parametrize("word, mode", [("stop", "paused"), ("emergency", "emergency")])
def test_stop_and_emergency_end_a_memo_and_keep_what_was_said(word, mode):
    """The recording ends at once; what it holds is logged without a word into the silence or the emergency."""
    job = memo()
    count = len(job.effects)
    job.say(word)
    assert StopRecording() in job.effects[count:] and job.job.mode == mode
    said = len(job.spoken)
    assert isinstance(job.take(KEPT)[0], ev.MemoKept)
    assert len(job.spoken) == said and not job.job.memo


def test_a_wait_that_runs_out_during_a_memo_is_over_after_it():
    """Its clock goes on; the step ends when the memo does, and only the next step's words are said."""
    job = at("pressure-wait", ear="test ear").wait(200).say("memo").wait(50)
    assert job.job.at == "pressure-wait" and job.job.clocks["bleed-down"].ended
    job.take(KEPT)
    assert job.job.at == "rail-pressure" and job.job.mode == "asking"


def test_a_memo_cut_off_by_the_end_of_the_program_is_told_of_before_the_first_question():
    """The log says that nothing is kept, and so does the companion; the question is the last thing said."""
    job = memo().come_back(10)
    assert [type(event) for event in job.events[-2:]] == [ev.JobResumed, ev.MemoLost]
    assert job.events[-1].why == "the program stopped"
    assert "No memo is kept of what was being said." in job.spoken[-2] and "Who goes on?" in job.last


@pytest.mark.parametrize("step, ear, lost, why", [
    ("torque", "typed", "", "There is no microphone"), ("torque", "test ear", "microphone", "The microphone is gone"),
    ("watch", "test ear", "", "The watch is not over. Answer the question when it comes"),
    ("crack", "test ear", "", "Answer the caution first, in its own words")])
def test_where_no_memo_can_be_taken_it_is_refused_aloud(step, ear, lost, why):
    """No microphone, or something that keeps people safe comes first."""
    job = at(step, ear=ear)
    job.take(SoundLost(lost)) if lost else None
    job.say("memo")
    assert isinstance(job.events[-1], ev.Refused) and job.events[-1].why == why and not job.kinds(ev.MemoBegun)


def test_a_typed_line_during_a_memo_is_told_to_wait():
    """The keyboard stays live, but nothing else begins."""
    job = memo().say("next")
    assert job.last == "Wait until the memo is kept." and job.job.memo == 1


# -- devices -----------------------------------------------------------------------------------------------------------

def test_a_lost_microphone_is_told_once_and_found_again_with_the_question():
    """However often the loss is reported; the step it happened at stands in the log."""
    job = at("torque", ear="test ear")
    question = job.last
    count = len(job.effects)
    job.take(SoundLost("microphone", "device unplugged"))
    assert job.events[-1] == ev.SoundWasLost(step="torque", part="microphone", why="device unplugged")
    assert job.effects[count:] == [Tone("alarm"), Say("The microphone is gone. Connect it again, or type.")]
    assert not job.take(SoundLost("microphone")) and not job.take(SoundFound("loudspeaker"))
    job.take(SoundFound("microphone"))
    assert job.spoken[-2:] == ["The microphone is back.", question] and not job.job.lost


def test_a_loudspeaker_that_comes_back_says_a_caution_from_its_first_word():
    """Words that nobody heard open nothing; the caution is whole again before it can be answered."""
    job = at("rail-pressure", speaks=False).say("zero bar")
    assert job.job.mode == "cautioning"
    caution = job.effects[-1]
    job.take(SoundLost("loudspeaker"))
    assert "loudspeaker is gone" in job.last
    job.take(SoundFound("loudspeaker"))
    assert job.effects[-3:] == [Hush(), Say("The loudspeaker is back."), caution] and caution.tag.startswith("caution:")


def test_a_microphone_that_comes_back_in_a_caution_does_not_begin_it_twice():
    """The loudspeaker is still saying it."""
    job = at("rail-pressure", speaks=False).say("zero bar")
    job.take(SoundLost("microphone"))
    job.take(SoundFound("microphone"))
    assert job.last == "The microphone is back."


def test_lost_sound_is_told_in_a_pause_but_not_on_the_road():
    """Silence was asked for, but whoever waits to say "resume" must know; at the wheel nobody is spoken to."""
    job = at("torque", ear="test ear").say("pause")
    job.take(SoundLost("microphone"))
    assert "microphone is gone" in job.last
    job = at("watch", ear="test ear").wait(60).say("dry").wait(60).say("dry").wait(60).say("dry")
    assert job.job.at == "drive"
    count = len(job.effects)
    for part in ("microphone", "loudspeaker"):
        job.take(SoundLost(part))
        job.take(SoundFound(part))
    assert len(job.kinds(ev.SoundWasFound)) == 2 and set(job.effects[count:]) <= {Hush()}


def test_a_microphone_lost_during_a_memo_ends_it():
    """What was recorded so far is handed in and kept."""
    job = memo()
    job.take(SoundLost("microphone"))
    assert StopRecording() in job.effects and "microphone is gone" in job.last
    assert isinstance(job.take(KEPT)[0], ev.MemoKept)


def test_a_restart_begins_with_all_its_parts():
    """What the old program had lost says nothing of the new one."""
    job = at("torque", ear="test ear")
    job.take(SoundLost("microphone"))
    job.come_back(5)
    assert not job.job.lost


def test_a_closed_job_hears_of_no_device():
    """Nothing may follow the end."""
    job = at("torque").say("stop job", "affirm")
    assert not job.take(SoundLost("microphone")) and not job.take(RoomHeard("good", Decimal("-62.1")))


def test_the_room_is_logged_in_silence():
    """Its advice has been given by whoever measured it."""
    job = at("torque")
    said = len(job.effects)
    job.take(RoomHeard("noisy", Decimal("-31.5"), Decimal("-24.0"), Decimal("7.5"), Decimal("0.2"), ("A headset.",)))
    assert job.events[-1] == ev.RoomMeasured(
        step="torque", verdict="noisy", noise_db=Decimal("-31.5"), speech_db=Decimal("-24.0"), ratio_db=Decimal("7.5"),
        clipped=Decimal("0.2"), advice=("A headset.",))
    assert len(job.effects) == said
