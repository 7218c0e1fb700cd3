"""One log as rows of the index's tables: what many jobs are searched, counted and compared by."""
from __future__ import annotations

from decimal import Decimal
from typing import Any, Iterator, Optional

from companion.core import events as ev
from companion.core.card import CylinderOf, ValueOf
from companion.office.account import Account
from companion.office.findings import findings
from companion.office.findings.steps import properly_ended
from companion.office.holds import holds_passed
from companion.office.record.rows import number, text
from companion.office.record.times import times

Row = dict[str, Any]
_LONGEST = 200
"""Characters of a text that an index keeps; names and numbers are shorter, and a log may hold anything."""


def rows_of(account: Account, fingerprint: str) -> dict[str, list[Row]]:
    """The rows of one log, by table."""
    job = _job(account, fingerprint)
    return {"jobs": [job],
            "findings": [{"log": account.name, "name": found.name, "severity": found.severity, "lines": list(found.lines),
                          "said": found.said, "mark": account.mark(found.lines)} for found in findings(account)],
            "stages": [{"log": account.name, "number": number, "stage": _short(one["stage"]),
                        "worked_ms": int(one["worked"]), "estimate_ms": one["estimate"]}
                       for number, one in enumerate(times(account)[:-1])],
            "values": list(_values(account, job["part"]))}


def _job(account: Account, fingerprint: str) -> Row:
    said, opened, holds = _said(account), account.opened, holds_passed(account)
    return {
        "log": account.name, "fingerprint": fingerprint, **_course(account), **_card(account), **_trust(account),
        "mechanic": _mechanic(account), "vehicle": said.get("vehicle number", ""), "cylinder": _cylinder(account, said),
        "part": said.get("part number") or said.get("part code", ""), "complaint": said.get("complaint", ""),
        "tools_name": _short(opened.tools_name if opened else ""), "passed_holds": list(holds),
        "hold_marks": list(holds.values()), "tail": account.mark(), "first": account.mark([1]),
        "fault": account.unread}


def _course(account: Account) -> Row:
    """When it was, how long, and whether it came to an end."""
    entries, finished = account.entries, account.found["finished"]
    return {"began": entries[0].at if entries else "", "ended": entries[-1].at if entries else "",
            "day": entries[0].at[:10] if entries else "", "entries": len(entries),
            "worked_ms": account.elapsed[-1] if entries else 0,
            "away_ms": sum(event.away_ms for _, event in account.of(ev.JobResumed)),
            "finished": finished, "stopped": finished and not properly_ended(account)}


def _card(account: Account) -> Row:
    opened, card = account.opened, account.card
    return {"card": _short(card.id if card else opened.card_name if opened else ""),
            "card_version": _short(card.version if card else ""), "card_sha256": opened.card_sha256 if opened else "",
            "title": _short(card.title if card else ""), "practice": bool(card and card.practice)}


def _trust(account: Account) -> Row:
    opened, found = account.opened, account.found
    return {"holds": found["holds"], "last": found["last"], "key": found["key"],
            "simulated": bool(opened and opened.boot.startswith("simulated"))}


def _said(account: Account) -> dict[str, str]:
    """What was answered last under each of the card's names; of spellings and choices."""
    return {event.name: _short(text(event.text if isinstance(event, ev.SpellingLogged) else event.answer))
            for _, event in account.of(ev.SpellingLogged, ev.AnswerGiven) if event.name}


def _mechanic(account: Account) -> str:
    """Who worked last: named at the start, signed on, or taking over."""
    name = ""
    for _, event in account.of(ev.JobOpened, ev.SpellingLogged, ev.TakenOver):
        if isinstance(event, ev.JobOpened):
            name = text(event.mechanic)
        elif isinstance(event, ev.TakenOver) or event.name == "mechanic":
            name = text(event.mechanic if isinstance(event, ev.TakenOver) else event.text)
    return _short(name)


def _cylinder(account: Account, said: dict[str, str]) -> str:
    """The cylinder that the job was about: the answer that was worked out, not counted again."""
    steps = account.card.steps if account.card else ()
    names = (step.answer.name for step in steps if isinstance(step.answer, CylinderOf) and not step.answer.same_as)
    return said.get(next(names, ""), "")


def _values(account: Account, part: str) -> Iterator[Row]:
    tools = _short(account.opened.tools_name if account.opened else "")
    for entry, event in account.of(ev.ValueLogged):
        value = number(text(event.value))
        if value is None:  # personal and erased, or no number that an instrument shows
            continue
        step = account.step(event.step)
        asked = step.answer if step and isinstance(step.answer, ValueOf) else None
        yield {"log": account.name, "line": entry.n + 1, "at": entry.at, "step": _short(event.step),
               "item": _short(step.item if step else ""), "name": _short(event.name), "value": float(value),
               "unit": _short(event.unit), "low": _float(event.low), "high": _float(event.high),
               "nominal": _float(asked.nominal if asked else None), "uncertainty": _float(event.uncertainty),
               "tool": _short(event.tool), "tools_name": tools, "part": part}


def _float(value: Optional[Decimal]) -> Optional[float]:
    return None if value is None else float(value)


def _short(text: str) -> str:
    return text[:_LONGEST]
