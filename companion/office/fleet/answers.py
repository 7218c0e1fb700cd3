"""The right answer to each kind of step, in a mechanic's words."""
from __future__ import annotations

from typing import TYPE_CHECKING, Callable

from companion.core.card import (
    Affirm, ChoiceOf, CodesOf, CountOf, CylinderOf, Done, FaultOf, SpellingOf, Step, ToolOf, ValueOf)
from companion.core.job.apply import day
from companion.core.job.evidence import targets
from companion.core.job.measuring import target_of
from companion.core.job.spelled import first_spelling
from companion.core.job.state import Job
from companion.core.numbers import say_number
from companion.core.toolbox import NONE_OF_THESE
from companion.office.fleet.readings import reading_words
from companion.office.fleet.road import FAR
from companion.office.fleet.words import cylinder_said, next_words, spelled_words, yes_or_no
from companion.trade.tools import judge_tool

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic

_DETOUR = 0.03
"""Chance that not the nearest way is taken, but one that comes to the proper end as well."""
_CHARACTERS = "ABCDEFGHKLMNPRSTUVWX23456789"
_SUPERVISOR = "SV"


def answer_words(mechanic: "Mechanic", job: Job) -> str:
    """What is said at the present step."""
    return _WORDS[type(job.step.answer)](mechanic, job)


def _affirm(mechanic: "Mechanic", job: Job) -> str:
    outcome = mechanic.road.nearest(job.step)[0]
    if _leads_back(mechanic, job.step) and mechanic.memory.get("rounds", 0) < mechanic.plan.rounds:
        mechanic.once("rounds")
        outcome = "affirm"
    return yes_or_no(outcome, mechanic.random)


def _leads_back(mechanic: "Mechanic", step: Step) -> bool:
    """Whether "affirm" goes through an earlier part of the card once more, as for another wheel."""
    card, target = mechanic.road.card, step.then.get("affirm", "end")
    return target != "end" and card.index(target) < card.index(step.id)


def _choice(mechanic: "Mechanic", job: Job) -> str:
    """One of those nearest to the end, not one that was chosen here before; now and then a longer way."""
    step, before = job.step, mechanic.chosen.setdefault(job.at, [])
    options = mechanic.road.nearest(step)
    if mechanic.plan.plant is None and step.must != "leak-check" and not before and mechanic.random.random() < _DETOUR:
        options = tuple(option for option in step.answer.options if mechanic.road.how_far(step, option) < FAR)
    fresh = [option for option in options if option not in before]
    before.append(mechanic.random.choice(fresh or options))
    return before[-1]


def _count(mechanic: "Mechanic", job: Job) -> str:
    must_be = target_of(job, job.step.answer)
    return say_number(str(mechanic.random.randrange(4, 9) if must_be is None else must_be))


def _codes(mechanic: "Mechanic", job: Job) -> str:
    return code_words(mechanic, job, codes_there(mechanic, job))


def codes_there(mechanic: "Mechanic", job: Job) -> tuple[str, ...]:
    """The codes that the reader shows at this step."""
    answer, plan = job.step.answer, mechanic.plan
    if answer.proves:
        return (f"P020{plan.cylinder}",)
    if answer.against:
        return ()
    return plan.permanent if "permanent" in answer.name else plan.codes


def code_words(mechanic: "Mechanic", job: Job, codes: tuple[str, ...]) -> str:
    """The next of `codes`, or that there are no more."""
    left = [code for code in codes if code not in job.codes]
    if left:
        return spelled_words(left[0])
    return "no more codes" if job.codes or mechanic.random.random() < 0.6 else "no codes"


def _spelling(mechanic: "Mechanic", job: Job) -> str:
    return spelled_words(spelled_text(mechanic, job))


def spelled_text(mechanic: "Mechanic", job: Job) -> str:
    """What is spelled at this step: what is known by its name, what was spelled before, or what stands on the part."""
    step, plan = job.step, mechanic.plan
    if step.answer.same_as:
        return first_spelling(job, step.answer)
    if step.answer.vin:
        return plan.vehicle.number
    if step.hold:
        return _SUPERVISOR
    known = {"mechanic": plan.fitter.initials, "customer": plan.vehicle.reference, "part number": plan.vehicle.part}
    random = plan.random(f"spelled {step.answer.name}")
    return known.get(step.answer.name) or "".join(
        random.choice(_CHARACTERS) for _ in range(random.randint(step.answer.least, step.answer.most)))


def _tool(mechanic: "Mechanic", job: Job) -> str:
    """Of those that will do, the one whose marks begin highest."""
    answer = job.step.answer
    will_do = [tool for tool in job.tools.of_kind(answer.kind)
               if not judge_tool(tool, targets(job, answer, tool), day(job.opened_at_ms))] if job.tools else []
    return max(will_do, key=lambda tool: tool.low or 0).name if will_do else NONE_OF_THESE


def _cylinder(mechanic: "Mechanic", job: Job) -> str:
    return cylinder_said(mechanic.plan.cylinder, job.card, mechanic.random)


_WORDS: dict[type, Callable[["Mechanic", Job], str]] = {
    Done: lambda mechanic, job: next_words(mechanic.random), Affirm: _affirm, ChoiceOf: _choice, ValueOf: reading_words,
    CountOf: _count, CodesOf: _codes, SpellingOf: _spelling, ToolOf: _tool, CylinderOf: _cylinder,
    FaultOf: lambda mechanic, job: mechanic.road.nearest(job.step)[0],
}
