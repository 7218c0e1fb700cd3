"""Emergencies."""
from __future__ import annotations

from typing import Iterator

from companion.core import events as ev
from companion.office.account import Account
from companion.office.findings.figures import lasted, quoted
from companion.office.findings.finding import Finding


def emergency_called(account: Account) -> Iterator[Finding]:
    """An emergency was called, and when it was said to be over."""
    calls = list(account.of(ev.EmergencyCalled, ev.EmergencyEnded))
    for place, (entry, event) in enumerate(calls):
        if isinstance(event, ev.EmergencyEnded):
            continue
        over = calls[place + 1][0] if place + 1 < len(calls) else None
        if over is None or not isinstance(over.event, ev.EmergencyEnded):
            lines, how = (entry.n + 1,), "and nobody said that it was over"
        else:
            took = account.elapsed[over.n] - account.elapsed[entry.n]
            lines, how = (entry.n + 1, over.n + 1), f"and said to be over after {lasted(took)}"
        yield Finding("emergency-called", lines, f'An emergency was called at the step "{quoted(event.step)}", {how}.')
