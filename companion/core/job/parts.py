"""Parts that fail and go on, a companion that is deaf, and a time of day that was set: each a fact of the job."""
from __future__ import annotations

from typing import Optional

from companion.core import events as ev
from companion.core.job.draft import Draft
from companion.core.job.inputs import Faltered, Now, Stuttered
from companion.core.job.state import Job

HEARING = ("ear", "microphone")
"""Without either of them nothing that is said is heard."""
STILL_DEAF_MS = 300_000
"""So often it is said again that nothing can be heard: own choice."""
STEP_MS = 2_000
"""More between the two clocks is no rounding."""


def faltered(draft: Draft, what: Faltered) -> None:
    """It works on; what went wrong stands in the log."""
    draft.add(ev.PartFaltered, part=what.part, why=what.why)


def stuttered(draft: Draft, what: Stuttered) -> None:
    """A spell of it is over."""
    draft.add(ev.SoundStuttered, part=what.part, times=what.times, ms=what.ms)


def still_deaf(draft: Draft) -> None:
    """Say it again, where it has fallen due."""
    moment = still_deaf_up(draft.job)
    if moment is not None and draft.now.up_ms >= moment:
        draft.add(ev.StillDeaf)


def still_deaf_up(job: Job) -> Optional[int]:
    """When it is to be said again that nothing can be heard; None where something can."""
    return job.deaf_told_up + STILL_DEAF_MS if any(part in job.lost for part in HEARING) else None


def time_of_day(draft: Draft) -> None:
    """Within one start of the machine both clocks go alike; where they do not, the time of day was set."""
    by = set_by(draft.job, draft.now)
    if by:
        draft.add(ev.TimeOfDaySet, by_ms=by)


def set_by(job: Job, now: Now, same_boot: bool = True) -> int:
    """By how many milliseconds the time of day was set since the last entry; 0 for rounding.

    After another start of the machine only a time before the last entry is a sure sign."""
    passed = now.up_ms - job.last_up_ms if same_boot else 0
    apart = now.at_ms - job.last_at_ms - passed
    return apart if abs(apart) > STEP_MS and (same_boot or apart < 0) else 0
