"""Cautions: each heard whole and acknowledged before its act."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterator, Optional

from companion.core import events as ev
from companion.core.card import Step
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import lasted, listed, quoted
from companion.office.findings.finding import Finding
from companion.office.findings.log import damaged

WORDS_A_SECOND = 7
"""Faster than the companion's own voice at its fastest (common practice, no source)."""

_ACTS = (ev.AnswerGiven, ev.ValueLogged, ev.CountLogged, ev.CodesLogged, ev.SpellingLogged, ev.RunAnswered,
         ev.StepEnded)
"""A step is worked only after its cautions."""
_GOING_ON = (ev.Resumed, ev.EmergencyEnded)
"""After these a caution begins anew, unless its last word had sounded before."""


@dataclass(frozen=True)
class _Visit:
    """A step with cautions was begun, and what followed until the next step."""

    step: Step
    begun: Entry
    entries: tuple[Entry, ...]


def _visits(account: Account) -> list[_Visit]:
    begun = [entry.n for entry, _ in account.of(ev.StepBegun)] + [len(account.entries)]
    visits = []
    for first, after in zip(begun, begun[1:]):
        step = account.step(account.entries[first].event.step)
        if step and step.cautions:
            visits.append(_Visit(step, account.entries[first], account.entries[first + 1:after]))
    return visits


def caution_unacknowledged(account: Account) -> Iterator[Finding]:
    """A step was answered or ended before all its cautions were acknowledged, or the log ends with one unanswered."""
    open_end = next(account.of(ev.JobEnded), None) is None and not damaged(account)
    visits = account.once(_visits)
    for visit in visits:
        pending, heard, act = _pending(visit)
        last = visit is visits[-1] and len(account.entries) == visit.begun.n + 1 + len(visit.entries)
        if act:
            yield _unacknowledged(visit, pending, act, "the step was worked")
        elif heard and last and open_end:
            yield _unacknowledged(visit, pending, heard, "the log ends")
    for step, entry in _never_begun(account):
        yield _unacknowledged(_Visit(step, entry, ()), list(step.cautions), entry, "the step was worked")


def _never_begun(account: Account) -> Iterator[tuple[Step, Entry]]:
    """Steps with cautions that were ended though they had not been begun: no job of ours can do so."""
    begun: set[str] = set()
    for entry, event in account.of(ev.StepBegun, ev.StepEnded):
        step = account.step(event.step) if isinstance(event, ev.StepEnded) and event.step not in begun else None
        if step and step.cautions:
            yield step, entry
        begun.add(event.step)


def _pending(visit: _Visit) -> tuple[list[str], Optional[Entry], Optional[Entry]]:
    """The cautions not acknowledged, where the last word of one had sounded, and the first act in spite of them."""
    pending, heard = list(visit.step.cautions), None
    for entry in visit.entries:
        event = entry.event
        if isinstance(event, ev.CautionHeard) and event.caution in pending:
            heard = entry
        elif isinstance(event, ev.CautionAcknowledged) and event.caution in pending:
            pending.remove(event.caution)
            heard = None
        elif pending and isinstance(event, _ACTS) and event.step == visit.step.id:
            return pending, heard, entry
    return pending, heard, None


def _unacknowledged(visit: _Visit, pending: list[str], entry: Entry, then: str) -> Finding:
    names = listed(f'"{quoted(name)}"' for name in pending)
    return Finding("caution-unacknowledged", tuple(sorted({visit.begun.n + 1, entry.n + 1})),
                   f'At the step "{quoted(visit.step.id)}" the caution {names} was not acknowledged, and {then}.')


def caution_rushed(account: Account) -> Iterator[Finding]:
    """A caution was acknowledged sooner than its words can be said, from when they could begin."""
    for visit in account.once(_visits):
        start, heard = visit.begun, False
        for entry in visit.entries:
            event = entry.event
            if isinstance(event, ev.CautionHeard):
                heard = True
            elif isinstance(event, ev.CautionAcknowledged):
                yield from _rushed(account, event.caution, start, entry)
                start, heard = entry, False
            elif isinstance(event, ev.JobResumed) or isinstance(event, _GOING_ON) and not heard:
                start, heard = entry, False


def _rushed(account: Account, name: str, start: Entry, entry: Entry) -> Iterator[Finding]:
    caution = account.card.cautions.get(name) if account.card else None
    count, took = len(caution.say.split()) if caution else 0, entry.up - start.up
    need = count * 1000 // WORDS_A_SECOND
    if 0 <= took < need:
        yield Finding("caution-rushed", (start.n + 1, entry.n + 1),
                      f'The caution "{quoted(name)}" was acknowledged after {lasted(took)}, but its {count} words take '
                      f"at least {lasted(need)} to say.")
