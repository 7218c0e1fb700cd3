"""The course of the job: steps left out, and whether it came to its proper end."""
from __future__ import annotations

from typing import Any, Iterator, Optional

from companion.core import events as ev
from companion.core.card import (
    Affirm, ChoiceOf, CodesOf, CountOf, CylinderOf, Done, FaultOf, SpellingOf, ValueOf)
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import because, quoted
from companion.office.findings.finding import Finding
from companion.office.findings.log import damaged
from companion.office.findings.way import never_missed

_NAMED = 6
"""Steps that one sentence names."""
_LOGGED: dict[type, type[ev.Event]] = {
    ChoiceOf: ev.AnswerGiven, CodesOf: ev.CodesLogged, CountOf: ev.CountLogged, CylinderOf: ev.AnswerGiven,
    FaultOf: ev.AnswerGiven, SpellingOf: ev.SpellingLogged, ValueOf: ev.ValueLogged}
"""Kinds of answer that must stand in the log, each with its event."""


def step_left_out(account: Account) -> Iterator[Finding]:
    """A step was left out for good."""
    for entry, event in account.of(ev.StepLeftOut):
        yield Finding("step-left-out", (entry.n + 1,),
                      f'The step "{quoted(event.step)}" was left out{because(event.reason)}.')


def steps_passed_over(account: Account) -> Iterator[Finding]:
    """At a proper end, steps were never ended, or never answered, that no way of the card to that end passes by: no job
    of ours can do so. Fault codes and leak runs have findings of their own."""
    end = ended(account)
    if account.card is None or account.opened is None or end is None or damaged(account) or (
            not account.once(properly_ended)):
        return
    due = never_missed(account.opened.card_text) - _gone_through(account)
    over = [step.id for step in account.card.steps
            if step.id in due and not (isinstance(step.answer, CodesOf) and not step.answer.ours)]
    if over:
        names = ", ".join(f'"{quoted(step)}"' for step in over[:_NAMED])
        more = f" and {len(over) - _NAMED} more" if len(over) > _NAMED else ""
        yield Finding("step-left-out", (end.n + 1,), "The job came to its end without an answer to "
                      f"{'the step' if len(over) == 1 else 'the steps'} {names}{more}.")


def _gone_through(account: Account) -> set[str]:
    """The steps that were left out by word of mouth, or ended with the answer that they ask for in the log: under its
    name, and in its unit, since it is judged by these."""
    answered = {(event.step, type(event), event.name, getattr(event, "unit", ""))
                for _, event in account.of(*_LOGGED.values())}
    gone = {event.step for _, event in account.of(ev.StepLeftOut)}
    for _, event in account.of(ev.StepEnded):
        step = account.step(event.step)
        asked: Any = step.answer if step else None
        kind = _LOGGED.get(type(asked))
        if kind is None or (event.step, kind, asked.name, getattr(asked, "unit", "")) in answered:
            gone.add(event.step)
    return gone


def job_unfinished(account: Account) -> Iterator[Finding]:
    """The log has no sealed end. Where it is damaged, the end may just be cut off."""
    if account.found["finished"] or damaged(account):
        return
    last = account.entries[-1]
    left = next((entry for entry in reversed(account.entries[-2:]) if isinstance(entry.event, ev.JobLeft)), None)
    how = "was left there, to be resumed" if left else "goes no further"
    where = f'at the step "{quoted(last.event.step)}"' if last.event.step else "before its first step"
    yield Finding("job-unfinished", (last.n + 1,), f"The log ends {where}, and the job {how}.")


def job_stopped(account: Account) -> Iterator[Finding]:
    """The job ended, but not by the step that closes it."""
    end = ended(account)
    if end and not damaged(account) and not account.once(properly_ended):
        yield Finding("job-stopped", (end.n + 1,), f'The job was ended after the step "{quoted(end.event.step)}", and '
                      "not by the step that closes it.")


def ended(account: Account) -> Optional[Entry]:
    """The job's end, where it has one."""
    return next((entry for entry, _ in account.of(ev.JobEnded)), None)


def properly_ended(account: Account) -> bool:
    """Whether a step of the card that closes the job was answered so; True where the card has none."""
    if account.card is None:
        return True
    closing = {step.id: step for step in account.card.steps if step.closes == "end"}
    good = (event for _, event in account.of(ev.StepEnded) if event.step in closing
            and (event.outcome in ("affirm", "done") or not isinstance(closing[event.step].answer, (Affirm, Done))))
    return not closing or next(good, None) is not None
