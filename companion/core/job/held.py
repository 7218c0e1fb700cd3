"""A log that the disk does not take: the job goes on, its entries wait in memory, and it ends only when they are written.

The event that tells of it stands before the first entry that had to wait, and waits with it.
"""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.job.draft import Draft
from companion.core.job.flow import finish
from companion.core.job.inputs import LogFailed, LogWritten
from companion.core.log.rfc3339 import stamp


def _failed(draft: Draft, what: LogFailed) -> None:
    """Told once for each reason, however often it is tried."""
    if what.why != draft.job.held:
        draft.add(ev.LogHeldBack, why=what.why)


def _written(draft: Draft, what: LogWritten) -> None:
    """All that waited is on the disk; a job that only waited for that ends."""
    job = draft.job
    if not job.held:
        return
    draft.add(ev.LogCaughtUp, since=stamp(job.held_at_ms), entries=what.entries, why=job.held)
    if job.end_held:
        finish(draft)


HELD: dict[type, Callable[..., None]] = {LogFailed: _failed, LogWritten: _written}
"""They count whatever the job is at, even when it has been left."""
