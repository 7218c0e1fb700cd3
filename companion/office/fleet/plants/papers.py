"""Plants in the office's papers: the card that a job was worked on, and hold points that nobody signed off."""
from __future__ import annotations

from companion.core.card import Step
from companion.office.fleet.editions import CHANGED, HELD, OUTDATED, UNAPPROVED, WITHDRAWN
from companion.office.fleet.plants.plant import Plant
from companion.office.fleet.road import Road


def is_hold(road: Road, step: Step) -> bool:
    """Whether somebody else must release the job there."""
    return step.hold


PLANTS = (
    Plant("the card was edited under its version", ("card-changed",), edition=CHANGED),
    Plant("the card had been withdrawn", ("card-withdrawn",), edition=WITHDRAWN),
    Plant("the card was not the newest", ("card-out-of-date",), edition=OUTDATED),
    Plant("the card was never approved", ("card-unapproved",), edition=UNAPPROVED),
    Plant("a hold point is not signed off", ("hold-unsigned",), at=is_hold, edition=HELD, signed=False),
)
