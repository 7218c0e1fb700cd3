"""The clocks behind the log: the time of day against the clock that never steps back, and long silences."""
from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Iterator

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.core.log.rfc3339 import milliseconds
from companion.office.account import Account
from companion.office.findings.figures import lasted, quoted
from companion.office.findings.finding import Finding

STEP_MS = 2_000
"""More between the two clocks is no rounding."""
SILENCE_MS = 30 * 60_000


def clock_stepped(account: Account) -> Iterator[Finding]:
    """Between two lines of one start of the machine, the time of day did not go as the clock that only counts; or it
    stands further back after another start."""
    starts, before, then = _starts(account), None, 0
    for entry in account.entries:
        now = then if before is not None and entry.at == before.at else _ms(entry.at)
        if before is not None:
            apart = min(now - then, 0) if entry.n in starts else now - then - (entry.up - before.up)
            if abs(apart) > STEP_MS:
                yield _stepped(before, entry, apart, "at least " if entry.n in starts else "")
        before, then = entry, now


def _starts(account: Account) -> set[int]:
    """Where `up` begins to count from another start of the machine."""
    boots = list(account.of(ev.JobOpened, ev.JobResumed))
    return {entry.n for (_, before), (entry, event) in zip(boots, boots[1:]) if event.boot != before.boot}


def _stepped(before: Entry, entry: Entry, apart: int, least: str) -> Finding:
    way = "on" if apart > 0 else "back"
    return Finding("clock-stepped", (before.n + 1, entry.n + 1),
                   f"The time of day was set {way} by {least}{lasted(abs(apart))} between {before.at} and {entry.at}.")


def _ms(at: str) -> int:
    """`rfc3339.milliseconds` of a time in the log's own form, quicker: a job has many lines and few hours."""
    return _hour(at[:13]) + int(at[14:16]) * 60_000 + int(at[17:19]) * 1000 + int(at[20:23])


@lru_cache(maxsize=256)
def _hour(hour: str) -> int:
    return milliseconds(f"{hour}:00:00Z")


@dataclass
class _Quiet:
    """What makes silence no wonder."""

    resting: bool = False
    """Paused or left."""
    on_the_road: bool = False
    until: dict[str, int] = field(default_factory=dict)
    """Clocks that run: until when, on the scale of `Account.elapsed`."""

    def expected(self, since: int) -> bool:
        return self.resting or self.on_the_road or any(until > since for until in self.until.values())

    def take(self, event: ev.Event, now: int, account: Account) -> None:
        if isinstance(event, ev.StepBegun):
            step = account.step(event.step)
            self.on_the_road = bool(step and step.on_the_road)
        elif isinstance(event, ev.ClockStarted):
            self.until[event.clock] = now + event.lasts_ms
        elif isinstance(event, (ev.ClockEnded, ev.WaitCutShort, ev.TimerCancelled, ev.RunBroken)):
            self.until.pop(event.clock, None)
        elif isinstance(event, (ev.Paused, ev.JobLeft)):
            self.resting = True
        elif isinstance(event, (ev.Resumed, ev.JobResumed)):
            self.resting = False


def long_silence(account: Account) -> Iterator[Finding]:
    """Nothing was logged for long, though nobody was away, paused or on the road, and no clock was running."""
    silences = {entry.n: before for before, entry in zip(account.entries, account.entries[1:])
                if entry.up - before.up > SILENCE_MS and not isinstance(entry.event, ev.JobResumed)}
    quiet = _Quiet()
    for entry, now in zip(account.entries, account.elapsed) if silences else ():
        before = silences.get(entry.n)
        if before is not None and not quiet.expected(account.elapsed[before.n]):
            yield Finding("long-silence", (before.n + 1, entry.n + 1), "Nothing was heard for "
                          f'{lasted(entry.up - before.up)} at the step "{quoted(before.event.step)}".')
        quiet.take(entry.event, now, account)
