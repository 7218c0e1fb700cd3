"""Counts: what went out must come back."""
from __future__ import annotations

from typing import Iterator, Optional

from companion.core import events as ev
from companion.core.card import CountOf
from companion.core.job.measuring import target_of
from companion.office.account import Account
from companion.office.findings.figures import quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import Given, answers_of, worked_out


def count_unreconciled(account: Account) -> Iterator[Finding]:
    """The last count of a thing is not what it must be. What was miscounted and found again is no finding."""
    last = {(given.event.step, given.event.name): given for given in answers_of(account)
            if isinstance(given.event, ev.CountLogged)}
    for given in last.values():
        event, due = given.event, _must_be(given)
        if due is not None and event.count != due:
            yield Finding("count-unreconciled", (given.entry.n + 1,),
                          sentence(f"{quoted(event.name)}: {event.count} counted, and there must be {due}"))


def _must_be(given: Given) -> Optional[int]:
    """What was counted earlier, or the card's figure; what was logged where the card has none for it."""
    answer = given.step.answer if given.step else None
    if isinstance(answer, CountOf) and answer.name == given.event.name:
        return worked_out(target_of, given.known, answer)
    return given.event.must_be
