"""The record of a job as one object of plain data; the page, the text and `--json` are three ways to show it."""
from __future__ import annotations

from typing import Optional

from companion.core import events as ev
from companion.core.spelling import say_spelling
from companion.office.record import answers, breaks, course, found, sound, worked
from companion.office.account import Account
from companion.office.record.clocks import clocks
from companion.office.record.look import look
from companion.office.record.rows import Moment, Row, Span, row, text
from companion.office.record.times import times
from companion.office.review_log import Reviewed
from companion.office.trusted import Trusted

PRACTICE = "PRACTICE – invented figures"
UNKNOWN = "CARD NOT READABLE – trust no figure"


def record_of(account: Account, office: Reviewed = Reviewed()) -> Row:
    """Everything the record shows, under the names `--json` has. `office`: what the office's own log says."""
    ran, questions = clocks(account)
    data = {
        "log": account.name, "check": _check(account, office.trusted), "card": _card(account), "tools": _tools(account),
        "vehicle": answers.vehicle(account), "complaint": answers.complaint(account),
        "stamp": _stamp(account), "job": _job(account), "mechanics": _mechanics(account),
        "boots": _boots(account),
        "standing": None if account.found["finished"] else _standing(account),
        "values": answers.values(account), "counts": answers.counts(account), "answers": answers.answers(account),
        "codes": answers.codes(account), **_worked(account), "readings": answers.readings(account),
        "cautions": answers.cautions(account),
        "caution_words": answers.caution_words(account),
        "waits": [one for one in ran if one["kind"] == "wait"], "runs": [one for one in ran if one["kind"] == "run"],
        "questions": questions, "timers": [one for one in ran if one["kind"] not in ("wait", "run")],
        "left_open": course.left_open(account), "left_out": course.left_out(account),
        "memos": sound.memos(account), "clips": sound.clips(account),
        "rooms": sound.rooms(account), "losses": sound.losses(account),
        "faults": sound.faults(account),
        "voices": sound.voices(account), "gaps": breaks.gaps(account),
        "pauses": breaks.pauses(account), "emergencies": breaks.emergencies(account),
        "misunderstood": answers.misunderstood(account), "refusals": answers.refusals(account),
        "stages": course.stages(account), "steps": course.steps(account), "entries": course.entries(account)}
    return {**data, "findings": found.found(account, office), "look": look(data)}


def _worked(account: Account) -> Row:
    """What the companion worked out."""
    return {"tool_checks": worked.tool_checks(account), "comparisons": worked.comparisons(account),
            "evidence": worked.evidence(account), "codes_compared": worked.codes_compared(account),
            "spellings": worked.spellings(account), "vehicle_numbers": worked.vehicle_numbers(account),
            "kept_closed": worked.kept_closed(account), "times": times(account)}


def _tools(account: Account) -> Row:
    """The list of measuring tools; its text is left to the log."""
    opened = account.opened
    return {"name": opened.tools_name if opened else "", "sha256": opened.tools_sha256 if opened else ""}


def wrong_with(account: Account) -> list[str]:
    """Why the log does not hold, or is not read to its end."""
    return account.found["wrong"] + ([account.unread] if account.unread else [])


def _check(account: Account, trusted: Optional[Trusted]) -> Row:
    found = {key: value for key, value in account.found.items() if key != "file"}
    seal, entries = account.closing_seal, account.entries
    stands = trusted.standing(found["key"], entries[0].at, entries[-1].at) if trusted and entries else None
    if stands:  # then it is known whose key that is, or that it is nobody's
        found |= {"key_of": stands.name, "key_stands": stands.state, "key_said": stands.said,
                  "not_checked": [words for words in found["not_checked"] if found["key"] not in words]}
    spoken = ", ".join(say_spelling(group) for group in seal.split())
    return {**found, "wrong": wrong_with(account), "closing_seal": seal, "closing_seal_spoken": spoken, "card_fault": account.card_fault}


def _card(account: Account) -> Row:
    opened, card = account.opened, account.card
    return {"name": opened.card_name if opened else "", "sha256": opened.card_sha256 if opened else "",
            "title": card.title if card else "", "version": card.version if card else "",
            "practice": card.practice if card else None, "defers": card.defers if card else "",
            "applies_to": card.applies_to if card else ""}


def _stamp(account: Account) -> str:
    """What every page bears; "" on a card of real figures."""
    if account.card is None:
        return UNKNOWN
    return PRACTICE if account.card.practice else ""


def _job(account: Account) -> Row:
    entries, opened = account.entries, account.opened
    away = sum(event.away_ms for _, event in account.of(ev.JobResumed))
    return {"began": Moment(entries[0].at) if entries else None, "ended": Moment(entries[-1].at) if entries else None,
            "worked": Span(account.elapsed[-1]) if entries else None, "away": Span(away),
            "program": opened.program if opened else "", "ear": opened.ear if opened else "",
            "voice": opened.voice if opened else "", "brief": bool(opened and opened.brief),
            "attention": opened.attention if opened else ""}


def _mechanics(account: Account) -> list[Row]:
    """Who worked: named at the start, signed on by the card (a spelling it calls "mechanic"), or taking over."""
    made = []
    for entry, event in account.of(ev.JobOpened, ev.SpellingLogged, ev.TakenOver):
        if isinstance(event, ev.JobOpened) and event.mechanic:
            made.append(row(entry, name=text(event.mechanic), how="named at the start"))
        elif isinstance(event, ev.SpellingLogged) and event.name == "mechanic":
            made.append(row(entry, name=text(event.text), how="signed on"))
        elif isinstance(event, ev.TakenOver):
            made.append(row(entry, name=text(event.mechanic), how="took over"))
    return made


def _boots(account: Account) -> list[Row]:
    """Each start of the machine that the job's clock counted from."""
    found: dict[str, Row] = {}
    for entry, event in account.of(ev.JobOpened, ev.JobResumed):
        found.setdefault(event.boot, row(entry, boot=event.boot, simulated=event.boot.startswith("simulated")))
    return list(found.values())


def _standing(account: Account) -> Optional[Row]:
    """Where an unfinished job stands; None where that cannot be told."""
    job = account.standing()
    if job is None:
        return None
    running = [{"clock": name, "left": Span(clock.left(job.last_up_ms))}
               for name, clock in job.clocks.items() if not clock.ended]
    return {"step": job.at, "left": job.left, "open": list(job.open), "clocks": running}
