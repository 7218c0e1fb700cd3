"""From step to step: beginning, ending, branches with their bounds, gates, and the end of the job."""
from __future__ import annotations

from decimal import Decimal

from companion.core import events as ev
from companion.core.card import Nothing, Opens, RunOf, WaitOf
from companion.core.job.draft import Draft
from companion.core.job.state import Job
from companion.trade.pressure import Opening, may_open


def begin(draft: Draft, step_id: str, how: str) -> None:
    """Begin a step; its cautions come first, and its answer opens only after them. A line that is not shown to be without
    pressure is kept closed: the job goes back to where that is proved."""
    opens = draft.job.card.step(step_id).opens
    opening = pressure_shown(draft.job, opens) if opens else Opening(True)
    if not opening.ok:
        draft.add(ev.LineKeptClosed, step=step_id, why=opening.why, again=opens.again)
        return begin(draft, opens.again, "again")
    draft.add(ev.StepBegun, step=step_id, how=how)
    if not draft.job.cautions:
        present(draft)


def pressure_shown(job: Job, opens: Opens) -> Opening:
    """Whether the wait is over and the pressure read after it is inside, without a rise: both, always."""
    clock, read = job.clocks.get(opens.wait), job.values.get(opens.pressure)
    fresh = read is not None and isinstance(read.value, str) and opens.pressure in job.read_after.get(opens.wait, ())
    return may_open(
        waited_ms=clock.lasts_ms if clock and clock.ended else 0, wait_ms=job.card.clocks[opens.wait].lasts_ms,
        reading=Decimal(read.value) if fresh else None, limit=read.high if fresh else None,
        first=read.rose_from if fresh else None)


def present(draft: Draft) -> None:
    """The present step is open: a wait or a run starts its clock, a step that needs no answer ends at once."""
    answer = draft.job.step.answer
    if isinstance(answer, Nothing):
        end_step(draft, "done")
    elif isinstance(answer, WaitOf):
        _start_wait(draft, answer.clock)
    elif isinstance(answer, RunOf):
        start_clock(draft, answer.clock)


def start_clock(draft: Draft, name: str) -> None:
    """Start one of the card's clocks from its full length."""
    clock = draft.job.card.clocks[name]
    draft.add(ev.ClockStarted, clock=name, kind=clock.kind, lasts_ms=clock.lasts_ms)


def _start_wait(draft: Draft, name: str) -> None:
    """A clock that an earlier step started goes on; one that has served already starts anew."""
    clock = draft.job.clocks.get(name)
    if clock is None or clock.used:
        start_clock(draft, name)
    elif clock.ended:
        end_step(draft, "done")


def end_step(draft: Draft, outcome: str) -> None:
    """End the present step and go where its outcome leads."""
    step = draft.job.step
    draft.add(ev.StepEnded, outcome=outcome)
    if step.signs_off and outcome in ("done", "affirm") and draft.job.lone is not None:
        draft.add(ev.SignedOff)
    for name in step.starts:
        start_clock(draft, name)
    branch = _branch(step, outcome)
    go_on(draft, branch or step.next, "branch" if branch else "next")


def _branch(step, outcome: str) -> str:
    if isinstance(step.answer, RunOf) and outcome == "silence":
        return step.answer.silence
    return step.then.get(outcome, "")


def go_on(draft: Draft, target: str = "", how: str = "next") -> None:
    """Leave the present step: to the next step left open while a gate waits for them, else to `target` (the following
    step by default)."""
    job = draft.job
    if job.return_to and job.open:
        begin(draft, job.open[0], "open")
    elif job.return_to:
        _pass_gate(draft, job.return_to)
    else:
        enter(draft, target or job.card.following(job.at), how)


def _pass_gate(draft: Draft, gate: str) -> None:
    if gate == "end":
        finish(draft)
    else:
        begin(draft, gate, "gate")


def enter(draft: Draft, target: str, how: str) -> None:
    """Begin `target` unless its bound is used up (then go where the bound leads) or open steps must be done first."""
    job = draft.job
    closes = "end" if target == "end" else job.card.step(target).closes
    if target != "end":
        step = job.card.step(target)
        if step.at_most and job.visits.get(target, 0) >= step.at_most:
            return enter(draft, step.after_that, "branch")
    if closes and job.open:
        draft.add(ev.OpenStepsDue, gate=target, open=job.open)
        return begin(draft, job.open[0], "open")
    if target == "end":
        return finish(draft)
    begin(draft, target, how)


def finish(draft: Draft) -> None:
    """The job's end, which is not told before the log can hold it."""
    if draft.job.held:
        return draft.add(ev.JobEndHeldBack)
    left_out = tuple(step for step, outcome in draft.job.outcomes.items() if outcome == "left out")
    draft.add(ev.JobEnded, left_out=left_out)
