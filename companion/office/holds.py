"""Hold points in a log: which were passed, at what line, and who released them at the vehicle."""
from __future__ import annotations

from dataclasses import dataclass

from companion.core import events as ev
from companion.office.account import Account


@dataclass(frozen=True)
class HoldPassed:
    """A hold point that somebody released; the job went on."""

    step: str
    """The step's id on the card."""
    line: int
    """The log's line of the release, from 1; where it was released more than once, of the last."""
    at: str
    """RFC 3339, UTC, milliseconds."""
    by: str
    """The initials that were spelled; "(erased)" where they are personal and no longer beside the log."""


def holds_in(account: Account) -> tuple[HoldPassed, ...]:
    """The hold points that were passed, in the order in which they were first passed."""
    held = {step.id for step in account.card.steps if step.hold} if account.card else set()
    released: dict[str, HoldPassed] = {}
    passed: dict[str, HoldPassed] = {}
    for entry, event in account.of(ev.SpellingLogged, ev.StepEnded):
        if event.step not in held:
            continue
        if isinstance(event, ev.SpellingLogged):
            released[event.step] = HoldPassed(event.step, entry.n + 1, entry.at, ev.plain(event.text))
        else:
            passed[event.step] = released.get(event.step, HoldPassed(event.step, entry.n + 1, entry.at, ""))
    return tuple(passed.values())


def holds_passed(account: Account) -> dict[str, str]:
    """The hold points that were passed, by their ids, in the order in which they were first passed; each with the hash of
    the line of its release, which a sign-off binds to."""
    return {hold.step: account.mark([hold.line]) for hold in holds_in(account)}
