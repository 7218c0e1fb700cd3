"""A second pair of eyes: the tool against its task, the cylinder and the fault against what was found, codes before
against after. Each verdict is worked out from logged facts and logged with its figures; any disagreement has its branch."""
from __future__ import annotations

from decimal import Decimal
from typing import Optional

from companion.core import events as ev
from companion.core.card import CodesOf, CylinderOf, Step, ToolOf, ValueOf
from companion.core.card.answers import DISAGREE
from companion.core.job import pointing
from companion.core.job.apply import day
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step
from companion.core.job.pointing import THEY_DISAGREE, cylinder_words, number_of
from companion.core.job.state import Job
from companion.core.toolbox import NONE_OF_THESE
from companion.trade import cylinders, torque
from companion.trade.tools import Fit, Tool, judge_tool


# -- the tool ----------------------------------------------------------------------------------------------------------

def tool_chosen(draft: Draft, name: str) -> None:
    """The tool must measure all that its steps ask for, and be in calibration; else another one is asked for."""
    answer, job = draft.job.step.answer, draft.job
    draft.add(ev.AnswerGiven, answer=name, name=answer.name)
    if name == NONE_OF_THESE:
        return end_step(draft, "none")
    tool = job.tools.get(name)
    faults = _tool_faults(job, answer, tool)
    first = faults[0] if faults else Fit(True)
    draft.add(ev.ToolJudged, name=answer.name, tool=name, verdict="unfit" if faults else "fit", why=first.why,
              unit=tool.unit, limit=first.limit, target=first.target, due=first.due.isoformat() if first.due else "",
              would_do=_others(job, answer, tool) if faults else ())
    if not faults:
        end_step(draft, "fit")


def _tool_faults(job: Job, answer: ToolOf, tool: Tool) -> tuple[Fit, ...]:
    if tool.arm is None and any(step.answer.adaptor for step in _steps_of(job, answer)):
        return (Fit(False, "no arm known"),)
    used = tool.uses + job.tool_uses.get(tool.name, 0)
    counted = Tool(**{**tool.__dict__, "uses": used})
    return judge_tool(counted, targets(job, answer, tool), day(job.opened_at_ms))


def _others(job: Job, answer: ToolOf, unfit: Tool) -> tuple[str, ...]:
    others = (tool for tool in job.tools.of_kind(answer.kind) if tool.name != unfit.name)
    return tuple(tool.name for tool in others if not _tool_faults(job, answer, tool))


def _steps_of(job: Job, answer: ToolOf) -> list[Step]:
    """The steps whose values are read on this tool."""
    return [step for step in job.card.steps if isinstance(step.answer, ValueOf) and step.answer.tool == answer.name]


def targets(job: Job, answer: ToolOf, tool: Tool) -> tuple[tuple[Decimal, str], ...]:
    """What the tool must be able to show: each nominal value, or its limits; through an adaptor, the wrench's setting."""
    found: list[tuple[Decimal, str]] = []
    for step in _steps_of(job, answer):
        asked = step.answer
        if asked.adaptor and asked.nominal is not None and tool.arm:
            shown = [torque.setting(asked.nominal, tool.arm, asked.adaptor.length, asked.adaptor.angle)]
        else:
            shown = [asked.nominal] if asked.nominal is not None else [asked.low, asked.high]
        found += [(value, asked.unit) for value in shown if value is not None]
    return tuple(dict.fromkeys(found))


# -- the cylinder ------------------------------------------------------------------------------------------------------

def cylinder_options(job: Job, answer: CylinderOf) -> tuple[str, ...]:
    """By number, or by place from the end that the card counts from."""
    around = job.card.cylinders
    if around is None:
        return ()
    numbers = tuple(cylinder_words(number) for number in range(1, around.count + 1))
    return (*numbers, *cylinders.positions(around.count, around.counted_from),
            *(() if answer.same_as else (THEY_DISAGREE,)))


