"""Answers to the present step: done, affirm, a choice, a value against its limits, a count, fault codes, a spelling."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.card import (
    Affirm, CodesOf, CountOf, CylinderOf, Done, FaultOf, SpellingOf, Step, ToolOf, ValueOf)
from companion.core.grammar import Reading
from companion.core.job import evidence
from companion.core.job.draft import Draft
from companion.core.job.flow import begin, end_step
from companion.core.job.measuring import count, log_value, measure, measured, note, owned
from companion.core.job.spelled import no_more as list_whole
from companion.core.job.spelled import take_code
from companion.core.job.state import Job
from companion.errors import BadInput
from companion.trade.units import UNITS


# -- done, affirm, negative, a choice ----------------------------------------------------------------------------------

def done(draft: Draft, reading: Reading) -> None:
    """"next" or "done"; what cannot be undone is asked back first."""
    step = draft.job.step
    if not isinstance(step.answer, Done):
        draft.refuse("next", what_is_needed(draft.job))
    elif step.cannot_undo:
        draft.add(ev.Asked, about="undo", needs="affirm")
    else:
        confirm_done(draft)


def confirm_done(draft: Draft) -> None:
    """The step is done."""
    draft.add(ev.AnswerGiven, answer="done")
    end_step(draft, "done")


def yes_or_no(draft: Draft, reading: Reading) -> None:
    """"affirm" or "negative" where the step asked for it."""
    if not isinstance(draft.job.step.answer, Affirm):
        draft.refuse(reading.rule, what_is_needed(draft.job))
    else:
        draft.add(ev.AnswerGiven, answer=reading.rule)
        end_step(draft, reading.rule)


def choice(draft: Draft, reading: Reading) -> None:
    """One of the card's choices; a tool, a cylinder or a fault is held against what is known."""
    step, chosen = draft.job.step, reading.get("choice")
    check = _CHECKED.get(type(step.answer))
    if check is not None:
        return check(draft, chosen)
    draft.add(ev.AnswerGiven, answer=owned(step, chosen), name=step.answer.name)
    end_step(draft, chosen)


_CHECKED: dict[type, Callable[[Draft, str], None]] = {
    ToolOf: evidence.tool_chosen, CylinderOf: evidence.cylinder_said, FaultOf: evidence.fault_said}


def value(draft: Draft, reading: Reading) -> None:
    """A measured value or a count where one is asked for; elsewhere it is noted."""
    act = {CountOf: count, ValueOf: measured}.get(type(draft.job.step.answer), note)
    act(draft, reading)


def no_more(draft: Draft, reading: Reading) -> None:
    """"no more codes", "no codes"."""
    if isinstance(draft.job.step.answer, CodesOf):
        list_whole(draft)
    else:
        draft.refuse("no_more", what_is_needed(draft.job))


# -- correction --------------------------------------------------------------------------------------------------------

def correction(draft: Draft, reading: Reading) -> None:
    """"correction …": the last fault code here, else the value just logged, else back to the step before."""
    job = draft.job
    if isinstance(job.step.answer, CodesOf) and reading.get("spelled"):
        return take_code(draft, reading.get("spelled"), replaces=job.codes[-1] if job.codes else "")
    if job.codes:  # going back would lose the codes said so far
        return draft.refuse("correction", "Say correction, and the right code")
    before = job.before
    if not before:
        return draft.refuse("correction", "There is nothing to correct yet")
    if reading.get("number") and job.value is not None and job.value.step == before:
        return _correct_value(draft, job.card.step(before), reading)
    begin(draft, before, "previous")


def _correct_value(draft: Draft, step: Step, reading: Reading) -> None:
    """The same branch: the value is replaced and the job stays here. Another branch: back to that step."""
    unit = reading.get("unit") or step.answer.unit
    if unit in UNITS and UNITS[unit].quantity == UNITS[step.answer.unit].quantity:
        try:
            found = measure(draft.job, step.answer, reading.get("number"), unit)
        except BadInput:
            return draft.refuse("correction", "That cannot be read here. Say it again")
        if found.verdict in ("inside", "none") and draft.job.outcomes.get(step.id) == "inside":
            return log_value(draft, step, reading.get("number"), unit, found, corrects=True)
    begin(draft, step.id, "previous")
    if draft.job.mode == "asking":
        value(draft, reading)


# -- what is asked for -------------------------------------------------------------------------------------------------

def what_is_needed(job: Job) -> str:
    """One short sentence on what the present step waits for."""
    answer = job.step.answer
    if job.step.hold:
        return "This is a hold point. Spell the initials of whoever releases it, or say pause, or stop job"
    if isinstance(answer, Done):
        return "Say next when it is done"
    if isinstance(answer, Affirm):
        return "Say affirm or negative"
    if isinstance(answer, ValueOf):
        return f"A value in {UNITS[answer.unit].many} is needed"
    if isinstance(answer, CountOf):
        return "A count is needed"
    if isinstance(answer, CodesOf):
        return "Say a code, or no more codes"
    if isinstance(answer, SpellingOf):
        return "Spell it"
    if isinstance(answer, ToolOf):
        return "Say which tool"
    if isinstance(answer, CylinderOf):
        return "Say which cylinder"
    options = getattr(answer, "options", ())
    return "Say " + ", or ".join(options) if options else "Wait for the clock"
