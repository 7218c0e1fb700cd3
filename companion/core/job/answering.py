"""Answers to the present step: done, affirm, a choice, a value against its limits, a count, fault codes, a spelling."""
from __future__ import annotations

import re
from decimal import Decimal

from companion.core import events as ev
from companion.core.card import Affirm, CodesOf, CountOf, Done, SpellingOf, Step, ValueOf
from companion.core.job.draft import Draft
from companion.core.job.flow import begin, end_step
from companion.core.grammar import Reading
from companion.core.job.state import Job
from companion.trade.units import UNITS, convert, meanings, resolve, settle

#: A fault code: system letter, first digit 0 to 3, three hexadecimal digits (SAE J2012 / ISO 15031-6).
CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}")


def owned(step: Step, text: str) -> ev.Words:
    """The answer's words, marked as personal where the step says so."""
    return ev.Personal(text) if step.personal else text


def plain(words: ev.Words) -> str:
    """The words whether personal or not, for speaking and comparing."""
    return words.text if isinstance(words, ev.Personal) else words


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
    """One of the card's choices."""
    step = draft.job.step
    chosen = reading.get("choice")
    draft.add(ev.AnswerGiven, answer=owned(step, chosen), name=step.answer.name)
    end_step(draft, chosen)


# -- values ------------------------------------------------------------------------------------------------------------

def value(draft: Draft, reading: Reading) -> None:
    """A measured value; without a unit it is in the unit that was asked for, and is read back with it."""
    answer, unit = draft.job.step.answer, reading.get("unit")
    if isinstance(answer, CountOf):
        return count(draft, reading)
    if not isinstance(answer, ValueOf):
        return note(draft, reading)
    if unit.startswith("?"):
        unit = settle(unit, answer.unit) or ""
        if not unit:
            return _ask_unit(draft, reading)
    judge(draft, reading.get("number"), unit or answer.unit)


def _ask_unit(draft: Draft, reading: Reading) -> None:
    """"pounds" is never guessed, even where only one unit of that name would fit."""
    said, wanted = reading.get("unit"), draft.job.step.answer.unit
    if draft.job.step.personal or not meanings(said, wanted):  # a personal number is not kept in a question
        return draft.refuse("value", f"Say it in {UNITS[wanted].many}")
    draft.add(ev.Asked, about="unit", needs="unit", rule="value", slots=(f"number={reading.get('number')}",),
              value=said[1:])


def judge(draft: Draft, digits: str, said_unit: str, reason: str = "") -> None:
    """Log a value with its verdict; outside the limits it needs a reason and "affirm", or is not accepted at all."""
    step, answer = draft.job.step, draft.job.step.answer
    if UNITS[said_unit].quantity != UNITS[answer.unit].quantity:
        return draft.refuse("value", f"{UNITS[said_unit].many} do not fit here. Say it in {UNITS[answer.unit].many}")
    exact = convert(Decimal(digits), said_unit, answer.unit)
    verdict = verdict_of(answer, exact)
    if verdict == "outside" and not (step.must or reason):
        needs = "affirm" if "outside" in step.then else "reason"
        slots = (f"number={digits}", f"unit={said_unit}")
        draft.add(ev.Asked, about="outside", needs=needs, rule="value", slots=() if step.personal else slots,
                  value=owned(step, f"{digits} {said_unit}"))
        return
    log_value(draft, step, digits, said_unit, verdict, reason=reason)
    if verdict != "outside" or not step.must or "outside" in step.then:
        end_step(draft, "outside" if verdict == "outside" else "inside")


def verdict_of(answer: ValueOf, exact: Decimal) -> str:
    """inside, outside, or none without limits. The exact converted value is judged, never the rounded one."""
    if answer.low is None and answer.high is None:
        return "none"
    below = answer.low is not None and exact < answer.low
    above = answer.high is not None and exact > answer.high
    return "outside" if below or above else "inside"


