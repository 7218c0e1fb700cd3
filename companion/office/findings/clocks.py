"""The clocks behind the log: the time of day against the clock that never steps back, and long silences."""
from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Iterator, NamedTuple

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.core.log.rfc3339 import milliseconds
from companion.office.account import Account
from companion.office.findings.figures import lasted, quoted
from companion.office.findings.finding import Finding

STEP_MS = 2_000
"""More between the two clocks is no rounding."""
DRIFT_MS, DRIFT_PPM = 5_000, 200
"""More than both over one start of the machine is no drift of a quartz, even a hot one (common practice, no source)."""
SILENCE_MS = 30 * 60_000


class _Pair(NamedTuple):
    """Two lines that follow each other, and between which the two clocks did not go alike, or the machine was started."""

    before: Entry
    entry: Entry
    apart: int
    """How much further the time of day went than the clock that only counts, milliseconds; where the machine was started
    anew in between, how far it stands back."""
    anew: bool


def clock_stepped(account: Account) -> Iterator[Finding]:
    """Between two lines of one start of the machine, the time of day did not go as the clock that only counts; or it
    stands further back after another start."""
    for pair in account.once(_pairs):
        if abs(pair.apart) > STEP_MS:
            yield _stepped(pair.before, pair.entry, pair.apart, "at least " if pair.anew else "")


def clock_steered(account: Account) -> Iterator[Finding]:
    """Over one start of the machine, steps too small for `clock_stepped` add up: somebody steers the time of day."""
    first, drift, told = account.entries[:1], 0, False
    for _, entry, apart, anew in account.once(_pairs):
        if anew:
            first, drift, told = (entry,), 0, False
        if not anew and abs(apart) <= STEP_MS:  # a step is told by itself
            drift += apart
        if not told and abs(drift) > max(DRIFT_MS, (entry.up - first[0].up) * DRIFT_PPM // 1_000_000):
            told = True
            way = "on" if drift > 0 else "back"
            yield Finding("clock-stepped", (first[0].n + 1, entry.n + 1), "The time of day drifts: little by little it went "
                          f"{way} by {lasted(abs(drift))} between {first[0].at} and {entry.at}.")


def _pairs(account: Account) -> list[_Pair]:
    starts, then, found = _starts(account), 0, []
    for before, entry in zip((None, *account.entries), account.entries):
        now = then if before is not None and entry.at == before.at else _ms(entry.at)
        if before is not None:
            anew = entry.n in starts
            apart = min(now - then, 0) if anew else now - then - (entry.up - before.up)
            if apart or anew:
                found.append(_Pair(before, entry, apart, anew))
        then = now
    return found


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
