"""Measured values: kept outside their limits, too close to them, changed, or heard in doubt."""
from __future__ import annotations

from decimal import Decimal
from typing import Iterator, NamedTuple, Optional

from companion.core import events as ev
from companion.core.card import ValueOf
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import because, figure, limits, measured, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import Known, answers_of, worked_out
from companion.office.findings.readings import Reading, readings
from companion.office.findings.uncertainty import uncertainty_again
from companion.trade.limits import verdict_on
from companion.trade.torque import applied
from companion.trade.units import convert, resolve

LEAST_SURE = Decimal("0.85")
"""A hearing below this is asked back before it changes the record: the ear's floor, which it measured."""


class Judged(NamedTuple):
    """A value against its limits, worked out again."""

    verdict: str
    """accept, reject, too close, or none."""
    side: str
    """inside, outside, or none: where the bare reading lies."""
    low: Optional[Decimal]
    high: Optional[Decimal]
    rose_from: Optional[Decimal] = None
    """An earlier reading that it must not lie above, and does; in the value's unit."""
    uncertainty: Optional[Decimal] = None


def value_beyond_limits(account: Account) -> Iterator[Finding]:
    """A value that stands is outside its limits, or too close to them for its tool."""
    made = {reading.entry.n: reading for reading in account.once(readings)}
    for given in answers_of(account):
        reading = made.get(given.entry.n)
        if reading and not _done_anew(account, reading):
            judged = worked_out(judge_again, account, given.event, given.known)
            if judged and judged.verdict in ("reject", "too close"):
                yield _beyond(given.entry, given.event, judged)


def _done_anew(account: Account, reading: Reading) -> bool:
    """Whether a later reading stands in the place of this one.

    Where the card itself leads to the step once more, it does if a value outside could not stand there: in a step that
    must be right, or that sends it elsewhere. Else each is of its own wheel, and was kept."""
    if reading.next is None:
        return False
    step = account.step(reading.entry.event.step)
    return not reading.next.anew or bool(step and (step.must or "outside" in step.then))


def judge_again(account: Account, event: ev.ValueLogged, known: Known) -> Optional[Judged]:
    """The value against the card's limits, or those logged where the card has none for it; None where it is no number.
    Raises BadInput for figures that cannot be."""
    step = account.step(event.step)
    asked = step.answer if step and isinstance(step.answer, ValueOf) else None
    asked = asked if asked and (asked.name, asked.unit) == (event.name, event.unit) else None
    low, high = (asked.low, asked.high) if asked else (event.low, event.high)
    uncertainty = trusted_to(account, event)
    found = [Judged(*verdict_on(value, low, high, uncertainty), low, high, None, uncertainty) for value in _figures(event)]
    if not found:
        return None
    before = known.values.get(asked.no_rise_from) if asked and asked.no_rise_from else None
    first = _in_unit(before.value, before.unit, event.unit) if before else None
    if first is not None and max(_figures(event)) > first:
        return Judged("reject", "outside", low, high, first)
    return min(found, key=lambda one: ("reject", "too close", "accept", "none").index(one.verdict))


def trusted_to(account: Account, event: ev.ValueLogged) -> Optional[Decimal]:
    """The value's uncertainty: by its tool and the card; what was logged only where that cannot be worked out."""
    again = uncertainty_again(account, event)
    return again.uncertainty if again else event.uncertainty


def _figures(event: ev.ValueLogged) -> list[Decimal]:
    """The exact value, from what the tool showed; and the one that was logged, where it is not that value rounded."""
    logged, exact = figure(event.value), _in_unit(event.said, event.said_unit, event.unit)
    if exact is not None and event.arm is not None and event.adaptor is not None:
        exact = applied(exact, event.arm, event.adaptor, event.adaptor_angle or Decimal(0))
    if logged is None or exact is None:
        return [value for value in (logged, exact) if value is not None]
    decimals = -int(logged.as_tuple().exponent)
    return [exact] if resolve(exact, decimals) == logged else [exact, logged]


def _in_unit(words: ev.Words, unit: str, wanted: str) -> Optional[Decimal]:
    number = figure(words)
    return number if number is None or unit == wanted else convert(number, unit, wanted)


def _beyond(entry: Entry, event: ev.ValueLogged, judged: Judged) -> Finding:
    what = "a personal value" if isinstance(event.value, ev.Personal) else measured(event.value, event.unit)
    kept = f"; kept because: {quoted(event.reason)}" if event.reason else ""
    name, lines = quoted(event.name), (entry.n + 1,)
    span = limits(judged.low, judged.high)
    if judged.rose_from is not None:
        first = "" if isinstance(event.value, ev.Personal) else f" from {judged.rose_from:f}"
        return Finding("value-outside", lines, sentence(f"{name} was {what}: it rose{first}, and must not rise{kept}"))
    if judged.verdict == "reject":
        return Finding("value-outside", lines, sentence(f"{name} was {what}, outside {span}{kept}"))
    doubt = f"{judged.uncertainty:f}" if judged.uncertainty is not None else "unknown"
    return Finding("value-too-close", lines, sentence(
        f"{name} was {what}, {judged.side} {span}, but too close to call with an uncertainty of {doubt}{kept}"))


def value_changed(account: Account) -> Iterator[Finding]:
    """A value was corrected, or somebody went back and logged another one."""
    for reading in account.once(readings):
        if reading.next is not None and reading.next.changes:
            first, then = reading.entry.event, reading.next.entry.event
            if (ev.plain(first.value), first.unit) == (ev.plain(then.value), then.unit):
                continue
            told = isinstance(first.value, str) and isinstance(then.value, str)
            how = f" from {measured(first.value, first.unit)} to {measured(then.value, then.unit)}" if told else ""
            yield Finding("value-changed", (reading.entry.n + 1, reading.next.entry.n + 1),
                          sentence(f"{quoted(first.name)} was changed{how} after it was logged{_why(then)}"))


def _why(event: ev.ValueLogged) -> str:
    return because(event.reason) if event.reason else ""


def value_doubtful(account: Account) -> Iterator[Finding]:
    """A value or a count was taken from a hearing that the ear was not sure of."""
    for entry, event in account.of(ev.ValueLogged, ev.CountLogged):
        score = event.heard.score if event.heard else None
        if score is not None and score < LEAST_SURE:
            yield Finding("value-doubtful", (entry.n + 1,), sentence(
                f"{quoted(event.name)} was accepted on a hearing of {score:f}, below {LEAST_SURE}"))
