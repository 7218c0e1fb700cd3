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
from companion.office.findings.known import Known, answers_of, worked_out
from companion.office.findings.values import judge_again


def evidence_against_answers(account: Account) -> Iterator[Finding]:
    """A cylinder, a proof or a fault that does not agree with what codes, readings and earlier answers show; each time
    it was answered, even if it was put right later."""
    for given in answers_of(account):
        if not given.step or not isinstance(given.step.answer, (CylinderOf, FaultOf, CodesOf)):
            continue
        entry, event, answer = given.entry, given.event, given.step.answer
        if isinstance(event, ev.AnswerGiven) and isinstance(event.answer, str):
            if isinstance(answer, CylinderOf):
                against = _against_first if answer.same_as else _against_evidence
                yield from against(entry, event, answer, given.known)
            elif isinstance(answer, FaultOf):
                yield from _against_signs(account, entry, event, answer, given.known)
        elif isinstance(event, ev.CodesLogged) and isinstance(answer, CodesOf) and answer.proves:
            yield from _against_proof(entry, event, answer, given.known)


def _against_first(entry: Entry, event: ev.AnswerGiven, answer: CylinderOf, known: Known) -> Iterator[Finding]:
    first = worked_out(pointing.number_of, known.card, known.answers.get(answer.same_as, ""))
    said = worked_out(pointing.number_of, known.card, event.answer)
    if first and said and first != said:
        yield _wrong(entry, event, said, f"{quoted(answer.same_as)} was {pointing.cylinder_words(first)}")


def _against_evidence(entry: Entry, event: ev.AnswerGiven, answer: CylinderOf, known: Known) -> Iterator[Finding]:
    pointed = worked_out(_pointed, known, answer)
    said = worked_out(pointing.number_of, known.card, event.answer)
    if pointed is None:
        return
    number, why = pointed
    if number is None:
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"Codes and readings do not point to one cylinder: {' '.join(why)} {_said(event)}"))
    elif said is None:
        yield Finding("evidence-disagrees", (entry.n + 1,), sentence(
            f"{_said(event)} But codes and readings point to {pointing.cylinder_words(number)}"))
    elif said != number:
        yield _wrong(entry, event, said, f"codes and readings point to {pointing.cylinder_words(number)}")


def _pointed(known: Known, answer: CylinderOf) -> tuple[Optional[int], tuple[str, ...]]:
    return pointing.pointed_to(known, answer, [pointing.compared(known, spread) for spread in answer.readings])


def _wrong(entry: Entry, event: ev.AnswerGiven, said: int, but: str) -> Finding:
    return Finding("wrong-cylinder", (entry.n + 1,),
                   sentence(f"{quoted(event.name)} was said to be {pointing.cylinder_words(said)}, but {but}"))


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
