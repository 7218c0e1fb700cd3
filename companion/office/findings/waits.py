"""Waits: each served whole, by the clock that never steps back."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Iterator, Optional

from companion.core import events as ev
from companion.core.card import WaitOf
from companion.core.log.journal import Entry
from companion.core.log.rfc3339 import milliseconds
from companion.office.account import Account
from companion.office.findings.figures import because, lasted, quoted
from companion.office.findings.finding import Finding

_NAMES = {"person": "protective-wait-cut-short", "work": "wait-cut-short"}


@dataclass
class _Wait:
    """A wait that runs, or has run."""

    began: Entry
    from_ms: int
    """On the scale of `Account.elapsed`."""
    lasts_ms: int
    """As the card has it; as it was logged where the card does not know the clock."""
    away_ms: int = 0
    """Time away that counts."""
    over: bool = False
    used: bool = False
    """A wait step has passed on it."""


def waits_cut_short(account: Account) -> Iterator[Finding]:
    """A wait ended before its time: its clock, or the step that waits for it. Time away counts only where it was
    counted, and never more than there was."""
    waits: dict[str, _Wait] = {}
    away = 0
    for entry, event in account.of(ev.ClockStarted, ev.ClockEnded, ev.WaitCutShort, ev.StepEnded, ev.JobResumed,
                                   ev.TimeAwayCounted):
        if isinstance(event, ev.JobResumed):
            away = _away(account, entry, event)
        elif isinstance(event, ev.ClockStarted) and event.kind == "wait":
            waits[event.clock] = _Wait(entry, account.elapsed[entry.n], _lasts(account, event))
        elif isinstance(event, ev.TimeAwayCounted) and event.clock in waits:
            waits[event.clock].away_ms += max(0, min(away, event.away_ms))
        elif isinstance(event, ev.StepEnded):
            step = account.step(event.step)
            if step and isinstance(step.answer, WaitOf):
                yield from _step_ended(account, entry, step.answer.clock, waits)
        elif isinstance(event, ev.WaitCutShort) or isinstance(event, ev.ClockEnded) and event.kind == "wait":
            why = because(event.reason) if isinstance(event, ev.WaitCutShort) else ""
            yield from _over(account, entry, event.clock, waits.get(event.clock), why)


def _lasts(account: Account, event: ev.ClockStarted) -> int:
    clock = account.card.clocks.get(event.clock) if account.card else None
    return clock.lasts_ms if clock else event.lasts_ms


def _away(account: Account, entry: Entry, event: ev.JobResumed) -> int:
    """How long nobody was there: by the up-clock where that ran on, else by the time of day."""
    before = account.entries[entry.n - 1] if entry.n else entry
    return entry.up - before.up if event.same_boot else milliseconds(entry.at) - milliseconds(before.at)


def _step_ended(account: Account, entry: Entry, clock: str, waits: dict[str, _Wait]) -> Iterator[Finding]:
    """A step that waits has passed: its clock must have run for it, and not for one before."""
    wait = waits.get(clock)
    if wait is None or wait.used:
        yield from _finding(account, clock, "was never started", (entry.n + 1,))
    else:
        yield from _over(account, entry, clock, wait)
        wait.used = True


def _over(account: Account, entry: Entry, name: str, wait: Optional[_Wait], why: str = "") -> Iterator[Finding]:
    """The first end of a wait counts."""
    if wait is None or wait.over:
        return
    wait.over = True
    passed = account.elapsed[entry.n] - wait.from_ms + wait.away_ms
    if passed < wait.lasts_ms:
        how = f"ended after {lasted(passed)} of {lasted(wait.lasts_ms)}"
        yield from _finding(account, name, how, (wait.began.n + 1, entry.n + 1), why)


def _finding(account: Account, name: str, how: str, lines: tuple[int, ...], why: str = "") -> Iterator[Finding]:
    clock: Any = account.card.clocks.get(name) if account.card else None
    if clock and clock.protects in _NAMES:
        whom = "a person" if clock.protects == "person" else "the work"
        yield Finding(_NAMES[clock.protects], lines, f'The wait "{quoted(name)}", which protects {whom}, {how}{why}.')
