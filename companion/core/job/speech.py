"""What the edge carries out after each event: speech, tones, hushing. Derived from the event and the state after it.

Short sentences, one act each, and nothing a voice stumbles over.
"""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.job.effects import Effect, Hush, Say, Tone
from companion.core.job.found import FOUND
from companion.core.job.held_words import HELD_WORDS, left_words, logged, still_held
from companion.core.job.alone.words import LONE, all_clear, emergency, left
from companion.core.job.prompt import asking_words, caution_words, prompt, proof_words, question, say, so_far
from companion.core.job.resuming import by_which_clock
from companion.core.job.sound_words import SOUND, memo_ends, voice
from companion.core.job.state import Job
from companion.core.job.telling import clock_words, duration, limits, quantity, step_words, tell
from companion.core.numbers import say_digits, say_number

PRACTICE = "This is a practice card. Its figures are invented. Use it on no real vehicle."
CHECK_PLACE = "Say emergency at any moment to hear the emergency words."
CLIPS = "Sound is kept. Each answer that changes the log is kept beside it as sound. What is personal is not."


def effects(event: ev.Event, job: Job) -> tuple[Effect, ...]:
    """What `event` makes sound; `job` is the state after it. While paused only what was asked for is said."""
    make = _EFFECTS.get(type(event))
    made = still_held(event, job) + (make(event, job) if make else ())
    unsaid = _unsaid(event, job)
    return tuple(effect for effect in made if not isinstance(effect, unsaid))


def _unsaid(event: ev.Event, job: Job) -> tuple[type, ...]:
    """The kinds of sound to be spared here: on the road, in a silence that was asked for, into a memo."""
    if job.begun and job.step.on_the_road and isinstance(event, _UNSAID_ON_THE_ROAD):
        return (Say, Tone)
    if job.paused and not isinstance(event, _SAID_IN_SILENCE):
        return (Say,)
    return (Say,) if job.mode == "memo" and not isinstance(event, _SAID_IN_MEMO) else ()


_UNSAID_ON_THE_ROAD = (ev.MarkReached, ev.SoundWasLost, ev.SoundWasFound, ev.PartFaltered, ev.SoundStuttered, ev.StillDeaf)
_SAID_IN_SILENCE = (ev.Paused, ev.Repeated, ev.Told, ev.Refused, ev.Asked, ev.EmergencyCalled, ev.EmergencyEnded,
                    ev.RunBroken, ev.Settled, ev.JobLeft, ev.VoiceSet, ev.SoundWasLost, ev.SoundWasFound,
                    ev.StillDeaf, ev.LogHeldBack, ev.LogCaughtUp, *LONE)
_SAID_IN_MEMO = (ev.MemoBegun, ev.MessageSent, ev.Refused, ev.NotUnderstood, ev.SoundWasLost, ev.SoundWasFound, ev.LogHeldBack,
                 ev.LogCaughtUp)


# -- the job and its steps ---------------------------------------------------------------------------------------------

def _opened(event: ev.JobOpened, job: Job) -> tuple[Effect, ...]:
    card = job.card
    return say(f"{card.title}.", PRACTICE if card.practice else "", card.defers, CHECK_PLACE, CLIPS if event.clips else "")


def _resumed(event: ev.JobResumed, job: Job) -> tuple[Effect, ...]:
    torn = "The last entry was cut off and was never logged." if event.torn_bytes else ""
    away = f"Job resumed after {duration(event.away_ms)}{by_which_clock(event, job)}."
    memo = "No memo is kept of what was being said." if job.memo else ""
    return (Hush(), voice(job), *say(away, torn, memo, CLIPS if event.clips else ""), *proof_words(job))


def _begun(event: ev.StepBegun, job: Job) -> tuple[Effect, ...]:
    stages = [job.card.step(step).stage for step in job.trail[-2:]]
    new_stage = len(stages) == 1 or stages[0] != stages[-1]
    stage = say(f"Stage: {job.step.stage}.") if new_stage else ()
    how = {"previous": "Back.", "open": "Left open:", "again": "Make it safe again."}.get(event.how, "")
    if job.cautions:
        return (*stage, *say(how), *caution_words(job))
    return (*stage, *say(how, step_words(job), so_far(job)))


