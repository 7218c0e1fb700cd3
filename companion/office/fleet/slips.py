"""Harmless things in a good job: something misheard, said again, asked, a pause, a wrong count put right, a break."""
from __future__ import annotations

from typing import TYPE_CHECKING, Callable, Optional

from companion.core.card import CountOf, Done, ToolOf
from companion.core.job.measuring import target_of
from companion.core.job.state import Job
from companion.core.numbers import say_number
from companion.office.fleet.acts import Act, Mumble, Say

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic

Slip = Callable[["Mechanic", Job], Optional[Act]]
_BREAK = 0.0008
"""Chance at each step of a good job that it is left for a while, once at most."""


def slip(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """Now and then one of them; None as a rule."""
    if job.mode not in ("asking", "caution", "waiting") or job.step.on_the_road or job.failures:
        return None
    if mechanic.talk.random() < _BREAK and job.mode == "asking" and job.trail[1:] and mechanic.once("break"):
        mechanic.returns = True
        return mechanic.say(job, "stop job")
    if mechanic.talk.random() >= mechanic.plan.fitter.talk:
        return None
    return mechanic.talk.choice(_SLIPS)(mechanic, job)


def _misheard(mechanic: "Mechanic", job: Job) -> Act:
    return Mumble(mechanic.work_ms(job))


def _ask(mechanic: "Mechanic", job: Job) -> Act:
    asked = {"asking": ("repeat", "options", "where was I", "say again"), "caution": ("repeat",), "waiting": ("how long", "time left")}
    return Say(mechanic.talk.choice(asked[job.mode]), mechanic.think_ms() + mechanic.talk.randrange(10_000))


def _pause(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    return Say("pause", mechanic.think_ms() + mechanic.talk.randrange(18_000)) if job.mode == "asking" else None


def _unsure(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The ear asks back. Only where nothing is entered into the record but that the step is done."""
    if job.mode != "asking" or not isinstance(job.step.answer, Done) or job.step.personal or mechanic.plan.typed:
        return None
    return mechanic.say(job, "next", sure=False, score=mechanic.talk.randrange(55, 80))


def _miscount(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """One is counted wrong; the companion asks again."""
    answer = job.step.answer
    if job.mode != "asking" or not isinstance(answer, CountOf) or "wrong" in job.step.then or not mechanic.once(f"miscount {job.at}"):
        return None
    must_be = target_of(job, answer)
    return mechanic.say(job, say_number(str(must_be - 1))) if must_be else None


def _other_tool(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The first tool to hand will not do."""
    if job.mode != "asking" or not isinstance(job.step.answer, ToolOf) or not mechanic.once(f"tool {job.at}"):
        return None
    return mechanic.say(job, "old wrench") if job.tools and job.tools.get("old wrench") and job.step.answer.kind == "torque wrench" else None


def _voice(mechanic: "Mechanic", job: Job) -> Act:
    return Say(mechanic.talk.choice(("slower", "faster", "louder", "quieter")), mechanic.think_ms())


_SLIPS: tuple[Slip, ...] = (_misheard, _misheard, _misheard, _ask, _ask, _pause, _unsure, _unsure, _miscount, _miscount,
                            _other_tool, _voice)
