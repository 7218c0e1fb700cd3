"""The claim sheet: complaint, cause, correction, with everything that a claim for the part rests on."""
from __future__ import annotations

from typing import Iterable, Iterator, Optional

from companion.core.card import CodesOf, CylinderOf, FaultOf
from companion.office.record import found
from companion.office.record.cells import full, span
from companion.office.record.closing import closing
from companion.office.record.limit_bars import limit_bars, tightening
from companion.office.record.page import FOOT, grid
from companion.office.record.paper.blocks import Block, Fact, Facts, Grid, Label, Paper, Point, Points, Says, Section
from companion.office.record.sheets.codes import codes
from companion.office.record.sheets.damage import WHY, in_plain_words, sheet_state, warning
from companion.office.record.sheets.parts import asks_parts, number_of, part_lines
from companion.office.record.sheets.told import NOT, Told
from companion.office.record.side_by_side import side_by_side
from companion.office.record.summary import title
from companion.office.record.tables import tables


def claim_sheet(told: Told) -> Paper:
    """The whole sheet."""
    sections = (*_complaint(told), *_cause(told), *_correction(told), *_parts(told), *_old(told), _times(told),
                found.section(in_plain_words(told.data), entries=False), *_values(told), closing(told.data, broken=WHY))
    return Paper("claim", f"Claim: {title(told.data)}", sheet_state(told.data, "claim sheet"), told.data["stamp"],
                 told.data["card"]["defers"], warning(told.data), Facts("This job", tuple(_head(told))),
                 sections, FOOT, told.data["job"]["ended"] or "")


def _head(told: Told) -> Iterator[Fact]:
    data, job = told.data, told.data["job"]
    yield from told.facts("Vehicle", "Mileage")
    yield Fact("Mechanic", (told.initials,))
    yield Fact("Began", (full(job["began"]) if job["began"] else NOT,))
    yield Fact("Ended" if data["check"]["finished"] else "Last entry", (full(job["ended"]) if job["ended"] else NOT,))
    yield Fact("Card", (f"{data['card']['name']}, version {data['card']['version'] or 'unknown'}",))
    yield Fact("Log", (data["log"], "holds" if not data["check"]["wrong"] else "DAMAGED"))


def _list(said: Iterable[str]) -> Block:
    points = tuple(Point(one[:1].upper() + one[1:]) for one in said)
    return Points(points) if points else Says(f"{NOT.capitalize()}.")


def _complaint(told: Told) -> Iterator[Section]:
    facts = tuple(_complained(told))
    if facts:
        yield Section("Complaint", (Facts("Complaint", facts),))


def _complained(told: Told) -> Iterator[Fact]:
    if told.asks("complaint"):
        yield Fact("As stated", (told.answer("complaint"),))
    if told.asks(CodesOf):
        before = [f"{code}: {meant}" for code, meant in told.codes_before()]
        yield Fact("Fault codes before", tuple(before) or ("none held" if told.read_before else NOT,))
    if told.asks("freeze frame"):
        yield Fact("Freeze frame", (told.answer("freeze frame"),))


def _cause(told: Told) -> Iterator[Section]:
    """What pointed where, and what was judged; nothing on a card that judges nothing."""
    if not told.asks(CylinderOf, FaultOf):
        return
    judged = (("Cylinder", CylinderOf, told.cylinder), ("Judged to be", FaultOf, told.fault))
    facts = (*(Fact(heading, (said,)) for heading, kind, said in judged if told.asks(kind)), *_proof(told))
    weighed = [f"{one['name']}: said {one['said']}, found {one['found'] or 'nothing'}; "
               f"{' '.join(one['why']) or one['verdict'] + '.'}" for one in told.data["evidence"]]
    yield Section("Cause", (Facts("Cause", facts), _list(weighed), *side_by_side(told.data)))


def _proof(told: Told) -> Iterator[Fact]:
    """What the judgement rests on: the measured value and the choices that the card names for it."""
    answer = next((step.answer for step in told.steps if isinstance(step.answer, FaultOf)), None)
    if answer is None:
        return
    values = [one for one in told.data["values"] if one["name"] == answer.resistance and not one["replaced_by"]]
    if answer.resistance:
        said = [f"{one['value']} {one['unit']}, {one['verdict']}" for one in values[-1:]]
        yield Fact(answer.resistance.capitalize(), tuple(said) or (NOT,))
    for sound in filter(None, (answer.wiring, answer.driver, answer.swap)):
        yield Fact(sound.answer.capitalize(), (told.answer(sound.answer),))


def _correction(told: Told) -> Iterator[Section]:
    done = [f"read off the new part: {number}." for number in [number_of(told)] if number]
    done += [f"{one['say']}: {one['how']}." for one in told.data["waits"] if one["protects"] == "work"]
    done += [*told.runs(), *told.road_test()]
    chart: Optional[Block] = tightening(told.data)
    blocks = (*([_list(done)] if done else []), *([chart] if chart else []),
              *([codes(told)] if told.asks(CodesOf) else []))
    if blocks:
        yield Section("Correction", blocks)


def _parts(told: Told) -> Iterator[Section]:
    if not asks_parts(told):
        return
    rows = tuple((line.name, str(line.count), "yes" if line.one_use else "no", line.number, line.shown)
                 for line in part_lines(told))
    heads = ("Part", "Count, by the card", "Serves once", "New part's code and number", "What the log shows")
    yield Section("Parts", (Grid("parts", "Parts", heads, rows) if rows else Says(f"{NOT.capitalize()}."),))


def _old(told: Told) -> Iterator[Section]:
    """How many old parts were bagged, and their tag to be cut out."""
    counted = [one for one in told.data["counts"] if one["name"] == "old parts"]
    if not counted:
        if told.asks("old parts"):
            yield Section("Old parts", (Says(f"Bagged and labelled: {NOT}, so there is no tag."),))
        return
    said = f"Bagged and labelled at {full(counted[-1]['at'])}: {counted[-1]['count']} old parts."
    tag = Label("OLD PART – keep for the claim", (
        Fact("Vehicle", (told.vehicle,)), Fact("Taken from", (told.cylinder,)),
        Fact("Complaint", (told.answer("complaint"),)), Fact("Its own code", (told.answer("old part code"),)),
        Fact("New part", (number_of(told) or NOT,)), Fact("Mechanic", (told.initials,)),
        Fact("Log, seal", (told.data["log"], told.data["check"]["closing_seal"] or NOT))))
    yield Section("Old parts", (Says(said), tag))


def _times(told: Told) -> Section:
    worked = told.data["job"]["worked"]
    simulated = any(boot["simulated"] for boot in told.data["boots"])
    said = Says("The clock was SIMULATED: these times were set, not lived through.", strong=True)
    clock = (said,) if simulated else ()
    found_times = [grid(*one) for one in tables(told.data, folded=False) if one[0].key == "times"]
    return Section("Time by stage", (*clock, *(found_times or [Says(f"Worked: {span(worked) if worked else NOT}.")])))


def _values(told: Told) -> Iterator[Section]:
    chart = limit_bars(told.data)
    rows = [grid(*one) for one in tables(told.data, folded=False) if one[0].key == "values"]
    if rows:
        yield Section("Values", (*([chart] if chart else []), *rows))
