"""What waits for the mechanic's word: a doubtful hearing, an act that cannot be undone, a value outside, a reason."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.job.alone.acts import take_up
from companion.core.job.answering import confirm_done, value
from companion.core.card import CountOf
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step, go_on
from companion.core.job.measuring import count, judge
from companion.core.job.resuming import taken_over
from companion.core.job.spelled import ask_spelling, confirm_spelling
from companion.core.grammar import Reading


def slots_of(asked: ev.Asked) -> Reading:
    """The act that waits, as it was read."""
    return Reading(asked.rule, tuple(tuple(slot.split("=", 1)) for slot in asked.slots))  # type: ignore[arg-type]


def ask_doubt(draft: Draft, reading: Reading, words: ev.Words) -> None:
    """The ear was not sure, and the act would change the record: ask before it does."""
    slots = tuple(f"{name}={text}" for name, text in reading.slots)
    draft.add(ev.Asked, about="doubt", needs="affirm", rule=reading.rule, slots=slots, value=words)


def negative(draft: Draft, reading: Reading) -> None:
    """"negative": what was asked about does not happen."""
    asked = draft.job.asked
    draft.add(ev.Settled, about=asked.about, answer="negative")
    if asked.about == "doubt":
        draft.add(ev.NotUnderstood, failures=draft.job.failures + 1)
    elif asked.about == "alarm test":
        draft.add(ev.AlarmTestAnswered, heard_it=False)
    elif draft.job.digits:  # what was said so far was not right
        draft.add(ev.DigitsBegun)


def affirm(draft: Draft, reading: Reading, again: Callable[[Draft, Reading], None]) -> None:
    """"affirm": what was asked about happens. `again` decides a doubted act as if it had been heard surely."""
    asked = draft.job.asked
    draft.add(ev.Settled, about=asked.about, answer="affirm")
    draft.heard = asked.heard or draft.heard  # the act carries its own words, not the "affirm"
    if asked.about == "doubt":
        again(draft, slots_of(asked))
    else:
        _AFFIRMED[asked.about](draft, asked)


def _outside(draft: Draft, asked: ev.Asked) -> None:
    digits, unit = ev.plain(asked.value).split(" ", 1)
    judge(draft, digits, unit, reason=asked.reason or "the card's own branch")


def _leave_out(draft: Draft, asked: ev.Asked) -> None:
    draft.add(ev.StepLeftOut, reason=asked.reason)
    go_on(draft, draft.job.step.next)


def _cut_wait(draft: Draft, asked: ev.Asked) -> None:
    name = draft.job.step.answer.clock
    left = draft.job.clocks[name].left(draft.now.up_ms)
    draft.add(ev.WaitCutShort, clock=name, left_ms=left, reason=asked.reason)
    end_step(draft, "done")


def _spelling(draft: Draft, asked: ev.Asked) -> None:
    if draft.job.proofs[:1] == ("mechanic",):
        taken_over(draft, asked.value)
    else:
        confirm_spelling(draft, ev.plain(asked.value))


def _digits(draft: Draft, asked: ev.Asked) -> None:
    digits, answer = ev.plain(asked.value), draft.job.step.answer
    if isinstance(answer, CountOf):
        count(draft, Reading("value", (("number", digits),)))
    else:
        judge(draft, digits, answer.unit)


def _emergency_over(draft: Draft, asked: ev.Asked) -> None:
    draft.add(ev.EmergencyEnded)
    take_up(draft)


_AFFIRMED: dict[str, Callable[[Draft, ev.Asked], None]] = {
    "undo": lambda draft, asked: confirm_done(draft),
    "outside": _outside,
    "too close": _outside,
    "leave out": _leave_out,
    "end the wait": _cut_wait,
    "stop job": lambda draft, asked: draft.add(ev.JobLeft),
    "spelling": _spelling,
    "digits": _digits,
    "emergency over": _emergency_over,
    "alarm test": lambda draft, asked: draft.add(ev.AlarmTestAnswered, heard_it=True),
}


# -- other answers to what was asked -----------------------------------------------------------------------------------

def new_value(draft: Draft, reading: Reading) -> None:
    """A new reading instead of an answer replaces what was asked about."""
    asked = draft.job.asked
    if asked.rule != "value" or not reading.get("number"):
        return draft.refuse(reading.rule, "Say affirm or negative")
    draft.add(ev.Settled, about=asked.about, answer="replaced")
    value(draft, reading)


def correct_place(draft: Draft, reading: Reading) -> None:
    """"correction, place four, tango": one character of the spelling read back."""
    text, place = ev.plain(draft.job.asked.value), int(reading.get("place") or 0)
    if draft.job.asked.about != "spelling":
        draft.refuse("correct_place", "Nothing spelled is being read back")
    elif not 1 <= place <= len(text):
        draft.refuse("correct_place", f"Say a place from one to {len(text)}")
    else:
        ask_spelling(draft, text[:place - 1] + reading.get("spelled") + text[place:])


def reason(draft: Draft, reading: Reading) -> None:
    """The reason for an act that needs one; then it needs "affirm"."""
    asked = draft.job.asked
    draft.add(ev.Asked, about=asked.about, needs="affirm", rule=asked.rule, slots=asked.slots, value=asked.value,
              reason=reading.get("reason"))


def unit(draft: Draft, reading: Reading) -> None:
    """Which unit was meant."""
    asked = draft.job.asked
    symbol = reading.get("unit")
    if symbol.startswith("?"):
        return draft.refuse("unit", "Say the whole unit")
    draft.add(ev.Settled, about="unit", answer=symbol)
    judge(draft, slots_of(asked).get("number"), symbol)


# -- digit by digit ----------------------------------------------------------------------------------------------------

_SIGNS = {"minus": "-", "decimal": ".", "point": "."}
_DIGITS = dict(zip("zero one two three four five six seven eight nine".split(), "0123456789"))
DIGIT_WORDS = (*_DIGITS, *_SIGNS)


def digit(draft: Draft, reading: Reading) -> None:
    """One digit of a value taken digit by digit."""
    word = reading.get("digit")
    digits = draft.job.digits + {**_DIGITS, **_SIGNS}[word]
    fits = digits.count(".") <= 1 and "-" not in digits[1:] and len(digits) <= 12
    if not fits:
        return draft.refuse("digit", "That does not make a number")
    draft.add(ev.DigitHeard, digits=ev.Personal(digits) if draft.job.step.personal else digits)


def digit_back(draft: Draft, reading: Reading) -> None:
    """"correction": the last digit is taken away."""
    digits = draft.job.digits[:-1]
    draft.add(ev.DigitHeard, digits=ev.Personal(digits) if draft.job.step.personal else digits)


def that_is_all(draft: Draft, reading: Reading) -> None:
    """The digits make the value; it is read back whole."""
    digits = draft.job.digits
    if not any(character.isdigit() for character in digits) or digits.endswith("."):
        return draft.refuse("that_is_all", "Say the digits first")
    digits = digits.replace("-.", "-0.") if digits.startswith("-.") else "0" + digits if digits[0] == "." else digits
    draft.add(ev.Asked, about="digits", needs="affirm", value=ev.Personal(digits) if draft.job.step.personal else digits)
