"""How far a value can be trusted: worked out again from the tool list in the log's first line, and from the card."""
from __future__ import annotations

from decimal import Decimal
from typing import Iterator, NamedTuple, Optional

from companion.core import events as ev
from companion.core.card import ValueOf
from companion.core.job.measuring import uncertainty_of
from companion.office.account import Account
from companion.office.findings.figures import figure, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import worked_out
from companion.office.findings.tools import tools_of
from companion.trade.units import convert


class Again(NamedTuple):
    """What was worked out."""

    uncertainty: Optional[Decimal]
    """Expanded (k = 2), in the value's unit, at the bolt; None where neither tool nor card says."""


def uncertainty_again(account: Account, event: ev.ValueLogged) -> Optional[Again]:
    """Of one value; None where it cannot be worked out: the card asks for no such value, or the tool is on no list."""
    known = account.once(_memory)
    if id(event) not in known:
        known[id(event)] = _again(account, event)
    return known[id(event)]


def _memory(account: Account) -> dict[int, Optional[Again]]:
    """Kept with the log, by event: several rules ask, and fractions take their time."""
    return {}


def _again(account: Account, event: ev.ValueLogged) -> Optional[Again]:
    step, read = account.step(event.step), figure(event.said)
    answer = step.answer if step and isinstance(step.answer, ValueOf) else None
    if answer is None or (answer.name, answer.unit) != (event.name, event.unit) or read is None:
        return None
    tools = account.once(tools_of) if event.tool else None
    tool = tools.get(event.tool) if tools else None
    if event.tool and tool is None:
        return None
    return worked_out(lambda: Again(uncertainty_of(answer, tool, convert(read, event.said_unit, answer.unit))))


def uncertainty_differs(account: Account) -> Iterator[Finding]:
    """The uncertainty logged with a value is not what its tool and the card give: with another one it may pass its limits
    by more than anybody can measure."""
    for entry, event in account.of(ev.ValueLogged):
        again = uncertainty_again(account, event) if isinstance(event.said, str) else None  # of a personal one it is not logged
        if again and again.uncertainty != event.uncertainty:
            on = f" on the {quoted(event.tool)}" if event.tool else ""
            yield Finding("uncertainty-differs", (entry.n + 1,), sentence(
                f"{quoted(event.name)} was logged with an uncertainty of {_told(event.uncertainty)}, but read{on} it has one of "
                f"{_told(again.uncertainty)}"))


def _told(uncertainty: Optional[Decimal]) -> str:
    return "unknown size" if uncertainty is None else f"{uncertainty:f}"
