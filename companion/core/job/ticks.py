"""What the passing of time brings: marks, clocks that run out, a run's questions, and silence.

`due` says when the next of them falls, so that nobody has to poll.
"""
from __future__ import annotations

from typing import Optional

from companion.core import events as ev
from companion.core.job import parts
from companion.core.job.alone import acts as alone
from companion.core.card import RunOf, WaitOf
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step
from companion.core.job.sound import lose_memo
from companion.core.job.state import Job, Running


def tick(draft: Draft) -> None:
    """Add every fact that has fallen due at `draft.now`."""
    if draft.job.memo and draft.now.up_ms >= draft.job.memo_by_up:
        lose_memo(draft, "no sound came")
    for name in tuple(draft.job.clocks):
        clock = draft.job.clocks.get(name)
        if clock is not None and not clock.ended:
            _mark(draft, clock)
            if clock.kind != "run" and clock.left(draft.now.up_ms) == 0:
                draft.add(ev.ClockEnded, clock=name, kind=clock.kind)
    _after_wait(draft)
    if draft.job.watched:
        _watch(draft)
    alone.tick(draft)
    parts.still_deaf(draft)


def _after_wait(draft: Draft) -> None:
    job = draft.job
    if _wait_is_to_end(job):
        end_step(draft, "done")


def _wait_is_to_end(job: Job) -> bool:
    about_the_wait = job.asked is not None and job.asked.about == "end the wait"
    return wait_over(job) and (job.mode == "waiting" or about_the_wait)


def wait_over(job: Job) -> bool:
    """Whether the present step waits for a clock that has run out."""
    if not (job.begun and isinstance(job.step.answer, WaitOf)) or job.cautions:
        return False
    clock = job.clocks.get(job.step.answer.clock)
    return clock is not None and clock.ended and not clock.used


def _marks(job: Job, clock: Running) -> tuple[int, ...]:
    """Milliseconds left at which this clock speaks, the largest first."""
    if clock.kind == "timer":
        return ()
    marks = job.card.clocks[clock.name].marks
    if clock.kind == "run" and job.begun and isinstance(job.step.answer, RunOf):
        every = job.step.answer.every_ms  # the question itself tells the time there
        marks = tuple(mark for mark in marks if (clock.lasts_ms - mark) % every)
    return marks


def _mark(draft: Draft, clock: Running) -> None:
    """Only the latest mark passed is a fact worth hearing; a clock that has run out needs none."""
    left = clock.left(draft.now.up_ms)
    passed = [mark for mark in _marks(draft.job, clock) if left <= mark < clock.marked_ms]
    if passed and left > 0:
        draft.add(ev.MarkReached, clock=clock.name, left_ms=min(passed))


# -- a run -------------------------------------------------------------------------------------------------------------

def questions(clock: Running, run: RunOf) -> int:
    """How many questions a run asks: one at each full interval, the last at its end."""
    return -(-clock.lasts_ms // run.every_ms)


def _question_due(clock: Running, run: RunOf, up_ms: int) -> int:
    """The number of the question whose moment has come, 0 before the first."""
    if clock.left(up_ms) == 0:
        return questions(clock, run)
    return (clock.lasts_ms - clock.left(up_ms)) // run.every_ms


def _watch(draft: Draft) -> None:
    job, run = draft.job, draft.job.step.answer
    clock, watch = job.clocks[run.clock], job.watch
    due = _question_due(clock, run, draft.now.up_ms)
    if watch.asked and draft.now.up_ms >= watch.answer_by_up:
        break_run(draft, "silence")
    elif due > watch.number + 1 or (watch.asked and due > watch.number):
        break_run(draft, "a gap in time")  # a question went by unasked, e.g. the machine slept
    elif due > watch.number:
        if job.asked:  # the run's own question comes first
            draft.add(ev.Settled, about=job.asked.about, answer="replaced")
        draft.add(ev.QuestionAsked, clock=run.clock, number=due)


def break_run(draft: Draft, why: str) -> None:
    """The run ends without a pass; the card's silence branch stops the engine."""
    draft.add(ev.RunBroken, clock=draft.job.step.answer.clock, why=why)
    end_step(draft, "silence")


# -- when --------------------------------------------------------------------------------------------------------------

def due(job: Job) -> Optional[int]:
    """The up-clock moment of the next fact that time alone will bring, or None."""
    if job.mode == "ended":
        return None
    if _wait_is_to_end(job):
        return job.last_up_ms
    lone = alone.due(job)
    moments = [lone] if lone is not None else []
    moments += [moment for clock in job.clocks.values() if not clock.ended for moment in _moments(job, clock)]
    if job.watched and job.watch.asked:
        moments.append(job.watch.answer_by_up)
    if job.memo:
        moments.append(job.memo_by_up)
    deaf = parts.still_deaf_up(job)
    if deaf is not None:
        moments.append(deaf)
    return min(moments, default=None)


def _moments(job: Job, clock: Running) -> list[int]:
    marks = [clock.ends_up - mark for mark in _marks(job, clock) if mark < clock.marked_ms]
    if clock.kind != "run":
        return marks + [clock.ends_up]
    if not job.watched or job.watch.asked:
        return marks
    elapsed = (job.watch.number + 1) * job.step.answer.every_ms
    return marks + [clock.ends_up - clock.lasts_ms + min(elapsed, clock.lasts_ms)]
