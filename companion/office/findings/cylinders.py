"""Which cylinder, and which part of it: what was named, against what the logged evidence shows."""
from __future__ import annotations

from typing import Iterator, Optional

from companion.core import events as ev
from companion.core.card import CodesOf, CylinderOf, FaultOf
from companion.core.job import pointing
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import Given, Known, answers_of, worked_out
from companion.office.findings.values import judge_again


def evidence_against_answers(account: Account) -> Iterator[Finding]:
    """A cylinder, a proof or a fault that does not agree with what codes, readings and earlier answers show; each time
    it was answered, even if it was put right later."""
    every = answers_of(account)
    for place, given in enumerate(every):
        if not given.step or not isinstance(given.step.answer, (CylinderOf, FaultOf, CodesOf)):
            continue
        entry, event, answer = given.entry, given.event, given.step.answer
        if isinstance(event, ev.AnswerGiven) and isinstance(event.answer, str):
            if isinstance(answer, CylinderOf):
                yield from _against_evidence(account, given, answer, every[place + 1:])
            elif isinstance(answer, FaultOf):
                yield from _against_signs(account, entry, event, answer, given.known)
        elif isinstance(event, ev.CodesLogged) and isinstance(answer, CodesOf) and answer.proves:
            yield from _against_proof(entry, event, answer, given.known)


def _against_evidence(account: Account, given: Given, answer: CylinderOf, later: list[Given]) -> Iterator[Finding]:
    entry, event, known = given.entry, given.event, given.known
    said = _number(known, event.answer)
    if answer.same_as:
        first = _number(known, known.answers.get(answer.same_as, ""))
        if first and said and first != said:
            yield _wrong(account, given, answer, said, _first(known, answer, first), later)
        return
    number, why = worked_out(_pointed, known, answer) or (None, ())
    if number is None and why:
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"Codes and readings do not point to one cylinder: {' '.join(why)} {_said(event)}"))
    elif number is not None and said is None:
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"{_said(event)} But codes and readings point to {pointing.cylinder_words(number)}"))
    elif number is not None and said != number:
        shown = f"codes and readings point to {pointing.cylinder_words(number)}"
        yield _wrong(account, given, answer, said, shown, later)


def _number(known: Known, said: str) -> Optional[int]:
    return worked_out(pointing.number_of, known.card, said)


def _pointed(known: Known, answer: CylinderOf) -> tuple[Optional[int], tuple[str, ...]]:
    return pointing.pointed_to(known, answer, [pointing.compared(known, spread) for spread in answer.readings])


def _first(known: Known, answer: CylinderOf, first: int) -> str:
    """What had been answered before, and whether it was what codes and readings show."""
    asked = next((step.answer for step in known.card.steps if isinstance(step.answer, CylinderOf)
                  and step.answer.name == answer.same_as and not step.answer.same_as), None)
    number, _ = worked_out(_pointed, known, asked) or (None, ()) if asked else (None, ())
    shown = ", as codes and readings show" if number == first else ""
    return f'"{quoted(answer.same_as)}" had been {pointing.cylinder_words(first)}{shown}'


def _wrong(account: Account, given: Given, answer: CylinderOf, said: int, but: str, later: list[Given]) -> Finding:
    """With the line that put it right, which is what a supervisor asks next."""
    named = sentence(f'The mechanic named {pointing.cylinder_words(said)} as "{quoted(given.event.name)}"; {but}')
    right = _put_right(given, answer, later)
    if right is None:
        whole = account.found["holds"] and account.found["finished"]
        never = "It was never put right." if whole else "It was not put right before this log ends."
        return Finding("wrong-cylinder", (given.entry.n + 1,), f"{named} {never}")
    line, event = right.entry.n + 1, right.event
    mended = f'It was put right at line {line}: "{quoted(event.name)}" was answered again, {quoted(event.answer)}'
    return Finding("wrong-cylinder", (given.entry.n + 1, line), f"{named} {sentence(mended)}")


def _put_right(given: Given, answer: CylinderOf, later: list[Given]) -> Optional[Given]:
    """The later answer since which the cylinder fits what it must fit; None where it does not fit in the end."""
    right: Optional[Given] = None
    for one in later:
        event = one.event
        if isinstance(event, ev.AnswerGiven) and isinstance(event.answer, str) and event.name in (
                given.event.name, answer.same_as):
            known = Known(one.record, one.entry.n + 1)
            fits = _fits(known, answer, known.answers.get(given.event.name, ""))
            right = (right or one) if fits else None
    return right


def _fits(known: Known, answer: CylinderOf, given: str) -> bool:
    said = _number(known, given)
    if answer.same_as:
        return said is not None and said == _number(known, known.answers.get(answer.same_as, ""))
    number, _ = worked_out(_pointed, known, answer) or (None, ())
    return said is not None and said == number


def _said(event: ev.AnswerGiven) -> str:
    return f"{quoted(event.name).capitalize()} was answered: {quoted(str(event.answer))}."


def _against_signs(account: Account, entry: Entry, event: ev.AnswerGiven, answer: FaultOf,
                   known: Known) -> Iterator[Finding]:
    """The resistance counts by where its bare reading lies, too close or not."""
    measured = known.values.get(answer.resistance)
    judged = worked_out(judge_again, account, measured, known) if measured else None
    side = judged.side if judged and judged.side != "none" else ""
    part = worked_out(pointing.part_at_fault, known, answer, side)
    if part and part != event.answer:
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"{_said(event)} But what was found points to: {part}"))


def _against_proof(entry: Entry, event: ev.CodesLogged, answer: CodesOf, known: Known) -> Iterator[Finding]:
    """Our own test must bring a code of the cylinder whose plug is off."""
    proof = worked_out(pointing.proof, known, answer, event.codes)
    if proof and not proof[1].ok:
        codes = ", ".join(map(quoted, event.codes)) or "none"
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"Our own test's codes ({codes}) do not prove the cylinder: {' '.join(proof[1].disagree)}"))
