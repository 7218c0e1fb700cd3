"""What can be said beside the answers: leaving things open or out, pauses, questions about the job, timers, emergency."""
from __future__ import annotations

from companion.core import events as ev
from companion.core.card import RunOf, WaitOf
from companion.core.card.answers import misfits
from companion.core.job.alone.acts import break_run, take_up
from companion.core.job.draft import Draft
from companion.core.job.flow import begin, go_on
from companion.core.commands import span_ms
from companion.core.grammar import Reading


# -- moving about ------------------------------------------------------------------------------------------------------

def previous(draft: Draft, reading: Reading) -> None:
    """Back one step, as it was gone through; a step that needs no answer would only lead here again."""
    before = draft.job.before
    if not before:
        return draft.refuse("previous", "This is the first step")
    begin(draft, before, "previous")


def leave_open(draft: Draft, reading: Reading) -> None:
    """Only where the card allows it, and not at the gate that closes it."""
    step, job = draft.job.step, draft.job
    if job.return_to:
        draft.refuse("leave_open", "It must be done now")
    elif not step.may_leave_open:
        draft.refuse("leave_open", "This step cannot be left open")
    else:
        draft.add(ev.StepLeftOpen)
        go_on(draft, step.next)


def leave_out(draft: Draft, reading: Reading) -> None:
    """Asks why, then asks for "affirm"; refused for what keeps people safe, leak checks, counts, proofs,
    hold points and clocks."""
    step = draft.job.step
    kept = step.must or step.makes_safe or step.opens or step.shows_new or step.hold or misfits(step.answer)
    if kept or isinstance(step.answer, (WaitOf, RunOf)):
        draft.refuse("leave_out", "This step cannot be left out")
    else:
        draft.add(ev.Asked, about="leave out", needs="reason")


def end_wait(draft: Draft, reading: Reading) -> None:
    """A wait that protects the work may end early, with a reason; one that protects a person never does."""
    clock = draft.job.card.clocks[draft.job.step.answer.clock]
    if clock.protects == "person":
        draft.refuse("end_wait", "This wait protects you. It does not end early")
    else:
        draft.add(ev.Asked, about="end the wait", needs="reason")


def stop_job(draft: Draft, reading: Reading) -> None:
    """Leaves the job, after "affirm"; it can be resumed."""
    draft.add(ev.Asked, about="stop job", needs="affirm")


# -- silence, and going on ---------------------------------------------------------------------------------------------

def pause(draft: Draft, reading: Reading) -> None:
    """"pause" or "stop": silence. Clocks go on; a run is broken, since nobody watches it."""
    draft.add(ev.Paused, word=reading.rule)
    break_run(draft, "pause")  # only now: the silence must not swallow "stop the engine"


def resume(draft: Draft, reading: Reading) -> None:
    """Goes on where it stopped."""
    draft.add(ev.Resumed)
    take_up(draft)


def emergency_over(draft: Draft, reading: Reading) -> None:
    """Only by a phrase of its own and "affirm"."""
    draft.add(ev.Asked, about="emergency over", needs="affirm")


# -- asking the companion ----------------------------------------------------------------------------------------------

def repeat(draft: Draft, reading: Reading) -> None:
    """Says again what it last asked; an emergency reads its words again."""
    draft.add(ev.Repeated)


def answer_question(draft: Draft, reading: Reading) -> None:
    """"how long", "options", "what torque" …: answered from the card and the log."""
    draft.add(ev.Told, topic=reading.rule)


def brief(draft: Draft, reading: Reading) -> None:
    """"brief words" or "full words"."""
    draft.add(ev.BriefSet, on=reading.rule == "brief")


def timer(draft: Draft, reading: Reading) -> None:
    """A clock of the mechanic's own."""
    lasts = span_ms(reading)
    if not 1_000 <= lasts <= 12 * 3_600_000:
        return draft.refuse("timer", "A timer runs from one second to twelve hours")
    taken = [name for name, clock in draft.job.clocks.items() if clock.kind == "timer"]
    number = next(n for n in range(1, len(taken) + 2) if f"timer {n}" not in taken)
    draft.add(ev.ClockStarted, clock=f"timer {number}", kind="timer", lasts_ms=lasts)


def cancel_timer(draft: Draft, reading: Reading) -> None:
    """The last timer set is cancelled."""
    timers = [name for name, clock in draft.job.clocks.items() if clock.kind == "timer"]
    if not timers:
        return draft.refuse("cancel_timer", "No timer is running")
    draft.add(ev.TimerCancelled, clock=timers[-1])
