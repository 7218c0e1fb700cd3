"""A measured value: what the reading means at the bolt or in the line, how far it can be trusted, and its verdict."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Optional

from companion.core import events as ev
from companion.core.card import Adaptor, CountOf, Step, ValueOf
from companion.core.grammar import Reading
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step
from companion.core.job.pointing import Answered
from companion.core.job.state import Job
from companion.errors import BadInput
from companion.trade import limits, torque
from companion.trade.parts import reconcile
from companion.trade.tools import Tool, expanded_at
from companion.trade.units import UNITS, convert, meanings, resolve, settle

_SHORT = Context(prec=3)
"""Digits kept of an uncertainty: more would claim to know it better than anybody does (JCGM 100, 7.2.6, from memory)."""


def owned(step: Step, text: str) -> ev.Words:
    """The answer's words, marked as personal where the step says so."""
    return ev.Personal(text) if step.personal else text


@dataclass(frozen=True)
class Measured:
    """A reading, judged. Figures are in the card's unit."""

    value: Decimal
    """At the bolt or in the line, exact; the reading itself where nothing stands between."""
    low: Optional[Decimal]
    high: Optional[Decimal]
    verdict: str
    """inside, outside, too close, or none."""
    side: str = ""
    uncertainty: Optional[Decimal] = None
    probability: Optional[Decimal] = None
    tool: str = ""
    arm: Optional[Decimal] = None
    adaptor: Optional[Adaptor] = None
    rose_from: Optional[Decimal] = None


def tool_for(job: Job, answer: ValueOf) -> Optional[Tool]:
    """The tool that was chosen for this value; None where none was, or the list does not hold it."""
    return job.tools.get(job.answers.get(answer.tool, "")) if job.tools and answer.tool else None


def setting(job: Job, answer: ValueOf) -> Optional[Decimal]:
    """What the chosen wrench must show for the nominal torque, with the card's adaptor on it; None without either."""
    tool = tool_for(job, answer)
    if answer.adaptor is None or answer.nominal is None or tool is None or tool.arm is None:
        return None
    return torque.setting(answer.nominal, tool.arm, answer.adaptor.length, answer.adaptor.angle)


def measure(job: Job, answer: ValueOf, digits: str, said_unit: str) -> Measured:
    """What a reading says. The exact value is judged, never the rounded one. BadInput for one that cannot be."""
    read = convert(Decimal(digits), said_unit, answer.unit)
    tool = tool_for(job, answer)
    arm = tool.arm if tool and answer.adaptor else None
    value = read * _lever(answer, tool) if arm else read  # a product would round what is exact
    expanded = uncertainty_of(answer, tool, read)
    found = limits.judge(value, answer.low, answer.high, expanded)
    verdict = {"accept": "inside", "reject": "outside"}.get(found.verdict, found.verdict)
    before = _before(job, answer)
    rose = before if before is not None and value > before else None
    return Measured(value, answer.low, answer.high, "outside" if rose is not None else verdict,
                    found.side if verdict == "too close" and rose is None else "", expanded, found.probability,
                    tool.name if tool else "", arm, answer.adaptor if arm else None, rose)


def _lever(answer: ValueOf, tool: Optional[Tool]) -> Decimal:
    """What a reading is multiplied by for what is at the bolt."""
    arm = tool.arm if tool and answer.adaptor else None
    return torque.applied(Decimal(1), arm, answer.adaptor.length, answer.adaptor.angle) if arm else Decimal(1)


def uncertainty_of(answer: ValueOf, tool: Optional[Tool], read: Decimal) -> Optional[Decimal]:
    """How far a reading in the answer's unit can be trusted at the bolt: by its tool, else by the card; None where neither
    says. BadInput where the tool is of another quantity."""
    expanded = expanded_at(tool, read, answer.unit) if tool else None
    expanded = answer.uncertainty if expanded is None else expanded
    return None if expanded is None else _SHORT.multiply(expanded, _lever(answer, tool))


def _before(job: Job, answer: ValueOf) -> Optional[Decimal]:
    """The earlier reading that this one must not lie above."""
    logged = job.values.get(answer.no_rise_from)
    return convert(Decimal(ev.plain(logged.value)), logged.unit, answer.unit) if logged else None


# -- acts --------------------------------------------------------------------------------------------------------------

