"""Fault codes: read before and after, and gone."""
from __future__ import annotations

from typing import Iterator

from companion.core import events as ev
from companion.core.card import CodesOf
from companion.core.job import pointing
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import because, listed, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import answers_of, worked_out
from companion.office.findings.log import damaged
from companion.office.findings.steps import ended, properly_ended
from companion.office.findings.way import never_missed
from companion.trade.codes import Compared


def codes_missing(account: Account) -> Iterator[Finding]:
    """At a proper end, a list of codes was left out, or one is missing that no way to that end passes by."""
    if account.card is None or ended(account) is None or damaged(account) or not account.once(properly_ended):
        return
    logged = {event.step for _, event in account.of(ev.CodesLogged)}
    out = {event.step: (entry, event) for entry, event in account.of(ev.StepLeftOut)}
    due = never_missed(account.opened.card_text) if account.opened else frozenset()
    for step in account.card.steps:
        if not isinstance(step.answer, CodesOf) or step.answer.ours or step.id in logged:
            continue
        what = f'The codes of the step "{quoted(step.id)}" ({quoted(step.answer.name)})'
        if step.id in out:
            entry, event = out[step.id]
            yield Finding("codes-missing", (entry.n + 1,), f"{what} were left out{because(event.reason)}.")
        elif step.id in due:
            yield Finding("codes-missing", (), f"{what} were never read.")


def codes_not_gone(account: Account) -> Iterator[Finding]:
    """Codes that are still there, came back or are new, in the last comparison of each list. A list read right after
    clearing has done its service once a later one was compared with it."""
    last: dict[str, tuple[Entry, tuple[Compared, tuple[str, ...]]]] = {}
    for given in answers_of(account):
        if not isinstance(given.event, ev.CodesLogged) or not given.step:
            continue
        event, answer = given.event, given.step.answer
        if isinstance(answer, CodesOf) and answer.against and not answer.proves:
            last.pop(answer.cleared, None)
            last.pop(event.name, None)
            found = worked_out(pointing.codes_compared, given.known, answer, event.codes)
            if found:
                last[event.name] = given.entry, found
    for name, (entry, (found, ours)) in last.items():
        yield from _not_gone(name, entry, found, ours)


def _not_gone(name: str, entry: Entry, found: Compared, ours: tuple[str, ...]) -> Iterator[Finding]:
    kinds = (("still there", found.still_there), ("back after it was cleared", found.came_back),
             ("of our own test and not gone", ours))
    there = [f"{', '.join(map(quoted, codes))} {'is' if len(codes) == 1 else 'are'} {how}"
             for how, codes in kinds if codes]
    if there:
        yield Finding("code-still-there", (entry.n + 1,), sentence(f"{quoted(name)}: {listed(there)}"))
    if found.new:
        codes = ", ".join(map(quoted, found.new))
        yield Finding("code-new", (entry.n + 1,), sentence(f"{quoted(name)}: new since the work: {codes}"))