def _acknowledged(event: ev.CautionAcknowledged, job: Job) -> tuple[Effect, ...]:
    return caution_words(job) if job.cautions else say(step_words(job))


def _proved(event: ev.Event, job: Job) -> tuple[Effect, ...]:
    return proof_words(job) if job.proofs else ()


def _ended(event: ev.JobEnded, job: Job) -> tuple[Effect, ...]:
    out = f"Steps left out: {say_number(str(len(event.left_out)))}." if event.left_out else ""
    return say("The job is done.", out, PRACTICE if job.card.practice else "")


# -- answers -----------------------------------------------------------------------------------------------------------

def _value(event: ev.ValueLogged, job: Job) -> tuple[Effect, ...]:
    said = quantity(ev.plain(event.value), event.unit)
    if event.adaptor is not None:
        said = f"{quantity(ev.plain(event.said), event.said_unit)} on the wrench is {said} at the bolt"
    elif event.said_unit != event.unit:
        said = f"{quantity(ev.plain(event.said), event.said_unit)} is {said}"
    return say("Corrected." if event.corrects else "", f"{said}.", _verdict(event, job), pace="number")


def _verdict(event: ev.ValueLogged, job: Job) -> str:
    """Short; the figures behind it are in the log."""
    asked_again = not event.reason and job.at == event.step and job.step.must and "outside" not in job.step.then
    if event.verdict == "too close":
        more = " Too close to call. Measure again, or use a better tool." if asked_again else ""
        return f"{event.side.capitalize()}, but only just.{more}"
    if event.verdict != "outside":
        return "Inside." if event.verdict == "inside" else logged(job)
    found = (f"It rose from {quantity(format(event.rose_from, 'f'), event.unit)}." if event.rose_from is not None
             else limits(event.low, event.high, event.unit))
    return f"Outside. {found}" + (" It is not accepted. Make it right, then read again." if asked_again else "")


def _count(event: ev.CountLogged, job: Job) -> tuple[Effect, ...]:
    said = f"{event.name}: {say_number(str(event.count))}."
    if event.must_be is None:
        return say(said, logged(job))
    if event.verdict == "right":
        return say(said, "Right.")
    return say(said, f"It must be {say_number(str(event.must_be))}. Find the difference, then count again.")


def _settled(event: ev.Settled, job: Job) -> tuple[Effect, ...]:
    if event.answer != "negative":
        return ()
    if event.about == "alarm test":
        return ()
    if event.about == "doubt":  # a caution that was cut short is heard whole
        return prompt(job) if job.mode == "cautioning" else ()
    return say("Cancelled.") + prompt(job)


def _choice(event: ev.AnswerGiven, job: Job) -> tuple[Effect, ...]:
    answer = ev.plain(event.answer)
    return () if answer == "done" else say(f"{answer}.")


# -- trouble -----------------------------------------------------------------------------------------------------------

def _not_understood(event: ev.NotUnderstood, job: Job) -> tuple[Effect, ...]:
    words = {1: "Say again.", 2: "Say again, closer and slower."}.get(event.failures, "Say again, or say options.")
    return (Tone("again"), *say(words))


def _refused(event: ev.Refused, job: Job) -> tuple[Effect, ...]:
    why = event.why
    if event.why.startswith("Answer the caution") and job.cautions:
        why = f"Say: {job.card.cautions[job.cautions[0]].answer}"
    return (*say(f"{why}."), *(prompt(job) if job.mode == "alarm" else ()))


def _key(event: ev.KeyOffered, job: Job) -> tuple[Effect, ...]:
    return say("Use the keyboard now. Press Enter to agree, or type the answer.")


# -- clocks ------------------------------------------------------------------------------------------------------------

def _clock_started(event: ev.ClockStarted, job: Job) -> tuple[Effect, ...]:
    if event.kind == "timer":
        return say(f"Timer started. {duration(event.lasts_ms)}.")
    return say(f"{job.card.clocks[event.clock].say} starts: {duration(event.lasts_ms)}.")


