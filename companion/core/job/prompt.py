"""What the companion asks at this moment: the step, a caution, a run's question, a proof, whatever is asked back."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.events.disk import CHANGED
from companion.core.job.effects import Effect, Say
from companion.core.job.measuring import measure
from companion.core.job.resuming import still_question
from companion.core.job.spelled import vin_verdict
from companion.core.job.state import Job
from companion.core.job.telling import filled, limits, quantity, step_words
from companion.core.numbers import say_digits
from companion.core.spelling import say_spelling


def not_written(job: Job) -> str:
    """What is to be done while the job's end waits for its log."""
    if job.held == CHANGED:
        return "Its log cannot be written any more. Write down what you did. Say: stop job."
    return "The log cannot be written yet. Make room, and keep the program running."


def say(*sentences: str, tag: str = "", pace: str = "prose") -> tuple[Effect, ...]:
    """One utterance of several sentences; none where all are empty."""
    text = " ".join(sentence[0].upper() + sentence[1:] for sentence in sentences if sentence)
    return (Say(text, tag, pace),) if text else ()


def are_you_okay(job: Job, opening: str = "Are you okay?") -> str:
    """A check, or an alarm, and how to answer it: where nothing can be heard, a spoken answer must not be asked for."""
    how = "Type" if {"ear", "microphone"} & set(job.lost) else "Say"
    if job.lone.answered:
        return f"To end the alarm, {how.lower()}: alarm over."
    return f"{opening} {how}: I am okay."


def prompt(job: Job) -> tuple[Effect, ...]:
    """What the companion asks at this moment."""
    if job.mode == "emergency":
        return say(job.card.emergency, "When it is over, say: emergency over.")
    if job.mode == "alarm":
        return say(are_you_okay(job))
    if job.mode == "paused":
        return say("Paused. Say resume to go on.")
    if job.asked is not None:
        return asking_words(job.asked, job)
    if job.proofs:
        return proof_words(job)
    if job.mode == "memo":
        return ()
    if job.cautions:
        return caution_words(job)
    if job.digits is not None:
        return say("Say the digits one by one. Then say: that is all.")
    if job.watched and job.watch.asked:
        return question(job)
    if job.mode == "unwritten":
        return say("The last step is done.", not_written(job))
    return say(step_words(job), so_far(job)) if job.begun else ()


def question(job: Job) -> tuple[Effect, ...]:
    """The run's question; its last word opens the time for its answer."""
    return say(filled(job, job.step.answer.ask), tag=f"question:{job.watch.number}")


def so_far(job: Job) -> str:
    """The fault codes said so far in the present step."""
    return "So far: " + ". ".join(say_spelling(code) for code in job.codes) + "." if job.codes else ""


def caution_words(job: Job) -> tuple[Effect, ...]:
    """The present caution, whole, with the words that answer it."""
    name = job.cautions[0]
    caution = job.card.cautions[name]
    return say("Caution.", caution.say, f"Say: {caution.answer}.", tag=f"caution:{name}")


def proof_words(job: Job) -> tuple[Effect, ...]:
    """The next question on coming back."""
    if job.proofs[0] == "mechanic":
        return say("Who goes on? Say: same mechanic. Or say: taking over.")
    if job.proofs[0] == "clear:help":
        return say("Help was called before the program stopped.", "Is all clear now? Affirm, or negative?")
    return say(still_question(job, job.proofs[0]), "Affirm, or negative?")


def asking_words(asked: ev.Asked, job: Job) -> tuple[Effect, ...]:
    """What is asked back."""
    if asked.needs == "reason":
        return say(_ASKING[asked.about](asked, job), "Say a reason.")
    return say(_ASKING[asked.about](asked, job), pace="number" if asked.about in ("spelling", "digits") else "prose")


def _outside(asked: ev.Asked, job: Job) -> str:
    digits, unit = ev.plain(asked.value).split(" ", 1)
    answer = job.step.answer
    said = f"{quantity(digits, unit)}. Outside. {limits(answer.low, answer.high, answer.unit)}"
    if asked.needs == "affirm":
        return f"{said} Say affirm to log it, or read again and say the new value."
    return f"{said} Read again and say the new value, or keep it."


def _too_close(asked: ev.Asked, job: Job) -> str:
    digits, unit = ev.plain(asked.value).split(" ", 1)
    side = measure(job, job.step.answer, digits, unit).side
    end = " Say affirm to log it as it is." if asked.needs == "affirm" else ""
    return (f"{quantity(digits, unit)}. {side[:1].upper()}{side[1:]}, but only just: too close to call. "
            f"Measure again, or use a better tool.{end}")


def _spelling(asked: ev.Asked, job: Job) -> str:
    text = ev.plain(asked.value)
    amiss = not job.proofs and getattr(job.step.answer, "vin", False) and vin_verdict(text) == "does not fit"
    note = " Its check character does not fit." if amiss else ""
    return f"{say_spelling(text)}.{note} Affirm, or correction?"


_ASKING: dict[str, Callable[[ev.Asked, Job], str]] = {
    "doubt": lambda asked, job: f"Did you say: {ev.plain(asked.value)}? Affirm, or negative?",
    "undo": lambda asked, job: "This cannot be undone. Affirm, or negative?",
    "outside": _outside,
    "too close": _too_close,
    "leave out": lambda asked, job: "Leave this step out? Affirm, or negative?" if asked.reason else "Leave it out. Why?",
    "end the wait": lambda asked, job: "End the wait early? Affirm, or negative?" if asked.reason else "End the wait. Why?",
    "stop job": lambda asked, job: "Leave the job? Leave everything safe. Affirm, or negative?",
    "spelling": _spelling,
    "digits": lambda asked, job: f"{say_digits(ev.plain(asked.value))}. Affirm, or negative?",
    "unit": lambda asked, job: f"{asked.value} of what? Say the whole unit.",
    "mechanic": lambda asked, job: "Spell your initials.",
    "emergency over": lambda asked, job: "Is the emergency over? Affirm, or negative?",
    "alarm test": lambda asked, job: "Did you hear the alarm? Affirm, or negative?",
}
