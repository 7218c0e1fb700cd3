"""What the companion worked out: tools, readings side by side, evidence, codes, spellings, lines kept closed.

Everything here was logged with its verdict; only the meanings of fault codes are looked up, as no log holds them.
"""
from __future__ import annotations

from companion.core import events as ev
from companion.errors import BadInput
from companion.office.account import Account
from companion.office.record.rows import Row, digits, row
from companion.trade.codes import explain


def tool_checks(account: Account) -> list[Row]:
    """Each chosen tool, fit for what its steps ask for or not, and why not."""
    return [row(entry, name=event.name, tool=event.tool, verdict=event.verdict, why=event.why, unit=event.unit,
                limit=digits(event.limit), target=digits(event.target), due=event.due, would_do=list(event.would_do))
            for entry, event in account.of(ev.ToolJudged)]


def comparisons(account: Account) -> list[Row]:
    """Readings of all cylinders; `cylinders` and `values` go together, `values` in `unit`."""
    return [row(entry, name=event.name, unit=event.unit, cylinders=list(event.cylinders), values=list(event.values),
                median=digits(event.median), outlier=event.outlier, by=list(event.by),
                over_limit=list(event.over_limit))
            for entry, event in account.of(ev.ReadingsCompared)]


def evidence(account: Account) -> list[Row]:
    """What the mechanic said, what the logged facts point to, and what disagrees."""
    return [row(entry, name=event.name, said=event.said, found=event.found, verdict=event.verdict, why=list(event.why))
            for entry, event in account.of(ev.EvidenceCompared)]


OUTCOMES = ("gone", "still_there", "new", "came_back", "ours_left")
"""What can come out for a code."""


def codes_compared(account: Account) -> list[Row]:
    """Codes before against after, with the `meanings` of all in them."""
    return [row(entry, name=event.name, **{outcome: list(getattr(event, outcome)) for outcome in OUTCOMES},
                meanings={code: meaning(code) for outcome in OUTCOMES for code in getattr(event, outcome)})
            for entry, event in account.of(ev.CodesCompared)]


def meaning(code: str) -> str:
    """What a fault code means, in words; a log may hold what is no code."""
    try:
        return explain(code).words
    except BadInput:
        return "this is no fault code"


def spellings(account: Account) -> list[Row]:
    """What was spelled a second time, and the places, from 1, that differ."""
    return [row(entry, name=event.name, against=event.against, verdict=event.verdict, places=list(event.places))
            for entry, event in account.of(ev.SpellingsCompared)]


def vehicle_numbers(account: Account) -> list[Row]:
    """Whether the check character of a vehicle identification number fits."""
    return [row(entry, name=event.name, verdict=event.verdict) for entry, event in account.of(ev.VinChecked)]


def kept_closed(account: Account) -> list[Row]:
    """Lines that were not to be opened yet, and the step that the job went back to."""
    return [row(entry, why=event.why, again=event.again) for entry, event in account.of(ev.LineKeptClosed)]