def ask_unit(draft: Draft, reading: Reading) -> None:
    """"pounds" is never guessed, even where only one unit of that name would fit."""
    said, wanted = reading.get("unit"), draft.job.step.answer.unit
    if draft.job.step.personal or not meanings(said, wanted):  # a personal number is not kept in a question
        return draft.refuse("value", f"Say it in {UNITS[wanted].many}")
    draft.add(ev.Asked, about="unit", needs="unit", rule="value", slots=(f"number={reading.get('number')}",),
              value=said[1:])


def measured(draft: Draft, reading: Reading) -> None:
    """A value where the step asks for one; without a unit it is in the unit that was asked for."""
    answer, unit = draft.job.step.answer, reading.get("unit")
    if unit.startswith("?"):
        unit = settle(unit, answer.unit) or ""
        if not unit:
            return ask_unit(draft, reading)
    judge(draft, reading.get("number"), unit or answer.unit)


def judge(draft: Draft, digits: str, said_unit: str, reason: str = "") -> None:
    """Log a value with its verdict. One that is outside, or too close to call, needs a reason and "affirm"; where the
    step must be right it is not accepted at all, and only what is surely inside passes."""
    step, answer = draft.job.step, draft.job.step.answer
    if UNITS[said_unit].quantity != UNITS[answer.unit].quantity:
        return draft.refuse("value", f"{UNITS[said_unit].many} do not fit here. Say it in {UNITS[answer.unit].many}")
    try:
        found = measure(draft.job, answer, digits, said_unit)
    except BadInput:
        return draft.refuse("value", f"That cannot be {_a_or_an(answer.name)}. Read it again")
    doubtful = found.verdict in ("outside", "too close")
    if doubtful and not (step.must or reason):
        needs = "affirm" if "outside" in step.then else "reason"
        slots = (f"number={digits}", f"unit={said_unit}")
        draft.add(ev.Asked, about=found.verdict, needs=needs, rule="value", slots=() if step.personal else slots,
                  value=owned(step, f"{digits} {said_unit}"))
        return
    log_value(draft, step, digits, said_unit, found, reason=reason)
    outside = found.verdict == "outside" or found.verdict == "too close" and (step.must or found.side == "outside")
    if not doubtful or not step.must or "outside" in step.then:
        end_step(draft, "outside" if outside else "inside")


def _a_or_an(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def log_value(draft: Draft, step: Step, digits: str, said_unit: str, found: Measured, reason: str = "",
              corrects: bool = False) -> None:
    """The fact itself, in the card's unit and as it was said."""
    answer = step.answer
    as_read = said_unit == answer.unit and found.adaptor is None
    shown = digits if as_read else str(resolve(found.value, answer.decimals))
    lever = found.adaptor
    told = not step.personal  # figures worked out from a personal reading would give it away
    draft.add(ev.ValueLogged, step=step.id, name=answer.name, value=owned(step, shown), unit=answer.unit,
              said=owned(step, digits), said_unit=said_unit, low=found.low, high=found.high, verdict=found.verdict,
              reason=reason, corrects=corrects, side=found.side, tool=found.tool, uncertainty=found.uncertainty if told else None,
              probability=found.probability if told else None, arm=found.arm, adaptor=lever.length if lever else None,
              adaptor_angle=lever.angle if lever else None, rose_from=found.rose_from if told else None)


def note(draft: Draft, reading: Reading) -> None:
    """A value nobody asked for is kept too, if it says its unit."""
    unit = reading.get("unit")
    if not unit or unit.startswith("?"):
        draft.refuse("value", "Say the value with its whole unit")
    else:
        draft.add(ev.ReadingNoted, value=reading.get("number"), unit=unit)


def count(draft: Draft, reading: Reading) -> None:
    """A count against what it must be; a count that protects (`must`) is taken again until it is right."""
    step, answer, number = draft.job.step, draft.job.step.answer, reading.get("number")
    if "." in number or reading.get("unit"):
        return draft.refuse("value", "Say a whole number")
    must_be = target_of(draft.job, answer)
    right = must_be is None or not reconcile({answer.name: must_be}, {answer.name: int(number)})
    draft.add(ev.CountLogged, name=answer.name, count=int(number), must_be=must_be,
              verdict="right" if right else "wrong")
    if right or "wrong" in step.then:
        end_step(draft, "right" if right else "wrong")


def target_of(job: Answered, answer: CountOf) -> Optional[int]:
    """What a count must be: the card's figure, or what was counted earlier."""
    return int(job.answers[answer.same_as]) if answer.same_as in job.answers else answer.must_be
