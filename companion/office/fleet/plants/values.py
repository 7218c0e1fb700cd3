"""Plants in what is measured and counted."""
from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Optional

from companion.core import events as ev
from companion.core.card import CodesOf, CountOf, SpellingOf, Step, ValueOf
from companion.core.card.answers import has_limits, has_target
from companion.core.job.measuring import target_of
from companion.core.job.spelled import first_spelling
from companion.core.job.state import Job
from companion.core.numbers import say_number
from companion.office.fleet.acts import Act, Say
from companion.office.fleet.answers import answer_words
from companion.office.fleet.plants.plant import Plant
from companion.office.fleet.readings import judged
from companion.office.fleet.road import FAR, Road
from companion.office.fleet.words import REASONS, as_digits, spelled_words, value_words

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic
    from companion.office.fleet.plan import Plan

_MOST = 1000
"""A value that may be larger is no measurement that could lie outside, as a mileage."""


# -- kept although it is outside, or too close -------------------------------------------------------------------------

def _is_kept(road: Road, step: Step) -> bool:
    """A value that is asked about, and kept with a reason; no reading that is to name the cylinder."""
    answer = step.answer
    return (isinstance(answer, ValueOf) and not step.must and "outside" not in step.then and has_limits(answer)
            and not step.personal and answer.name not in road.compared() and answer.high is not None and answer.high < _MOST)


def _outside(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    return _kept(mechanic, job, "outside")


def _can_be_too_close(road: Road, step: Step) -> bool:
    return _is_kept(road, step) and bool(step.answer.tool)


def _too_close(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    return _kept(mechanic, job, "too close")


def _kept(mechanic: "Mechanic", job: Job, verdict: str) -> Optional[Act]:
    if mechanic.here(job, "reason"):
        return Say(mechanic.random.choice(REASONS), mechanic.think_ms())
    if not mechanic.here(job):
        return None
    mechanic.did()
    return _reading(mechanic, job, judged(job, verdict, upward=True))


def _reading(mechanic: "Mechanic", job: Job, digits: Optional[str]) -> Act:
    assert digits is not None, f"{job.at}: there must be such a reading"
    return mechanic.say(job, value_words(digits, job.step.answer.unit, mechanic.random))


def _on_a_wrench(road: Road, step: Step) -> bool:
    return step in road.read_on("torque wrench")


def _below_the_marks(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """Where a reading lies below the wrench's lowest mark and yet inside the card's limits: the first time only."""
    if mechanic.planted or job.mode != "asking" or not _on_a_wrench(mechanic.road, job.step):
        return None
    digits = judged(job, "inside", upward=False)
    if digits is None:
        return None
    mechanic.did()
    return _reading(mechanic, job, digits)


# -- changed, or hardly heard ------------------------------------------------------------------------------------------

def _can_change(road: Road, step: Step) -> bool:
    """A value with a step after it at which "correction" means that value."""
    after = road.steps[road.steps.index(step) + 1:]
    return (isinstance(step.answer, ValueOf) and not (step.personal or step.must or step.then) and bool(after)
            and not isinstance(after[0].answer, (CodesOf, SpellingOf)))


def _corrected(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """At the next step it is said to have been another."""
    if mechanic.planted or not _just_after(mechanic, job):
        return None
    mechanic.did()
    return Say(f"correction {_another(mechanic, job)}", mechanic.think_ms())


def _just_after(mechanic: "Mechanic", job: Job) -> bool:
    """Whether the step after that of the plant is open."""
    return job.mode in ("asking", "waiting") and job.before == mechanic.target.id != job.at


def _another(mechanic: "Mechanic", job: Job) -> str:
    """The same reading in its last place but one or two steps away, still inside."""
    logged = job.value
    answer = job.card.step(logged.step).answer
    step = 10.0 ** -answer.decimals
    said = float(ev.plain(logged.said))
    middle = said if answer.nominal is None else float(answer.nominal) * said / float(ev.plain(logged.value))
    return say_number(as_digits(said + (step if said <= middle else -step), answer.decimals))


def _went_back(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """One step back, and the value is read anew."""
    if mechanic.here(job) and mechanic.planted and mechanic.once("anew"):
        return mechanic.say(job, _another(mechanic, job))
    if not _just_after(mechanic, job) or not mechanic.once("back"):
        return None
    mechanic.did()
    return Say("previous step", mechanic.think_ms())


def _is_figure(road: Road, step: Step) -> bool:
    return isinstance(step.answer, (ValueOf, CountOf)) and not step.personal


def _doubtful(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The ear asks back, and the figure is affirmed."""
    if not mechanic.here(job) or not mechanic.once("doubt"):
        return None
    mechanic.did()
    return mechanic.say(job, answer_words(mechanic, job), sure=False, score=mechanic.random.randrange(55, 80))


def _spoken(plan: "Plan") -> "Plan":
    return replace(plan, typed=False)


# -- counts and spellings ----------------------------------------------------------------------------------------------

def _must_come_right(road: Road, step: Step) -> bool:
    return isinstance(step.answer, CountOf) and has_target(step.answer) and "wrong" not in step.then


def _one_is_missing(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """Counted twice, not found, and the job is left for good."""
    if not mechanic.here(job):
        return None
    mechanic.did()
    if mechanic.once("first") or mechanic.once("second"):
        return mechanic.say(job, say_number(str(target_of(job, job.step.answer) - 1)))
    return Say("stop job", mechanic.random.randrange(60_000, 600_000))


def _repeats_the_end(road: Road, step: Step) -> bool:
    answer = step.answer
    return isinstance(answer, SpellingOf) and bool(answer.last) and road.how_far(step, "different") >= FAR


def _another_van(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    if not mechanic.here(job):
        return None
    mechanic.did()
    right = first_spelling(job, job.step.answer)
    return mechanic.say(job, spelled_words(right[:-1] + str((int(right[-1]) + mechanic.random.randrange(1, 10)) % 10)))


PLANTS = (
    Plant("a value is outside", ("value-outside",), _outside, _is_kept),
    Plant("a value is too close to its limit", ("value-too-close",), _too_close, _can_be_too_close),
    Plant("a value is corrected afterwards", ("value-changed",), _corrected, _can_change),
    Plant("a value is read again", ("value-changed",), _went_back, _can_change),
    Plant("a figure is hardly heard", ("value-doubtful",), _doubtful, _is_figure, _spoken),
    Plant("a wrench is used below its marks", ("tool-cannot-measure",), _below_the_marks, _on_a_wrench),
    Plant("something is missing at a count", ("count-unreconciled", "job-unfinished"), _one_is_missing,
          _must_come_right),
    Plant("another van is named at the end", ("vehicle-differs", "job-stopped"), _another_van, _repeats_the_end),
)
