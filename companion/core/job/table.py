"""Every transition of a job: what each act does in each mode. A pair that is not listed is refused aloud and logged."""
from __future__ import annotations

from functools import lru_cache
from typing import Callable

from companion.core.job.alone import acts as alone
from companion.core.job import answering, asides, asking_back, measuring, resuming, sound, spelled
from companion.core import events as ev
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step, present
from companion.core.grammar import Reading
from companion.core.job.ticks import questions

Act = Callable[[Draft, Reading], None]

#: Modes (see `Job.mode`) in which a step is open for its answer.
_OPEN = ("asking", "digits")
#: Modes in which the mechanic has been asked something back.
_ASKED = ("assent", "reason", "unit", "initials")
_WORKING = (*_OPEN, "waiting", "watching", "caution", *_ASKED, "proving", "unwritten")
_ALIVE = (*_WORKING, "cautioning", "memo", "paused", "emergency", "alarm")


def _affirm(draft: Draft, reading: Reading) -> None:
    asking_back.affirm(draft, reading, perform)


def _acknowledge(draft: Draft, reading: Reading) -> None:
    """The caution's own words."""
    draft.add(ev.CautionAcknowledged, caution=draft.job.cautions[0])
    if not draft.job.cautions:
        present(draft)


def _run_answer(draft: Draft, reading: Reading) -> None:
    """A bad answer ends the run at once, asked or not; a good one counts only as the answer to a question."""
    run, job = draft.job.step.answer, draft.job
    answer, number = reading.get("choice"), job.watch.number if job.watch.asked else 0
    draft.add(ev.RunAnswered, clock=run.clock, number=number, answer=answer)
    if answer in run.bad:
        draft.add(ev.ClockEnded, clock=run.clock, kind="run")
        end_step(draft, answer)
    elif number == questions(job.clocks[run.clock], run):
        draft.add(ev.ClockEnded, clock=run.clock, kind="run")
        end_step(draft, "good")


#: act, what it does, the modes it is listed in
_ROWS: tuple[tuple[str, Act, tuple[str, ...]], ...] = (
    ("acknowledge", _acknowledge, ("caution",)),
    ("next", answering.done, ("asking",)),
    ("affirm", answering.yes_or_no, ("asking",)),
    ("affirm", _affirm, ("assent",)),
    ("affirm", resuming.proof, ("proving",)),
    ("negative", answering.yes_or_no, ("asking",)),
    ("negative", asking_back.negative, _ASKED),
    ("negative", resuming.proof, ("proving",)),
    ("choice", answering.choice, ("asking",)),
    ("value", answering.value, ("asking",)),
    ("value", measuring.note, ("waiting", "watching")),
    ("value", asking_back.new_value, ("assent", "reason", "unit")),
    ("code", spelled.code, ("asking",)),
    ("no_more", answering.no_more, ("asking",)),
    ("spelled", spelled.spelled, ("asking",)),
    ("spelled", lambda draft, reading: spelled.ask_spelling(draft, reading.get("spelled")), ("initials",)),
    ("correction", answering.correction, ("asking", "waiting")),
    ("correction", asking_back.new_value, ("assent", "reason", "unit")),
    ("correction", asking_back.digit_back, ("digits",)),
    ("correct_place", asking_back.correct_place, ("assent",)),
    ("reason", asking_back.reason, ("reason",)),
    ("unit", asking_back.unit, ("unit",)),
    ("digit", asking_back.digit, ("digits",)),
    ("that_is_all", asking_back.that_is_all, ("digits",)),
    ("run_answer", _run_answer, ("watching",)),
    ("end_wait", asides.end_wait, ("waiting",)),
    ("same_mechanic", resuming.same_mechanic, ("proving",)),
    ("taking_over", resuming.taking_over, ("proving",)),
    ("previous", asides.previous, (*_OPEN, "waiting", "caution")),
    ("leave_open", asides.leave_open, _OPEN),
    ("leave_out", asides.leave_out, (*_OPEN, "waiting")),
    ("resume", asides.resume, ("paused",)),
    ("emergency_over", asides.emergency_over, ("emergency",)),
    ("repeat", asides.repeat, (*_WORKING, "emergency", "paused", "alarm")),
    ("how_long", asides.answer_question, (*_WORKING, "emergency", "paused")),
    ("options", asides.answer_question, (*_WORKING, "emergency", "paused")),
    ("detail", asides.answer_question, (*_OPEN, "waiting", "watching")),
    ("where", asides.answer_question, (*_WORKING, "paused")),
    ("what_torque", asides.answer_question, (*_OPEN, "waiting", "assent", "reason")),
    ("what_limit", asides.answer_question, (*_OPEN, "waiting", "assent", "reason")),
    ("what_read", asides.answer_question, (*_OPEN, "waiting", "assent", "reason")),
    ("which_cylinder", asides.answer_question, (*_OPEN, "waiting", "caution")),
    ("timer", asides.timer, (*_OPEN, "waiting", "watching")),
    ("cancel_timer", asides.cancel_timer, (*_OPEN, "waiting", "watching")),
    ("brief", asides.brief, (*_OPEN, "waiting")),
    ("full", asides.brief, (*_OPEN, "waiting")),
    *((word, sound.voice, (*_WORKING, "paused")) for word in sound.VOICE_WORDS),
    ("memo", sound.memo, (*_OPEN, "waiting")),
    ("pause", asides.pause, (*_WORKING, "cautioning")),
    ("stop", asides.pause, (*_WORKING, "cautioning", "memo")),
    ("stop_job", asides.stop_job, (*_OPEN, "waiting", "watching", "caution", "cautioning", "paused", "proving",
                                     "unwritten")),
    ("okay", alone.okay, (*_WORKING, "cautioning", "paused", "alarm")),
    ("alarm_over", alone.alarm_over, ("alarm",)),
    ("check_every", alone.check_every, (*_OPEN, "waiting")),
    ("emergency", alone.emergency, _ALIVE),
)

TABLE: dict[tuple[str, str], Act] = {(mode, act): do for act, do, modes in _ROWS for mode in modes}


@lru_cache(maxsize=None)
def acts(mode: str) -> tuple[str, ...]:
    """The acts listed for a mode, in the table's order."""
    return tuple(dict.fromkeys(act for row_mode, act in TABLE if row_mode == mode))


def perform(draft: Draft, reading: Reading) -> None:
    """Do what was said, or refuse it."""
    act = TABLE.get((draft.job.mode, reading.rule))
    if act is None:
        draft.refuse(reading.rule, refusal(draft.job.mode))
    else:
        act(draft, reading)


_REFUSALS = {
    "cautioning": "Hear the caution out first",
    "caution": "Answer the caution first, in its own words",
    "assent": "Say affirm or negative first",
    "reason": "Say a reason first, or negative",
    "unit": "Say the unit first, or negative",
    "initials": "Spell your initials first, or say negative",
    "waiting": "The wait is not over",
    "watching": "The watch is not over. Answer the question when it comes",
    "digits": "Say the digits one by one, then: that is all",
    "memo": "Wait until the memo is kept",
    "paused": "Paused. Say resume first",
    "emergency": "Say emergency over first, when it is over",
    "alarm": "The alarm goes on",
    "proving": "Answer the question first",
    "unwritten": "The last step is done. Only the log is not written yet",
    "ended": "This job is closed",
}


def refusal(mode: str) -> str:
    """Why an act that is not listed for `mode` does not fit, and what to say instead."""
    return _REFUSALS.get(mode, "That does not fit here")
