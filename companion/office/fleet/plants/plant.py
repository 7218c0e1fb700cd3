"""One thing that goes wrong in a made job, and what a supervisor should find of it."""
from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Callable, Optional

from companion.core.card import Step
from companion.core.job.state import Job
from companion.office.fleet.acts import Act
from companion.office.fleet.road import Road

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic
    from companion.office.fleet.plan import Plan

Damage = Callable[[bytes, "Plan"], bytes]


@dataclass(frozen=True)
class Plant:
    """What the mechanic does otherwise than usual. `brings` is declared, never worked out by looking for findings."""

    name: str
    """In a few words, unlike any other's."""
    brings: tuple[str, ...]
    """The findings, as in `findings.kinds`, that follow from it."""
    act: Callable[["Mechanic", Job], Optional[Act]] = lambda mechanic, job: None
    """What is done now instead of the usual; None for the usual. It says `mechanic.did()` once it is done."""
    at: Callable[[Road, Step], bool] = lambda road, step: True
    """Whether it can be done at that step of the usual way."""
    arrange: Callable[["Plan"], "Plan"] = lambda plan: plan
    """What must be otherwise beforehand."""
    edition: str = "in force"
    """Which text of the card is used; see `editions`."""
    damage: Optional[Damage] = None
    """What befalls the log afterwards."""
    signed: bool = True
    """Whether the office signs off the hold points that were passed."""

    @property
    def acts(self) -> bool:
        """Whether the mechanic has anything to do for it; else it befalls the log, the card or the office."""
        return self.damage is None and self.edition == "in force" and self.signed

    def places(self, road: Road) -> tuple[Step, ...]:
        """The steps of the usual way at which it can be done."""
        return tuple(step for step in road.steps if self.at(road, step))
