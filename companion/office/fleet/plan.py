"""What one made job is about, before anybody has worked it. It depends on the seed and the job's number alone."""
from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from random import Random
from typing import Optional

from companion.core.job.inputs import Now
from companion.edge.opening import Tools
from companion.office.fleet import editions
from companion.office.fleet.depot import VEHICLES, WORSE_PART, Fitter, Vehicle, fitters, vehicle
from companion.office.fleet.editions import FIRST_DAY, LAST_DAY, Edition, edition
from companion.office.fleet.plants import PLANTS, Plant
from companion.office.fleet.road import road_of
from companion.office.fleet.toolroom import tools_on

BLOCK = 4
"""One job of so many has a plant."""
_SHARES = {"common-rail-injector": 45, "road-wheels": 38, "learning": 17}
"""Of a hundred jobs without a plant; any other card has `_OTHER`. Most plants need the long card."""
_OTHER = 10
_TYPED = 0.1
"""The share of jobs that are typed."""
_COMEBACK_EVERY, _COMEBACK_AT, _LOOK_BACK = 20, 13, 40
"""Of so many jobs the one at that place is a comeback, of one of so many jobs before it."""


@dataclass(frozen=True)
class Plan:
    """One job."""

    seed: int
    number: int
    """From 1."""
    edition: Edition
    fitter: Fitter
    vehicle: Vehicle
    day: date
    began: Now
    tools: Tools
    typed: bool
    mileage: int
    """Kilometres on that day."""
    cylinder: int
    """The one at fault, by the codes."""
    reads_as: int
    """The one that the readings point to."""
    codes: tuple[str, ...]
    """Stored before the work."""
    permanent: tuple[str, ...]
    rounds: int
    """How often more the card's own loop is gone through, as for further wheels."""
    plant: Optional[Plant] = None
    comeback_of: int = 0
    """The earlier job on the same cylinder; 0 for none."""

    @property
    def name(self) -> str:
        """The log's file name."""
        return f"job-{self.number:05d}-{self.edition.card}.jsonl"

    def random(self, what: str) -> Random:
        """Chance for one use, apart from that for any other."""
        return Random(f"{self.seed} {self.number} {what}")


def planned(seed: int, number: int) -> Plan:
    """The job of that number."""
    plant = _plant(seed, number)
    plan = _comeback(seed, number) if plant is None else None
    return plan or _base(seed, number, plant)


@lru_cache(maxsize=256)
def _base(seed: int, number: int, plant: Optional[Plant]) -> Plan:
    random = Random(f"{seed} {number} plan")
    fitter, van = random.choice(fitters(seed)), vehicle(seed, random.randrange(VEHICLES))
    first = editions.NEWER_FROM if plant and plant.edition in editions.LATER else FIRST_DAY
    day = first + timedelta(days=random.randrange((LAST_DAY - first).days + 1))
    cylinder = random.randrange(1, 5)
    text = edition(_card(seed, number, plant), day, plant.edition if plant else editions.IN_FORCE)
    plan = Plan(seed, number, text, fitter, van, day, _morning(day, random), tools_on(seed, fitter.number, day),
                random.random() < _TYPED, _mileage(van, day, random), cylinder, cylinder, _codes(cylinder, random), (),
                random.choice((0, 0, 0, 1, 1, 3)))
    plan = replace(plan, permanent=plan.codes[:1] if random.random() < 0.15 else ())
    return replace(plant.arrange(plan), plant=plant) if plant else plan


def _mileage(van: Vehicle, day: date, random: Random) -> int:
    """Seventy kilometres a day."""
    return van.mileage + 70 * (day - FIRST_DAY).days + random.randrange(70)


def _morning(day: date, random: Random) -> Now:
    """Between six and one o'clock, UTC, on a machine that was started some time before."""
    began = datetime(day.year, day.month, day.day, 6, tzinfo=timezone.utc)
    return Now(round(began.timestamp()) * 1000 + random.randrange(7 * 3_600_000), random.randrange(60_000, 9_000_000))


def _codes(cylinder: int, random: Random) -> tuple[str, ...]:
    """Mostly a code that names the cylinder, sometimes one that names none; never one that pulling a plug makes."""
    balance, misfire, pressure = f"P{260 + 3 * cylinder:04d}", f"P030{cylinder}", "P0087"
    return random.choice(((balance,), (balance,), (misfire,), (balance, misfire), (pressure,)))


# -- which card, which plant -------------------------------------------------------------------------------------------

def _plant(seed: int, number: int) -> Optional[Plant]:
    """One job of each block has a plant: each in its turn."""
    block, place = divmod(number - 1, BLOCK)
    return possible()[block % len(possible())] if place == Random(f"{seed} block {block}").randrange(BLOCK) else None


@lru_cache(maxsize=None)
def possible() -> tuple[Plant, ...]:
    """The plants for which there is a card."""
    return tuple(plant for plant in PLANTS if any(fits(plant, card) for card in editions.cards()))


def _card(seed: int, number: int, plant: Optional[Plant]) -> str:
    """Of the cards on which the plant is possible, by their shares."""
    fitting = [card for card in editions.cards() if plant is None or fits(plant, card)]
    return Random(f"{seed} {number} card").choices(fitting, [_SHARES.get(card, _OTHER) for card in fitting])[0]


@lru_cache(maxsize=None)
def fits(plant: Plant, card: str) -> bool:
    """Whether the usual way through the card comes by a step at which the plant can be done."""
    return bool(plant.places(road_of(edition(card, FIRST_DAY, plant.edition).text)))


def _comeback(seed: int, number: int) -> Optional[Plan]:
    """The same van and the same cylinder again, within weeks of an earlier job that nothing was wrong with. Every other
    one is of a job with the worse part, where there was one of late."""
    if number % _COMEBACK_EVERY != _COMEBACK_AT:
        return None
    good = [_base(seed, earlier, None) for earlier in range(number - 1, max(0, number - _LOOK_BACK), -1)
            if _plant(seed, earlier) is None and _card(seed, earlier, None) == "common-rail-injector"]
    worse = [plan for plan in good if plan.vehicle.part == WORSE_PART]
    picked = worse if worse and number // _COMEBACK_EVERY % 2 else good
    return _again(picked[0], number) if picked else None


def _again(first: Plan, number: int) -> Optional[Plan]:
    random = Random(f"{first.seed} {number} again")
    day = first.day + timedelta(days=random.randrange(6, 30))
    if day > LAST_DAY:
        return None
    return replace(first, number=number, comeback_of=first.number, day=day, began=_morning(day, random),
                   edition=edition(first.edition.card, day), tools=tools_on(first.seed, first.fitter.number, day),
                   mileage=first.mileage + random.randrange(300, 2000))