def _mark(event: ev.MarkReached, job: Job) -> tuple[Effect, ...]:
    return say(f"{duration(event.left_ms)} left on {clock_words(job, job.clocks[event.clock])}.")


def _clock_ended(event: ev.ClockEnded, job: Job) -> tuple[Effect, ...]:
    if event.kind == "run":
        return ()
    name = "your timer" if event.kind == "timer" else job.card.clocks[event.clock].say
    return (Tone("time"), *say(f"{name} is over."))


def _question(event: ev.QuestionAsked, job: Job) -> tuple[Effect, ...]:
    return question(job)


def _run_answered(event: ev.RunAnswered, job: Job) -> tuple[Effect, ...]:
    again = "" if event.number else "Keep watching."
    return say(f"{event.answer}.", again)


def _broken(event: ev.RunBroken, job: Job) -> tuple[Effect, ...]:
    """It does not wait behind what is being read; a pause, an emergency or an alarm has silenced that already, and says its
    own."""
    hush = () if job.paused or job.mode in ("emergency", "alarm") else (Hush(),)
    return (*hush, Tone("alarm"), *say("Stop the engine now. The watch is broken and counts as not passed."))


def _told(event: ev.Told, job: Job) -> tuple[Effect, ...]:
    return say(tell(job, event.topic))


_EFFECTS: dict[type[ev.Event], Callable[..., tuple[Effect, ...]]] = {
    ev.JobOpened: _opened,
    ev.JobResumed: _resumed,
    ev.JobLeft: lambda event, job: (Hush(), *say(left_words(job)), *left(job)),
    ev.JobEnded: _ended,
    ev.StepBegun: _begun,
    ev.StepLeftOpen: lambda event, job: say("Left open."),
    ev.StepLeftOut: lambda event, job: say("Left out.", logged(job)),
    ev.OpenStepsDue: lambda event, job: say("Before this, do what was left open."),
    ev.CautionAcknowledged: _acknowledged,
    ev.SafeguardProved: _proved,
    ev.SafeguardDoubted: _proved,
    ev.TimeAwayCounted: _proved,
    ev.TimeAwayDropped: _proved,
    ev.SameMechanicStated: _proved,
    ev.TakenOver: _proved,
    ev.AnswerGiven: _choice,
    ev.ValueLogged: _value,
    ev.ReadingNoted: lambda event, job: say(f"Noted: {quantity(event.value, event.unit)}.", pace="number"),
    ev.CountLogged: _count,
    **FOUND,
    **SOUND,
    **HELD_WORDS,
    **LONE,
    ev.SpellingLogged: lambda event, job: say("Hold point released." if job.step.hold else "", logged(job)),
    ev.Asked: lambda event, job: asking_words(event, job),
    ev.Settled: _settled,
    ev.NotUnderstood: _not_understood,
    ev.DigitsBegun: lambda event, job: prompt(job),
    ev.DigitHeard: lambda event, job: say(f"{_last_digit(job)}.", pace="number"),
    ev.KeyOffered: _key,
    ev.Refused: _refused,
    ev.ClockStarted: _clock_started,
    ev.MarkReached: _mark,
    ev.ClockEnded: _clock_ended,
    ev.WaitCutShort: lambda event, job: say("The wait was cut short.", logged(job)),
    ev.TimerCancelled: lambda event, job: say("Timer cancelled."),
    ev.QuestionAsked: _question,
    ev.RunAnswered: _run_answered,
    ev.RunBroken: _broken,
    ev.Paused: lambda event, job: (Hush(), *memo_ends(job), *say("Paused.")),
    ev.Resumed: lambda event, job: say("Going on.") + prompt(job),
    ev.Repeated: lambda event, job: prompt(job),
    ev.Told: _told,
    ev.BriefSet: lambda event, job: say("Brief words." if event.on else "Full words."),
    ev.EmergencyCalled: lambda event, job: (Hush(), *memo_ends(job), *emergency(job)),
    ev.EmergencyEnded: lambda event, job: (*all_clear(job), *say("" if job.paused else "Going on."), *prompt(job)),
}


def _last_digit(job: Job) -> str:
    last = (job.digits or "")[-1:]
    return {".": "point", "-": "minus", "": "nothing"}.get(last) or say_digits(last)
