"""Plants in what is proved: the cylinder, the fault, leaks and fault codes."""
from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Optional

from companion.core.card import ChoiceOf, CodesOf, CylinderOf, FaultOf, RunOf, Step
from companion.core.card.answers import misfits
from companion.core.job.evidence import THEY_DISAGREE
from companion.core.job.state import Job
from companion.office.fleet.acts import Act, Let, Say
from companion.office.fleet.answers import code_words
from companion.office.fleet.plants.course import left_out
from companion.office.fleet.plants.plant import Plant
from companion.office.fleet.road import FAR, Road
from companion.office.fleet.words import cylinder_said

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic
    from companion.office.fleet.plan import Plan

_NEW_CODE = "P0101"
"""Names no cylinder, and is on no made job's list before the work."""


# -- the cylinder and the fault ----------------------------------------------------------------------------------------

def _names_it(road: Road, step: Step) -> bool:
    return isinstance(step.answer, CylinderOf) and not step.answer.same_as


def _names_it_again(road: Road, step: Step) -> bool:
    return isinstance(step.answer, CylinderOf) and bool(step.answer.same_as)


def _other_cylinder(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job) or not mechanic.once("other"):
        return None
    mechanic.did()
    return mechanic.say(job, cylinder_said(_other(mechanic.plan.cylinder), job.card, mechanic.random))


def _other(cylinder: int) -> int:
    return cylinder % 4 + 1


def _readings_name_another(plan: "Plan") -> "Plan":
    return replace(plan, codes=(f"P030{plan.cylinder}",), reads_as=_other(plan.cylinder))


def _they_disagree(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return mechanic.say(job, THEY_DISAGREE)


def _is_proof(road: Road, step: Step) -> bool:
    return isinstance(step.answer, CodesOf) and bool(step.answer.proves)


def _other_code(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The wires of two injectors are changed over: the controller names the other one."""
    return _codes_said(mechanic, job, (f"P020{_other(mechanic.plan.cylinder)}",))


def _codes_said(mechanic: "Mechanic", job: Job, codes: tuple[str, ...]) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return mechanic.say(job, code_words(mechanic, job, codes))


def _is_verdict(road: Road, step: Step) -> bool:
    return isinstance(step.answer, FaultOf)


def _other_fault(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return mechanic.say(job, mechanic.random.choice(("wiring", "controller")))


# -- leaks -------------------------------------------------------------------------------------------------------------

def _is_run(road: Road, step: Step) -> bool:
    return isinstance(step.answer, RunOf)


def _paused(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job, "watching") or not mechanic.once("pause"):
        return None
    mechanic.did()
    return Say("pause", mechanic.random.randrange(5000, 50_000))


def _unanswered(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not (mechanic.here(job, "watching") and job.watch.put) or mechanic.planted:
        return None
    mechanic.did()
    return Let()


def _leaks(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """It leaks; then the place is found, mended, and the run is dry."""
    seen = mechanic.chosen.get("leak")
    if seen and job.mode == "asking" and isinstance(job.step.answer, ChoiceOf):
        places = [option for option in job.step.answer.options if seen[0].endswith(option) and option != seen[0]]
        return mechanic.say(job, places[0]) if places else None
    if seen or not (mechanic.here(job, "watching") and job.watch.put):
        return None
    mechanic.did()
    mechanic.chosen["leak"] = [mechanic.random.choice(job.step.answer.bad)]
    return Say(mechanic.chosen["leak"][0], mechanic.random.randrange(1500, 9000))


def _is_look(road: Road, step: Step) -> bool:
    return step.must == "leak-check" and isinstance(step.answer, ChoiceOf) and "leaking" in step.answer.options


def _leaks_at_once(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return mechanic.say(job, "leaking")


# -- codes -------------------------------------------------------------------------------------------------------------

def _may_be_missing(road: Road, step: Step) -> bool:
    return isinstance(step.answer, CodesOf) and not misfits(step.answer)


def _is_last_look(road: Road, step: Step) -> bool:
    """Codes after the work, where one that is back, or new, stops the job."""
    return isinstance(step.answer, CodesOf) and bool(step.answer.cleared) and all(
        road.how_far(step, outcome) >= FAR for outcome in ("back", "new"))


def _back_again(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    return _codes_said(mechanic, job, mechanic.plan.codes[:1])


def _new_one(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    return _codes_said(mechanic, job, (_NEW_CODE,))


PLANTS = (
    Plant("another cylinder is suspected", ("wrong-cylinder", "job-stopped"), _other_cylinder, _names_it),
    Plant("another plug is pulled", ("wrong-cylinder",), _other_cylinder, _names_it_again),
    Plant("codes and readings disagree", ("evidence-disagrees", "job-stopped"), _they_disagree, _names_it,
          _readings_name_another),
    Plant("our own code names another cylinder", ("evidence-disagrees", "job-stopped"), _other_code, _is_proof),
    Plant("the wiring is blamed", ("evidence-disagrees", "job-stopped"), _other_fault, _is_verdict),
    Plant("a leak run is broken off", ("leak-run-short",), _paused, _is_run),
    Plant("a question of a leak run is not answered", ("leak-unanswered",), _unanswered, _is_run),
    Plant("a leak is seen and mended", ("leak-found",), _leaks, _is_run),
    Plant("a leak is seen before the work", ("leak-found", "job-stopped"), _leaks_at_once, _is_look),
    Plant("codes are not read", ("codes-missing", "step-left-out"), left_out, _may_be_missing),
    Plant("a code comes back", ("code-still-there", "job-stopped"), _back_again, _is_last_look),
    Plant("a code is new", ("code-new", "job-stopped"), _new_one, _is_last_look),
)
