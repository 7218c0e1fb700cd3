"""Every value that was logged, with what became of it: it stands, was changed, or was measured anew."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Optional

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.office.account import Account


@dataclass
class Reading:
    """One value of a log."""

    entry: Entry
    ended: bool = False
    """Its step ended with it."""
    next: Optional["Reading"] = None
    """The next value of the same step under the same name."""
    changes: bool = False
    """It took the place of one that had been logged, since it was corrected or somebody went back to it."""
    anew: bool = False
    """The card's own way led here once more, for another measurement."""


def readings(account: Account) -> list[Reading]:
    """All values in order."""
    way, found = _Way(), []
    last: dict[str, dict[str, Reading]] = {}
    for entry, event in account.of(ev.StepBegun, ev.StepEnded, ev.ValueLogged):
        if isinstance(event, ev.StepBegun):
            way.begin(event)
        elif isinstance(event, ev.StepEnded):
            for reading in last.get(event.step, {}).values():
                reading.ended = True
        else:
            of_step = last.setdefault(event.step, {})
            before, made = of_step.get(event.name), Reading(entry)
            if before:
                before.next = made
                made.changes = event.corrects or before.ended and event.step in way.gone_back
                made.anew = not made.changes and way.by_card
            of_step[event.name] = made
            found.append(made)
    return found


class _Way:
    """How the present step was come to."""

    def __init__(self) -> None:
        self.by_card = False
        """By the card's own way, and not on coming back to an unfinished job."""
        self.gone_back: tuple[str, ...] = ()
        """Steps gone through before, which are to be done again since somebody went back; the present one first."""
        self._trail: list[str] = []

    def begin(self, event: ev.StepBegun) -> None:
        step, trail = event.step, self._trail
        self.by_card = event.how in ("next", "branch")
        if event.how == "previous" and step in trail:
            place = len(trail) - 1 - trail[::-1].index(step)
            self.gone_back = (*trail[place:], *(again for again in self.gone_back if again not in trail[place:]))
            del trail[place:]
        elif event.how == "previous":
            self.gone_back = (step,)
        elif self.by_card and step in self.gone_back:
            self.gone_back = self.gone_back[self.gone_back.index(step):]
        elif self.by_card and len(self.gone_back) < 2:  # past the step at which it was gone back
            self.gone_back = ()
        if trail[-1:] != [step]:
            trail.append(step)
