"""What was said and answered: values, counts, choices, codes, cautions, and what was not understood."""
from __future__ import annotations

from typing import Iterator

from companion.core import events as ev
from companion.core.card import SpellingOf
from companion.office.account import Account
from companion.office.record.course import named, words
from companion.office.record.rows import Moment, Row, digits, heard, row, text
from companion.office.record.worked import meaning


def values(account: Account) -> list[Row]:
    """Measured values. A correction names no other line; the value it replaces names its line in `replaced_by`."""
    rows: list[Row] = []
    last: dict[tuple[str, str], Row] = {}
    for entry, event in account.of(ev.ValueLogged):
        made = row(entry, name=event.name, **_asked_for(account, event.step), value=text(event.value),
                   unit=event.unit, low=digits(event.low), high=digits(event.high), verdict=event.verdict,
                   reason=event.reason, said=text(event.said), said_unit=event.said_unit, corrects=event.corrects,
                   replaced_by=None, side=event.side, tool=event.tool, uncertainty=digits(event.uncertainty),
                   probability=digits(event.probability), arm=digits(event.arm), adaptor=digits(event.adaptor),
                   adaptor_angle=digits(event.adaptor_angle), rose_from=digits(event.rose_from))
        place = (event.step, event.name)
        if event.corrects and place in last:
            last[place]["replaced_by"] = made["line"]
        last[place] = made
        rows.append(made)
    return rows


def _asked_for(account: Account, step_id: str) -> Row:
    """Of the card: which of several a value was measured on, and what it tightens; "" for neither."""
    step = account.step(step_id)
    return {"item": step.item if step else "", "fastener": getattr(step.answer, "fastener", "") if step else ""}


def counts(account: Account) -> list[Row]:
    """Counts, each with what it had to be; None where that was nothing in particular."""
    return [row(entry, name=event.name, count=event.count, must_be=event.must_be, verdict=event.verdict)
            for entry, event in account.of(ev.CountLogged)]


_NAMED = (ev.AnswerGiven, ev.SpellingLogged, ev.ValueLogged, ev.CountLogged)


def answered(account: Account) -> Iterator[tuple[str, str, str]]:
    """Step, name and answer, in the order of the log, where the card has a name for it."""
    found = ((event.step, *named(event)) for _, event in account.of(*_NAMED))
    return (one for one in found if one[1])


def vehicle(account: Account) -> str:
    """Its identity number, else what the card calls so; "" where the log does not tell."""
    steps = account.card.steps if account.card else ()
    vins = (step.answer.name for step in steps if isinstance(step.answer, SpellingOf) and step.answer.vin)
    return _last(account, next(vins, "vehicle number"))


def complaint(account: Account) -> str:
    """As the customer stated it; "" where the log does not tell."""
    return _last(account, "complaint")


def _last(account: Account, wanted: str) -> str:
    return {name: answer for _, name, answer in answered(account)}.get(wanted, "")


def answers(account: Account) -> list[Row]:
    """Choices, affirm and negative, what was spelled, each with the step's words; a bare "done" is under `steps`."""
    rows: list[Row] = []
    known: dict[str, str] = {}
    for entry, event in account.of(*_NAMED):
        name, answer = named(event)
        if isinstance(event, (ev.AnswerGiven, ev.SpellingLogged)) and (name or answer != "done"):
            rows.append(row(entry, name=name, answer=answer, say=words(account, event.step, known)["say"]))
        known[name] = answer
    return rows


def codes(account: Account) -> list[Row]:
    """Lists of fault codes; the card's name for a list says whether it was taken before or after."""
    return [row(entry, name=event.name, codes=list(event.codes), meanings=[meaning(code) for code in event.codes])
            for entry, event in account.of(ev.CodesLogged)]


def readings(account: Account) -> list[Row]:
    """Values that the card did not ask for."""
    return [row(entry, value=event.value, unit=event.unit) for entry, event in account.of(ev.ReadingNoted)]


def cautions(account: Account) -> list[Row]:
    """Cautions: `at` is when the last word had sounded, `acknowledged` when that was answered (None: never)."""
    rows: list[Row] = []
    waiting: dict[tuple[str, str], Row] = {}
    for entry, event in account.of(ev.CautionHeard, ev.CautionAcknowledged):
        place = (event.step, event.caution)
        if isinstance(event, ev.CautionHeard):
            waiting[place] = row(entry, caution=event.caution, how=event.how or "spoken", acknowledged=None)
            rows.append(waiting[place])
        elif place in waiting:
            waiting.pop(place).update(heard(entry), acknowledged=Moment(entry.at))
    return rows


def caution_words(account: Account) -> list[Row]:
    """Each caution that was heard, as the card has it, with its source."""
    known = account.card.cautions if account.card else {}
    rows: dict[str, Row] = {}
    for entry, event in account.of(ev.CautionHeard):
        if event.caution in known:
            caution = known[event.caution]
            rows.setdefault(event.caution, row(entry, caution=event.caution, say=caution.say, source=caution.source))
    return list(rows.values())


_HELP = {ev.DigitsBegun: "taken digit by digit from here", ev.KeyOffered: "one key offered instead of speech"}


def misunderstood(account: Account) -> list[Row]:
    """What fitted nothing that made sense then, and the help that was given."""
    return [row(entry, what=_HELP.get(type(event), "not understood"))
            for entry, event in account.of(ev.NotUnderstood, *_HELP)]


def refusals(account: Account) -> list[Row]:
    """Acts that did not fit, each with why."""
    return [row(entry, act=event.act, why=event.why) for entry, event in account.of(ev.Refused)]
