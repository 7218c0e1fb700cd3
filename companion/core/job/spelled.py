"""Fault codes and spellings: repaired where only one reading can be meant, read back, compared with what came before."""
from __future__ import annotations

from companion.core import events as ev
from companion.core.card import SpellingOf
from companion.core.grammar import Reading
from companion.core.job import evidence
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step
from companion.core.job.measuring import owned
from companion.core.job.pointing import Answered
from companion.errors import BadInput
from companion.trade import codes, parts, vin


# -- fault codes -------------------------------------------------------------------------------------------------------

def code(draft: Draft, reading: Reading) -> None:
    """One fault code; it is read back, and the next one is asked for."""
    take_code(draft, reading.get("spelled"), replaces="")


def take_code(draft: Draft, text: str, replaces: str) -> None:
    """A letter in a figure's place is repaired where only one figure can be meant; the read-back shows it."""
    try:
        draft.add(ev.CodeHeard, code=codes.parse(codes.repair(text)), replaces=replaces)
    except BadInput:
        draft.refuse("code", "A fault code is P, C, B or U, then four characters")


def no_more(draft: Draft) -> None:
    """The list is whole; what it proves, or how it compares with earlier ones, is worked out at once."""
    heard, answer = draft.job.codes, draft.job.step.answer
    draft.add(ev.CodesLogged, name=answer.name, codes=heard)
    if answer.proves:
        end_step(draft, evidence.proof(draft, answer, heard) if heard else "none")
    elif answer.against:
        end_step(draft, evidence.comparison(draft, answer, heard))
    else:
        end_step(draft, "some" if heard else "none")


# -- spellings ---------------------------------------------------------------------------------------------------------

def spelled(draft: Draft, reading: Reading) -> None:
    """A spelling is always read back and affirmed; a vehicle's number must have the structure of one."""
    text, answer = reading.get("spelled"), draft.job.step.answer
    if isinstance(answer, SpellingOf) and answer.vin:
        text = vin.repair(text)
        try:
            vin.read(text)
        except BadInput:
            return draft.refuse("spelled", "That is no whole vehicle number. Spell all seventeen characters from the plate")
    ask_spelling(draft, text)


def ask_spelling(draft: Draft, text: str) -> None:
    """Read a spelling back, for "affirm" or a correction by place."""
    personal = draft.job.proofs[:1] == ("mechanic",) or draft.job.step.personal
    draft.add(ev.Asked, about="spelling", needs="affirm", value=ev.Personal(text) if personal else text)


def vin_verdict(text: str) -> str:
    """fits, does not fit, or does not apply: how the ninth character checks the others. "" for no whole number."""
    try:
        found = vin.read(text)
    except BadInput:
        return ""
    return "does not apply" if not found.check_applies else "fits" if found.check_ok else "does not fit"


def confirm_spelling(draft: Draft, text: str) -> None:
    """The spelling was affirmed."""
    step, answer = draft.job.step, draft.job.step.answer
    if answer.vin and not vin_verdict(text):
        return draft.refuse("spelled", "That is no whole vehicle number. Spell all seventeen characters from the plate")
    draft.add(ev.SpellingLogged, name=answer.name, text=owned(step, text))
    if answer.vin:
        draft.add(ev.VinChecked, name=answer.name, verdict=vin_verdict(text))
    end_step(draft, _compared(draft, answer, text) if answer.same_as else "done")


def _compared(draft: Draft, answer: SpellingOf, text: str) -> str:
    """Whether it repeats what was spelled before, or its end."""
    first = first_spelling(draft.job, answer)
    places = parts.same_code(first, text) if first else ()
    verdict = "same" if first and not places else "different"
    draft.add(ev.SpellingsCompared, name=answer.name, against=answer.same_as, verdict=verdict,
              places=tuple(str(place) for place in places))
    return verdict


def first_spelling(job: Answered, answer: SpellingOf) -> str:
    """What must be repeated: the earlier spelling, or its last characters."""
    whole = job.answers.get(answer.same_as, "")
    return whole[-answer.last:] if answer.last else whole
