"""One decision as a whole: the state after its events, and what they make sound."""
from __future__ import annotations

from typing import Iterable, Optional

from companion.core.events import Event
from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.job.effects import Effect, Hush
from companion.core.job.inputs import CameBack, Input, LogFailed, Now
from companion.core.job.speech import effects
from companion.core.job.state import Job


def planned(job: Optional[Job], made: Iterable[Event], now: Now) -> tuple[Job, list[Effect]]:
    """What follows from a decision."""
    sounds: list[Effect] = []
    for event in made:
        job = apply(job, event, now)
        sounds += effects(event, job)
    return job, sounds  # type: ignore[return-value]


def planned_unlogged(job: Job, what: Input, why: str, now: Now) -> tuple[tuple[Event, ...], Job, list[Effect]]:
    """The decision on `what`, made anew by a job that knows that its log cannot be written, so that nothing is called logged.

    A new start of the machine must stand first in the log, as its clock counts anew. The notice is spoken first, unless
    that would silence it.
    """
    failed = LogFailed(why)
    made, notice, sounds = (), [], []
    for each in (what, failed) if isinstance(what, CameBack) else (failed, what):
        more = decide(job, each, now)
        job, heard = planned(job, more, now)
        (notice if each is failed else sounds).extend(heard)
        made += more
    silences = any(isinstance(effect, Hush) for effect in sounds)
    return made, job, sounds + notice if silences else notice + sounds
