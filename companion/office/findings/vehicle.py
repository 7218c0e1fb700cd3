"""The vehicle: the same one at the end as at the start."""
from __future__ import annotations

from typing import Iterator

from companion.core import events as ev
from companion.core.card import SpellingOf
from companion.core.job.spelled import first_spelling
from companion.core.log.codec import ERASED
from companion.office.account import Account
from companion.office.findings.figures import listed, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import Known, answers_of, worked_out
from companion.trade.parts import same_code


def vehicle_differs(account: Account) -> Iterator[Finding]:
    """The vehicle's number, spelled again, is not the first one. The last time counts: it may have been misread."""
    last = {given.event.step: given for given in answers_of(account) if isinstance(given.event, ev.SpellingLogged)}
    for given in last.values():
        answer = given.step.answer if given.step else None
        if not isinstance(answer, SpellingOf) or not _of_vehicle(account, answer):
            continue
        first, again, told = _first(given.known, answer), ev.plain(given.event.text), isinstance(given.event.text, str)
        places = worked_out(same_code, first, again) if first and ERASED not in (first, again) else ()
        if places:
            both = f", {quoted(again)} against {quoted(first)}" if told else ""
            yield Finding("vehicle-differs", (given.entry.n + 1,), sentence(
                f"{quoted(given.event.name)} differs from the first at place {listed(map(str, places))}{both}"))


def _of_vehicle(account: Account, answer: SpellingOf) -> bool:
    """Whether this spelling repeats that of a vehicle number: one whose structure is checked, or that is called so."""
    if not answer.same_as or account.card is None:
        return False
    first = (step.answer for step in account.card.steps if isinstance(step.answer, SpellingOf))
    return "vehicle" in answer.same_as.lower() or any(one.vin and one.name == answer.same_as for one in first)


def _first(known: Known, answer: SpellingOf) -> str:
    """What must be repeated; "" where nothing was spelled before, or it is erased."""
    whole = known.answers.get(answer.same_as, ERASED)
    return "" if whole == ERASED else first_spelling(known, answer)
