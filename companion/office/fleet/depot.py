"""The invented depot: its mechanics, the vans they look after, and the parts it orders. Nothing of it exists."""
from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from random import Random

MECHANICS = 8
VEHICLES = 20_000
"""So many that a van comes back by chance no more often than vans do."""
#: No maker's: a first character of 0 stands for no region of the world.
_VIN_BEGINS = "0FHVN"
_VIN_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
_YEARS = "NPRST"
PARTS = ("4471B", "5208D", "5512D", "6093F")
WORSE_PART = PARTS[2]
"""Its injectors leak back more than the others, whole or not."""
DRIFTING = 4
"""The mechanic (from 0) whose wrenches show more and more over the months."""


@dataclass(frozen=True)
class Fitter:
    """A mechanic of the depot, with a van full of tools."""

    number: int
    """From 0."""
    initials: str
    pace: float
    """Times the usual time for a step."""
    brief: bool
    """Works with brief words."""
    talk: float
    """How readily the companion is asked something, or misheard; chance at each answer."""


@dataclass(frozen=True)
class Vehicle:
    """A customer's van."""

    number: str
    """17 characters, of the structure of a vehicle identification number."""
    reference: str
    """The customer's, on the booking."""
    mileage: int
    """Kilometres at the start of the year."""
    part: str
    """Part number of its injectors."""


@lru_cache(maxsize=8)
def fitters(seed: int) -> tuple[Fitter, ...]:
    """The mechanics that a seed gives."""
    random = Random(f"{seed} fitters")
    return tuple(_fitter(number, random) for number in range(MECHANICS))


def _fitter(number: int, random: Random) -> Fitter:
    initials = _VIN_LETTERS[2 * number + random.randrange(2)] + random.choice(_VIN_LETTERS)  # no two alike
    return Fitter(number, initials, random.uniform(0.85, 1.2), random.random() < 0.3, random.uniform(0.02, 0.05))


def vehicle(seed: int, number: int) -> Vehicle:
    """One of the vans; `number` from 0."""
    random = Random(f"{seed} vehicle {number}")
    digit, letter = random.randrange(10), random.choice(_VIN_LETTERS)
    vin = f"{_VIN_BEGINS}{digit}R{letter}8{random.choice(_YEARS)}0{number:05d}{random.randrange(10)}"
    return Vehicle(vin, f"FH{random.randrange(100, 1000)}", random.randrange(20_000, 190_000), random.choice(PARTS))
