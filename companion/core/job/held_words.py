"""What is said while the log cannot be written: nothing is called logged that is not."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.events.disk import CHANGED
from companion.core.job.effects import Effect, Tone
from companion.core.job.prompt import not_written, say
from companion.core.job.state import Job
from companion.core.numbers import say_number

_DO = {"the disk is full": "Make room.", "the log is gone from the disk": "Bring the disk back.",
       CHANGED: "Nothing more is written there. Write down what you do."}


def logged(job: Job) -> str:
    """What an entry may be called."""
    return "Not logged yet." if job.held else "Logged."


def still_held(event: ev.Event, job: Job) -> tuple[Effect, ...]:
    """A reminder at each new step but the very one at which it was told."""
    if not job.held or not isinstance(event, ev.StepBegun) or job.held_up_ms == job.last_up_ms:
        return ()
    return say("The log is still not written.")


def left_words(job: Job) -> str:
    """After "stop job"."""
    if job.held:
        made = "It is not whole on the disk." if job.held == CHANGED else f"It is not on the disk yet. {not_written(job)}"
        return f"The job is left. {made}"
    return "The job is left, and kept. Open it again to go on."


def _held_back(event: ev.LogHeldBack, job: Job) -> tuple[Effect, ...]:
    do = _DO.get(event.why, "Look after the disk.")
    return (Tone("alarm"), *say("The log cannot be written.", f"{event.why}.", "What you say is kept in memory only.", do))


def _caught_up(event: ev.LogCaughtUp, job: Job) -> tuple[Effect, ...]:
    kept = f"{say_number(str(event.entries))} entries were kept in memory, and are on the disk now."
    if event.entries == 1:
        kept = "One entry was kept in memory, and is on the disk now."
    return say("The log is written again.", kept, "The job is kept. Open it again to go on." if job.left else "")


def _end_held_back(event: ev.JobEndHeldBack, job: Job) -> tuple[Effect, ...]:
    return say("The last step is done.", not_written(job))


HELD_WORDS: dict[type[ev.Event], Callable[..., tuple[Effect, ...]]] = {
    ev.LogHeldBack: _held_back,
    ev.LogCaughtUp: _caught_up,
    ev.JobEndHeldBack: _end_held_back,
}
