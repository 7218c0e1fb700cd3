"""A second pair of eyes: the tool against its task, the cylinder and the fault against what was found, codes before
against after. Each verdict is worked out from logged facts and logged with its figures; any disagreement has its branch."""
from __future__ import annotations

from decimal import Decimal
from typing import Optional

from companion.core import events as ev
from companion.core.card import CodesOf, CylinderOf, FaultOf, Step, ToolOf, ValueOf
from companion.core.card.answers import DISAGREE, Sound, Spread
from companion.core.job.apply import day
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step
from companion.core.job.state import Job
from companion.core.numbers import say_number
from companion.core.toolbox import NONE_OF_THESE
from companion.trade import codes, cylinders, leakoff, torque
from companion.trade.tools import Fit, Tool, judge_tool

THEY_DISAGREE = "they disagree"
"""Said where codes and readings point to no one cylinder."""


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

def cylinder_words(number: int) -> str:
    """"cylinder three"."""
    return f"cylinder {say_number(str(number))}"


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
    number = _number(job, said)
    draft.add(ev.AnswerGiven, answer=cylinder_words(number) if number else said, name=answer.name)
    if answer.same_as:
        first = job.answers.get(answer.same_as, "")
        return _end(draft, answer.name, cylinder_words(number or 0), first, ())
    found, why = pointed_to(draft, answer)
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


def _number(job: Job, said: str) -> Optional[int]:
    """The number of a cylinder that was named in either way."""
    around = job.card.cylinders
    by_name = {cylinder_words(number): number for number in range(1, (around.count if around else 0) + 1)}
    by_place = cylinders.positions(around.count, around.counted_from) if around else ()
    return by_name.get(said) or (by_place.index(said) + 1 if said in by_place else None)


def pointed_to(draft: Draft, answer: CylinderOf) -> tuple[Optional[int], tuple[str, ...]]:
    """The one cylinder that codes and readings point to, or what disagrees."""
    named = [number for spread in answer.readings if (number := _stands_out(draft, spread))]
    if len(set(named)) > 1:
        return None, ("The readings point to " + " and to ".join(cylinder_words(number) for number in named) + ".",)
    heard = tuple(code for name in answer.codes for code in draft.job.answers.get(name, "").split())
    found = cylinders.point_to(heard, named[0] if named else None)
    return (found.cylinder, ()) if found.ok else (None, found.disagree)


def _stands_out(draft: Draft, spread: Spread) -> Optional[int]:
    """The cylinder whose reading stands out, worked out and logged; None for none."""
    job = draft.job
    readings = {item: Decimal(text) for item, text in job.readings.get(spread.name, {}).items()}
    if len(readings) < 2:
        return None
    logged = job.values[spread.name]
    low, high = _limits_passed(readings, logged)
    found = leakoff.compare(readings, low=low, high=high, most_ratio=spread.most_ratio, most_apart=spread.most_apart,
                            resolution=Decimal(1).scaleb(-job.card.step(logged.step).answer.decimals))
    draft.add(ev.ReadingsCompared, name=spread.name, unit=logged.unit, cylinders=tuple(readings),
              values=tuple(str(value) for value in readings.values()), median=found.median, outlier=found.outlier,
              unusual=found.unusual, by=found.by, over_limit=found.over_limit)
    return int(found.outlier.split()[-1]) if found.outlier else None


def _limits_passed(readings: dict[str, Decimal], logged: ev.ValueLogged) -> tuple[Optional[Decimal], Optional[Decimal]]:
    """A limit that every reading keeps says nothing about which one stands out, so it does not silence the others."""
    low = logged.low if logged.low is not None and min(readings.values()) < logged.low else None
    high = logged.high if logged.high is not None and max(readings.values()) > logged.high else None
    return low, high


# -- codes -------------------------------------------------------------------------------------------------------------

def codes_before(job: Job, answer: CodesOf) -> tuple[str, ...]:
    """The codes of every list logged before this one, without our own."""
    names = (step.answer.name for step in job.card.steps if isinstance(step.answer, CodesOf))
    lists = (job.answers.get(name, "").split() for name in dict.fromkeys(names) if name != answer.name)
    return tuple(dict.fromkeys(code for found in lists for code in found if code not in job.ours))


def proof(draft: Draft, answer: CodesOf, heard: tuple[str, ...], before: tuple[str, ...]) -> str:
    """Whether the code that our own test made names the cylinder whose plug is off, and no new one names another.

    Where the complaint itself was a circuit code of that cylinder, it is not new and proves less: that is said, too."""
    job = draft.job
    unplugged = job.answers.get(answer.proves, "")
    step = next(step for step in job.card.steps if getattr(step.answer, "name", "") == answer.proves)
    off, suspect = _number(job, unplugged), _number(job, job.answers.get(step.answer.same_as, unplugged))
    found = cylinders.prove(suspect, off, heard, before)
    agreed = found
    if not found.ok:
        own = codes.circuit_codes(suspect)
        agreed = cylinders.prove(suspect, off, heard, tuple(code for code in before if code not in own))
    verdict = "agree" if agreed.ok else DISAGREE
    draft.add(ev.EvidenceCompared, name=answer.name, said=unplugged, found=_words(agreed.cylinder), verdict=verdict,
              why=found.disagree)
    return verdict


def comparison(draft: Draft, answer: CodesOf, heard: tuple[str, ...]) -> str:
    """Before against after; what our own test made must be gone."""
    job = draft.job
    before = tuple(code for name in answer.against for code in job.answers.get(name, "").split() if code not in job.ours)
    cleared = tuple(job.answers[answer.cleared].split()) if answer.cleared in job.answers else None
    ours = tuple(code for code in heard if code in job.ours)
    found = codes.compare(before, tuple(code for code in heard if code not in ours), cleared)
    draft.add(ev.CodesCompared, name=answer.name, gone=found.gone, still_there=found.still_there, new=found.new,
              came_back=found.came_back, ours_left=ours)
    back = found.still_there + found.came_back
    return "ours" if ours else "back" if back else "new" if found.new else "none"


# -- the fault ---------------------------------------------------------------------------------------------------------

_CANNOT_TELL = "cannot tell"


def fault_said(draft: Draft, said: str) -> None:
    """Injector, wiring or controller, held against the wires, the driver, the resistance and a swap."""
    job, answer = draft.job, draft.job.step.answer
    draft.add(ev.AnswerGiven, answer=said, name=answer.name)
    found = cylinders.fault_lies(
        wiring=_word(job, answer.wiring, "sound", "damaged"), driver=_word(job, answer.driver, "steady", "flat"),
        swap=_word(job, answer.swap, "stayed", "moved"), resistance=_resistance(job, answer))
    part = _CANNOT_TELL if found.part == "unclear" else found.part
    agree = said == part
    draft.add(ev.EvidenceCompared, name=answer.name, said=said, found=part, verdict="agree" if agree else DISAGREE,
              why=() if agree else (f"You say {said}, but what was found points to {part}.",))
    end_step(draft, said if agree else DISAGREE)


def _word(job: Job, given: Optional[Sound], sound: str, other: str) -> str:
    if given is None or given.answer not in job.answers:
        return ""
    return sound if job.answers[given.answer] == given.sound else other


def _resistance(job: Job, answer: FaultOf) -> str:
    logged = job.values.get(answer.resistance)
    return (logged.side or logged.verdict) if logged and logged.verdict != "none" else ""
