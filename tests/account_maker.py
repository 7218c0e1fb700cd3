"""Accounts of made jobs, without disk or chain, for the tests of findings; and logs in memory for those of damage."""
from __future__ import annotations

import io
from dataclasses import replace
from typing import Any, Callable, Iterable, Sequence

from companion.core import events as ev
from companion.core.events import Event
from companion.core.log.chain import Chain
from companion.core.log.journal import Entry, beside_name, public_hex
from companion.core.log.rfc3339 import stamp
from companion.core.log.sidecar import dump_sidecar
from companion.office.account import Account, account_in
from companion.office.findings import Finding
from logmaker import KEY
from simulator import Simulator

HOLDS = {"holds": True, "finished": False, "first_bad": None, "wrong": [], "memos": [], "notes": [], "format": 1, "last": "",
         "key": ""}
"""What `verify` finds of a log that holds, where it matters here."""

Moment = tuple[int, int]
"""Time of day and up-clock, milliseconds."""


class Made:
    """A job as events and their moments, to be changed as no program of ours would write it."""

    def __init__(self, events: Sequence[Event], moments: Sequence[Moment]) -> None:
        self.events, self.moments = list(events), list(moments)

    def without(self, kind: type[Event], at: int = -1, step: str = "") -> "Made":
        """Without the event of that kind at `at` among them (the last by default)."""
        place = self._place(kind, at, step)
        return Made(self.events[:place] + self.events[place + 1:], self.moments[:place] + self.moments[place + 1:])

    def but(self, kind: type[Event], at: int = -1, step: str = "", **changes: Any) -> "Made":
        """With other fields in that event."""
        place = self._place(kind, at, step)
        return Made([*self.events[:place], replace(self.events[place], **changes), *self.events[place + 1:]],
                    self.moments)

    def sooner(self, kind: type[Event], seconds: float, at: int = -1) -> "Made":
        """With that event, and all after it, so many seconds sooner (later below 0), by both clocks."""
        return self._moved(self._place(kind, at, ""), -round(seconds * 1000), -round(seconds * 1000))

    def set_clock(self, kind: type[Event], seconds: float, at: int = -1) -> "Made":
        """With the time of day set on (back below 0) just before that event."""
        return self._moved(self._place(kind, at, ""), round(seconds * 1000), 0)

    def upto(self, kind: type[Event], at: int = -1, step: str = "") -> "Made":
        """Cut off after that event."""
        place = self._place(kind, at, step) + 1
        return Made(self.events[:place], self.moments[:place])

    def _moved(self, place: int, at_ms: int, up_ms: int) -> "Made":
        later = [(at + at_ms, up + up_ms) for at, up in self.moments[place:]]
        return Made(self.events, self.moments[:place] + later)

    def _place(self, kind: type[Event], at: int, step: str) -> int:
        return [place for place, event in enumerate(self.events)
                if isinstance(event, kind) and step in ("", event.step)][at]

    def account(self, **found: Any) -> Account:
        """Its account, as of a log that holds."""
        entries = tuple(Entry(n, stamp(at), up, event)
                        for n, (event, (at, up)) in enumerate(zip(self.events, self.moments)))
        done = any(isinstance(event, ev.JobEnded) for event in self.events)
        return Account("made.jsonl", {**HOLDS, "finished": done, "entries": len(entries), **found}, entries, "")


def made(job: Simulator) -> Made:
    """A simulated job as it was worked."""
    return Made(job.events, [(now.at_ms, now.up_ms) for now in job.stamps])


def calm(job: Made) -> Made:
    """The same job by somebody who hears every caution out: typed lines answer in no time at all."""
    cautions, late, moments = job.account().card.cautions, 0, []
    for event, (at, up) in zip(job.events, job.moments):
        if isinstance(event, ev.CautionAcknowledged):
            late += 500 * len(cautions[event.caution].say.split())
        moments.append((at + late, up + late))
    return Made(job.events, moments)


def shown(rules: Iterable[Callable[[Account], Iterable[Finding]]], job: Made | Simulator) -> list[str]:
    """What the rules find, with the events on its lines: "value-outside: ValueLogged torque"."""
    job = made(job) if isinstance(job, Simulator) else job
    account = job.account()
    found = [finding for rule in rules for finding in rule(account)]
    return [f"{one.name}: " + ", ".join(f"{type(job.events[line - 1]).__name__} {job.events[line - 1].step}".strip()
                                        for line in one.lines) for one in found]


# -- logs, for damage --------------------------------------------------------------------------------------------------

class Shelf:
    """Files in memory; a `Place`."""

    def __init__(self, **files: bytes) -> None:
        self.files = files

    def open(self, name: str) -> io.BytesIO:
        if name not in self.files:
            raise FileNotFoundError(name)
        return io.BytesIO(self.files[name])

    def has(self, name: str) -> bool:
        return name in self.files


def written(job: Made) -> tuple[bytes, bytes]:
    """The job's log, sealed where it must be, and its sidecar; of the first format, since nobody looks after a simulated
    mechanic."""
    chain, lines, beside = Chain(), [], []
    events = [replace(job.events[0], key=public_hex(KEY), format=1), *job.events[1:]]
    for event, (at, up) in zip(events, job.moments):
        line, personal = chain.add(event, stamp(at), up, lambda: len(beside).to_bytes(16, "big"))
        lines.append(line)
        beside += personal
        if event.seals:
            lines.append(chain.seal(KEY)[0])
    return b"".join(lines), dump_sidecar(beside)


def read(log: bytes, beside: bytes | None = None, **more: bytes) -> Account:
    """The account of a log in memory, with what lies beside it."""
    files = {"made.jsonl": log, **({} if beside is None else {beside_name("made.jsonl"): beside}), **more}
    return account_in(Shelf(**files), "made.jsonl")