def cylinder_said(draft: Draft, said: str) -> None:
    """The cylinder is held against the codes and the readings, or against an earlier answer."""
    job, answer = draft.job, draft.job.step.answer
    number = number_of(job.card, said)
    draft.add(ev.AnswerGiven, answer=cylinder_words(number) if number else said, name=answer.name)
    if answer.same_as:
        first = job.answers.get(answer.same_as, "")
        return _end(draft, answer.name, cylinder_words(number or 0), first, ())
    found, why = _pointed_to(draft, answer)
    if number is None:
        draft.add(ev.EvidenceCompared, name=answer.name, said=said, found=_words(found), verdict="none", why=why)
        return end_step(draft, "none")
    _end(draft, answer.name, cylinder_words(number), _words(found), why)


def _end(draft: Draft, name: str, said: str, found: str, why: tuple[str, ...]) -> None:
    agree = bool(found) and said == found and not why
    if not agree and not why:
        why = (f"You say {said}, but {found} was found.",)
    draft.add(ev.EvidenceCompared, name=name, said=said, found=found, verdict="agree" if agree else DISAGREE, why=why)
    end_step(draft, "agree" if agree else DISAGREE)


def _words(number: Optional[int]) -> str:
    return cylinder_words(number) if number else ""


def _pointed_to(draft: Draft, answer: CylinderOf) -> tuple[Optional[int], tuple[str, ...]]:
    """The one cylinder that codes and readings point to, or what disagrees; each comparison is logged."""
    compared = [(spread.name, pointing.compared(draft.job, spread)) for spread in answer.readings]
    for name, found in compared:
        if found is not None:
            draft.add(ev.ReadingsCompared, name=name, unit=draft.job.values[name].unit, cylinders=tuple(found.readings),
                      values=tuple(str(value) for value in found.readings.values()), median=found.median,
                      outlier=found.outlier, unusual=found.unusual, by=found.by, over_limit=found.over_limit)
    return pointing.pointed_to(draft.job, answer, [found for _, found in compared])


# -- codes -------------------------------------------------------------------------------------------------------------

def proof(draft: Draft, answer: CodesOf, heard: tuple[str, ...]) -> str:
    """Whether the code that our own test made names the cylinder whose plug is off."""
    found, agreed = pointing.proof(draft.job, answer, heard)
    verdict = "agree" if agreed.ok else DISAGREE
    draft.add(ev.EvidenceCompared, name=answer.name, said=draft.job.answers.get(answer.proves, ""),
              found=_words(agreed.cylinder), verdict=verdict, why=found.disagree)
    return verdict


def comparison(draft: Draft, answer: CodesOf, heard: tuple[str, ...]) -> str:
    """Before against after; what our own test made must be gone."""
    found, ours = pointing.codes_compared(draft.job, answer, heard)
    draft.add(ev.CodesCompared, name=answer.name, gone=found.gone, still_there=found.still_there, new=found.new,
              came_back=found.came_back, ours_left=ours)
    back = found.still_there + found.came_back
    return "ours" if ours else "back" if back else "new" if found.new else "none"


# -- the fault ---------------------------------------------------------------------------------------------------------

def fault_said(draft: Draft, said: str) -> None:
    """Injector, wiring or controller, held against the wires, the driver, the resistance and a swap."""
    job, answer = draft.job, draft.job.step.answer
    draft.add(ev.AnswerGiven, answer=said, name=answer.name)
    part = pointing.part_at_fault(job, answer, _side(job.values.get(answer.resistance)))
    agree = said == part
    draft.add(ev.EvidenceCompared, name=answer.name, said=said, found=part, verdict="agree" if agree else DISAGREE,
              why=() if agree else (f"You say {said}, but what was found points to {part}.",))
    end_step(draft, said if agree else DISAGREE)


def _side(logged: Optional[ev.ValueLogged]) -> str:
    """Where the bare reading lies; "" where it was not taken, or has no limits."""
    return (logged.side or logged.verdict) if logged and logged.verdict != "none" else ""
