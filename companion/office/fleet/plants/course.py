"""Plants in the course of a job: cautions, waits, steps left out, silence, clocks, emergencies, jobs without an end."""
from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Optional

from companion.core.card import Affirm, ChoiceOf, Done, Step, WaitOf
from companion.core.job.state import Job
from companion.office.fleet.acts import Act, ComeBack, GoAway, Say, SetClock
from companion.office.fleet.plants.plant import Plant
from companion.office.fleet.road import FAR, Road, ways
from companion.office.fleet.toolroom import tools_on
from companion.office.fleet.words import REASONS, yes_or_no

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic
    from companion.office.fleet.plan import Plan

_HOUR = 3_600_000
_MINUTE = 60_000
_ASKING_MS = 25_000
"""Why a wait is to end early, and whether it is: asked and answered."""


# -- cautions ----------------------------------------------------------------------------------------------------------

def _has_cautions(road: Road, step: Step) -> bool:
    return bool(step.cautions)


def _caution_unanswered(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job, "caution"):
        return None
    mechanic.did()
    after = mechanic.random.randrange(_MINUTE, 10 * _MINUTE)
    return Say("stop job", after) if mechanic.random.random() < 0.5 else GoAway(after)


def _typed(plan: "Plan") -> "Plan":
    return replace(plan, typed=True)


def _caution_rushed(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """Typed without looking: nobody can have read it."""
    if not mechanic.here(job, "caution"):
        return None
    mechanic.did()
    return Say(job.card.cautions[job.cautions[0]].answer, mechanic.random.randrange(200, 700))


# -- waits, and steps left out -----------------------------------------------------------------------------------------

def _waits_for_work(road: Road, step: Step) -> bool:
    clock = road.card.clocks[step.answer.clock] if isinstance(step.answer, WaitOf) else None
    return clock is not None and clock.protects == "work" and clock.lasts_ms > _ASKING_MS


def _wait_cut_short(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if job.step.on_the_road and job.mode == "asking" and job.card.following(job.at) == mechanic.target.id:
        return Say("next", _part_of_wait(mechanic, job))
    if mechanic.here(job, "reason"):
        mechanic.did()
        return Say(mechanic.random.choice(REASONS), mechanic.think_ms())
    return Say("end the wait", _part_of_wait(mechanic, job)) if mechanic.here(job, "waiting") else None


def _part_of_wait(mechanic: "Mechanic", job: Job) -> int:
    """Some of what is left on the clocks, but so little that asking and answering still fall within the wait."""
    left = max(clock.left(job.last_up_ms) for clock in job.clocks.values())
    return max(300, min(round(left * mechanic.random.uniform(0.1, 0.6)), left - _ASKING_MS))


def _may_be_left_out(road: Road, step: Step) -> bool:
    kept = (step.must, step.makes_safe, step.opens, step.shows_new, step.cautions, step.starts, step.ends_safe,
            step.cannot_undo, step.on_the_road, step.closes, step.then, step.hold)
    return isinstance(step.answer, Done) and not any(kept)


def left_out(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The step is left out, with a reason."""
    if mechanic.here(job, "reason"):
        return Say(mechanic.random.choice(REASONS), mechanic.think_ms())
    if not mechanic.here(job):
        return None
    mechanic.did()
    return Say("leave out", mechanic.think_ms())


# -- tools, clocks and silence -----------------------------------------------------------------------------------------

def _first_wrench_value(road: Road, step: Step) -> bool:
    """The first value that is read on a torque wrench."""
    return step in road.read_on("torque wrench")[:1]


def _ending(plan: "Plan") -> "Plan":
    return replace(plan, tools=tools_on(plan.seed, plan.fitter.number, plan.day, ends=True))


def _left_for_days(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The calibration holds on the day of the choice, and not when he comes back to pull."""
    if job.mode == "ended":
        return ComeBack(mechanic.random.randrange(2, 5) * 24 * _HOUR) if mechanic.once("back") else None
    if not mechanic.here(job) or not mechanic.once("stop"):
        return None
    mechanic.did()
    return Say("stop job", mechanic.work_ms(job))


def _clock_set(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job) or not mechanic.once("clock"):
        return None
    mechanic.did()
    return SetClock(mechanic.random.choice((-_HOUR, _HOUR)), mechanic.random.randrange(1000, 4000))


def _early(road: Road, step: Step) -> bool:
    """In the first half, so that a later step will do as well; on a card that says to check on whoever works alone, since
    nobody did."""
    return road.card.alone is not None and _is_done(road, step) and road.steps.index(step) < (len(road.steps) + 1) // 2


def _silent(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """At the step that was picked, or the next one at which no clock runs."""
    reached = mechanic.target.id in job.visits
    idle = job.mode == "asking" and all(clock.ended for clock in job.clocks.values())
    if mechanic.planted or not reached or not idle or not _is_done(mechanic.road, job.step):
        return None
    mechanic.did()
    return Say("next", mechanic.random.randrange(35 * _MINUTE, 80 * _MINUTE))


# -- emergencies, and jobs without a proper end ------------------------------------------------------------------------

def _is_done(road: Road, step: Step) -> bool:
    return isinstance(step.answer, Done) and not step.on_the_road


def _emergency(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job) or not mechanic.once("emergency"):
        return None
    mechanic.did()
    return Say("emergency", mechanic.random.randrange(3000, 60_000))


def _emergency_and_stop(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    called = _emergency(mechanic, job)
    return called or (Say("stop job", mechanic.random.randrange(5000, 60_000)) if mechanic.here(job) else None)


def _walks_off(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return GoAway(mechanic.random.randrange(_MINUTE, 20 * _MINUTE))


def _stops(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    return Say("stop job", mechanic.random.randrange(_MINUTE, 20 * _MINUTE))


def _stopping(road: Road, step: Step) -> tuple[str, ...]:
    """Answers that lead to another end than the proper one."""
    if not isinstance(step.answer, (ChoiceOf, Affirm)) or step.must == "leak-check":
        return ()
    return tuple(outcome for outcome in ways(step) if road.how_far(step, outcome) >= FAR)


def _stopping_answer(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    outcome = mechanic.random.choice(_stopping(mechanic.road, job.step))
    return mechanic.say(job, yes_or_no(outcome, mechanic.random) if isinstance(job.step.answer, Affirm) else outcome)


PLANTS = (
    Plant("a caution is never answered", ("caution-unacknowledged", "job-unfinished"), _caution_unanswered,
          _has_cautions),
    Plant("a caution is answered at once", ("caution-rushed",), _caution_rushed, _has_cautions, _typed),
    Plant("a wait is ended early", ("wait-cut-short",), _wait_cut_short, _waits_for_work),
    Plant("a step is left out", ("step-left-out",), left_out, _may_be_left_out),
    Plant("the calibration ends while the job is left", ("tool-out-of-calibration",), _left_for_days,
          _first_wrench_value, _ending),
    Plant("the time of day is set", ("clock-stepped",), _clock_set, _is_done),
    Plant("nothing is heard for long", ("alone-unagreed", "long-silence"), _silent, _early),
    Plant("an emergency is called", ("emergency-called",), _emergency, _is_done),
    Plant("an emergency ends the job", ("emergency-called", "job-unfinished"), _emergency_and_stop, _is_done),
    Plant("the mechanic goes away", ("job-unfinished",), _walks_off, _is_done),
    Plant("the job is left for good", ("job-unfinished",), _stops, _is_done),
    Plant("what is found stops the job", ("job-stopped",), _stopping_answer,
          lambda road, step: bool(_stopping(road, step))),
)
