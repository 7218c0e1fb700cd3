"""What a gauge, a wrench or a bottle shows in a made job."""
from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Optional

from companion.core import events as ev
from companion.core.card import Adaptor, CylinderOf, ValueOf
from companion.core.card.answers import Spread
from companion.core.job.measuring import measure, setting, tool_for
from companion.core.job.state import Job
from companion.errors import BadInput
from companion.office.fleet.depot import DRIFTING, WORSE_PART
from companion.office.fleet.editions import FIRST_DAY
from companion.office.fleet.words import as_digits, value_words
from companion.trade.tools import fits, lowest_usable
from companion.trade.torque import applied
from companion.trade.units import UNITS

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic

_LEVELS = {"fuel quantity": 6.2, "leak-off": 24.0}
"""What a healthy injector shows."""
_WORSE = 1.35
"""Times as much leaks back through the worse part."""
_DRIFT = 0.3
"""Of the tolerance, over the whole year."""
_RETIGHTEN_KM = 70


def reading_words(mechanic: "Mechanic", job: Job) -> str:
    """A reading inside its limits, as it is said."""
    answer = job.step.answer
    return value_words(as_digits(usual(mechanic, job), answer.decimals), answer.unit, mechanic.random)


def usual(mechanic: "Mechanic", job: Job) -> float:
    """A reading inside its limits, in the card's unit; on a wrench with an adaptor, what the wrench shows."""
    answer, random = job.step.answer, mechanic.random
    spread = _spread(job, answer.name)
    if spread is not None:
        return _of_cylinder(mechanic, job, spread)
    if answer.nominal is not None:
        return _at_nominal(mechanic, job)
    if answer.no_rise_from:
        return float(random.randint(0, int(Decimal(ev.plain(job.values[answer.no_rise_from].value)))))
    if UNITS[answer.unit].quantity == "length" and answer.high is not None and answer.high > 10_000:
        known = [value for value in job.values.values() if value.unit == answer.unit and value.step != job.at]
        return float(ev.plain(known[0].value)) + _RETIGHTEN_KM if known else float(mechanic.plan.mileage)
    guard = 0.82 * float(answer.uncertainty or 0)
    low = float(answer.low) + guard if answer.low is not None else 0.0
    high = float(answer.high) - guard if answer.high is not None else low + 10
    return low + (high - low) * random.uniform(0.3, 0.55)


def _at_nominal(mechanic: "Mechanic", job: Job) -> float:
    """About the nominal value; one mechanic's wrenches show more as the months go by."""
    answer, random = job.step.answer, mechanic.random
    target = float(setting(job, answer) or answer.nominal)
    tolerance = float(answer.high - answer.low) / 2 * target / float(answer.nominal)
    tool, drift = tool_for(job, answer), 0.0
    if tool is not None and mechanic.plan.fitter.number == DRIFTING:
        drift = _DRIFT * (mechanic.plan.day - FIRST_DAY).days / 364
    value = target + tolerance * (drift + max(-0.25, min(0.25, random.gauss(0, 0.1))))
    lowest = lowest_usable(tool) if tool else None
    return max(value, float(lowest) + 0.05) if lowest is not None else value


def _spread(job: Job, name: str) -> Optional[Spread]:
    """The card's limits on a reading of every cylinder, where it is one that names the cylinder at fault."""
    if not job.step.item:
        return None
    naming = (step.answer for step in job.card.steps if isinstance(step.answer, CylinderOf))
    return next((spread for answer in naming for spread in answer.readings if spread.name == name), None)


def _of_cylinder(mechanic: "Mechanic", job: Job, spread: Spread) -> float:
    """The cylinder at fault stands out by the card's limits; the others lie close together."""
    answer, random, plan = job.step.answer, mechanic.random, mechanic.plan
    level = _LEVELS.get(answer.name, float(answer.low or 0) + 0.2 * float((answer.high or 100) - (answer.low or 0)))
    if answer.name == "leak-off" and plan.vehicle.part == WORSE_PART:
        level *= _WORSE
    if int(job.step.item.split()[-1]) != plan.reads_as:
        return level * random.uniform(0.96, 1.04)
    if spread.most_ratio is not None:
        return level * 1.04 * float(spread.most_ratio) * random.uniform(1.05, 1.3)
    return level * 1.04 + float(spread.most_apart or level) * random.uniform(1.3, 2.4)


# -- readings that are not inside --------------------------------------------------------------------------------------

def judged(job: Job, verdict: str, upward: bool) -> Optional[str]:
    """The digits of the reading nearest to a limit that the core judges so, on a wrench that can show it; None where
    there is none. `upward`: beyond the high limit, from inside; else below the lowest mark of the tool."""
    answer: ValueOf = job.step.answer
    tool = tool_for(job, answer)
    step = Decimal(1).scaleb(-answer.decimals)
    lever = Decimal(1) if answer.adaptor is None or tool is None else _lever(answer.adaptor, tool.arm)
    start = (answer.nominal or answer.low or Decimal(0)) / lever if upward else lowest_usable(tool) - step
    for count in range(400):
        reading = (start + (count if upward else -count) * step).quantize(step)
        shows = tool is None or fits(tool, reading, answer.unit).ok
        if shows == upward and _verdict(job, answer, reading) == verdict:
            return str(reading)
    return None


def _lever(adaptor: Adaptor, arm: Decimal) -> Decimal:
    return applied(Decimal(1), arm, adaptor.length, adaptor.angle)


def _verdict(job: Job, answer: ValueOf, reading: Decimal) -> str:
    try:
        return measure(job, answer, str(reading), answer.unit).verdict
    except BadInput:
        return ""