def log_value(draft: Draft, step: Step, digits: str, said_unit: str, verdict: str, reason: str = "",
              corrects: bool = False) -> None:
    """The fact itself, in the card's unit and as it was said."""
    answer = step.answer
    exact = convert(Decimal(digits), said_unit, answer.unit)
    shown = digits if said_unit == answer.unit else str(resolve(exact, answer.decimals))
    draft.add(ev.ValueLogged, step=step.id, name=answer.name, value=owned(step, shown), unit=answer.unit,
              said=owned(step, digits), said_unit=said_unit, low=answer.low, high=answer.high, verdict=verdict,
              reason=reason, corrects=corrects)


def note(draft: Draft, reading: Reading) -> None:
    """A value nobody asked for is kept too, if it says its unit."""
    unit = reading.get("unit")
    if not unit or unit.startswith("?"):
        draft.refuse("value", "Say the value with its whole unit")
    else:
        draft.add(ev.ReadingNoted, value=reading.get("number"), unit=unit)


def count(draft: Draft, reading: Reading) -> None:
    """A count against what it must be; a count that protects (`must`) is taken again until it is right."""
    step, answer = draft.job.step, draft.job.step.answer
    number = reading.get("number")
    if "." in number or reading.get("unit"):
        return draft.refuse("value", "Say a whole number")
    right = answer.must_be is None or int(number) == answer.must_be
    draft.add(ev.CountLogged, name=answer.name, count=int(number), must_be=answer.must_be,
              verdict="right" if right else "wrong")
    if right or "wrong" in step.then:
        end_step(draft, "right" if right else "wrong")


# -- codes and spellings -----------------------------------------------------------------------------------------------

def code(draft: Draft, reading: Reading) -> None:
    """One fault code; it is read back, and the next one is asked for."""
    _take_code(draft, reading.get("spelled"), replaces="")


def _take_code(draft: Draft, text: str, replaces: str) -> None:
    if not CODE.fullmatch(text):
        draft.refuse("code", "A fault code is P, C, B or U, then four characters")
    else:
        draft.add(ev.CodeHeard, code=text, replaces=replaces)


def no_more(draft: Draft, reading: Reading) -> None:
    """"no more codes", "no codes": the list is whole."""
    codes = draft.job.codes
    if not isinstance(draft.job.step.answer, CodesOf):
        return draft.refuse("no_more", what_is_needed(draft.job))
    draft.add(ev.CodesLogged, name=draft.job.step.answer.name, codes=codes)
    end_step(draft, "some" if codes else "none")


def spelled(draft: Draft, reading: Reading) -> None:
    """A spelling is always read back and affirmed."""
    ask_spelling(draft, reading.get("spelled"))


def ask_spelling(draft: Draft, text: str) -> None:
    """Read a spelling back, for "affirm" or a correction by place."""
    personal = draft.job.proofs[:1] == ("mechanic",) or draft.job.step.personal
    draft.add(ev.Asked, about="spelling", needs="affirm", value=ev.Personal(text) if personal else text)


def confirm_spelling(draft: Draft, text: str) -> None:
    """The spelling was affirmed."""
    step = draft.job.step
    draft.add(ev.SpellingLogged, name=step.answer.name, text=owned(step, text))
    end_step(draft, "done")


# -- correction --------------------------------------------------------------------------------------------------------

def correction(draft: Draft, reading: Reading) -> None:
    """"correction …": the last fault code here, else the value just logged, else back to the step before."""
    job = draft.job
    if isinstance(job.step.answer, CodesOf) and reading.get("spelled"):
        return _take_code(draft, reading.get("spelled"), replaces=job.codes[-1] if job.codes else "")
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
    fits = unit in UNITS and UNITS[unit].quantity == UNITS[step.answer.unit].quantity
    if fits:
        verdict = verdict_of(step.answer, convert(Decimal(reading.get("number")), unit, step.answer.unit))
        if verdict != "outside" and draft.job.outcomes.get(step.id) == "inside":
            return log_value(draft, step, reading.get("number"), unit, verdict, corrects=True)
    begin(draft, step.id, "previous")
    if draft.job.mode == "asking":
        value(draft, reading)


# -- what is asked for -------------------------------------------------------------------------------------------------

def what_is_needed(job: Job) -> str:
    """One short sentence on what the present step waits for."""
    answer = job.step.answer
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
    options = getattr(answer, "options", ())
    return "Say " + ", or ".join(options) if options else "Wait for the clock"
