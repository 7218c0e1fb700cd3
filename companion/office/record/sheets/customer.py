"""The customer's sheet: one page in plain words, for whoever drives the vehicle away."""
from __future__ import annotations

import re
from typing import Iterator

from companion.core.card import CodesOf, CylinderOf, FaultOf, RunOf, ValueOf
from companion.office.findings import KINDS
from companion.office.record.closing import closing
from companion.office.record.limit_bars import tightens
from companion.office.record.paper.blocks import Fact, Facts, Paper, Point, Points, Says, Section
from companion.office.record.sheets.codes import codes
from companion.office.record.sheets.damage import WHY, sheet_state, warning
from companion.office.record.sheets.parts import part_lines
from companion.office.record.sheets.told import NOT, Told
from companion.office.record.summary import title

_FOR = ("Keep this sheet: with these characters anybody can show later whether the record of this job was cut "
        "or rewritten.")
_FOOT = "Made from the job's log alone. Times are UTC."
_OPEN = ("evidence-disagrees", "step-left-out", "value-outside", "value-too-close", "leak-run-short", "leak-unanswered",
         "codes-missing", "code-still-there", "code-new", "count-unreconciled", "vehicle-differs", "job-unfinished",
         "job-stopped")
"""Findings that say something about the vehicle, not about how the work was watched."""
_BEYOND = ("value-outside", "value-too-close")
_WITH_FIGURES = (*_BEYOND, "code-still-there", "code-new")
"""Of these the customer reads the finding itself, with its figures; of the others what they mean."""
_TELL = re.compile(r"Tell the customer:? +(.*)", re.DOTALL)
"""What a card asks to be told."""


def customer_sheet(told: Told) -> Paper:
    """The whole sheet."""
    code_list = (Section("Fault codes", (codes(told),)),) if told.asks(CodesOf) else ()
    sections = (*_open(told), *_section("What was found", _found(told)),
                *_section("What was done", _done(told), asked=_works(told)), *code_list,
                *_section("What you were told, and what to watch for", _watch(told), asked=_tells(told)),
                closing(told.data, _FOR, WHY))
    return Paper("customer", f"For the customer: {title(told.data)}", sheet_state(told.data, "customer's sheet"),
                 told.data["stamp"], "", warning(told.data), Facts("This job", tuple(_head(told))), sections,
                 _FOOT, told.data["job"]["ended"] or "")


def _head(told: Told) -> Iterator[Fact]:
    job = told.data["job"]
    yield from told.facts("Vehicle")
    if told.asks("customer"):
        yield Fact("Your reference", (told.answer("customer"),))
    yield from told.facts("Mileage", "Complaint")
    date = f"{job['began'][:10]}, {job['began'][11:16]} to {_until(job)} UTC" if job["began"] else NOT
    simulated = any(boot["simulated"] for boot in told.data["boots"])
    yield Fact("Date", (date, *["on a SIMULATED clock"] * simulated))
    yield Fact("Mechanic", (told.initials,))


def _until(job: dict) -> str:
    same = job["began"][:10] == job["ended"][:10]
    return job["ended"][11:16] if same else f"{job['ended'][:10]} {job['ended'][11:16]}"


def _section(heading: str, said: Iterator[str], asked: bool = False) -> tuple[Section, ...]:
    """The points; without any, none where the card asks for none. `asked`: whether it does."""
    points = tuple(Point(one[:1].upper() + one[1:]) for one in said)
    if not points and not asked:
        return ()
    return (Section(heading, (Points(points) if points else Says(f"{NOT.capitalize()}."),)),)


def _open(told: Told) -> tuple[Section, ...]:
    """What is not in order, before all else."""
    found = [one for one in told.data["findings"] if one["name"] in _OPEN]
    said = dict.fromkeys(one["said"] if one["name"] in _WITH_FIGURES else f"{KINDS[one['name']].says}."
                         for one in found)
    return _section("Open points: ask about these", iter(said))


def _found(told: Told) -> Iterator[str]:
    if told.asks(CylinderOf):
        yield f"cylinder at fault: {told.cylinder}."
    if told.asks(FaultOf):
        yield f"cause, as judged: {told.fault}."
    leaks = dict.fromkeys(one["answer"] for one in told.data["questions"] if one["answer"].startswith("leaking"))
    yield from (f"during a leak check it was seen to be {leak}." for leak in leaks)


def _done(told: Told) -> Iterator[str]:
    lines = part_lines(told)
    yield from (f"new {line.name}, as read off it: {line.number}." for line in lines if line.number)
    once = [f"{line.name} ({line.count})" for line in lines if line.one_use and line.shown != NOT]
    if once:
        yield f"shown to be new before the work: {', '.join(once)}."
    tight = [one for one in told.data["values"] if tightens(one) and not one["replaced_by"]]
    if tight:
        bad = {line for one in told.data["findings"] if one["name"] in _BEYOND for line in one["lines"]}
        good = sum(one["verdict"] == "inside" and one["line"] not in bad for one in tight)
        yield f"tightened by torque or angle: {len(tight)} readings, {good} of them inside their limits."
    yield from told.runs()
    yield from told.road_test()


def _works(told: Told) -> bool:
    """Whether the card asks for anything that is told as done."""
    return (told.asks(RunOf, "road test", "part code") or any(step.shows_new for step in told.steps)
            or any(isinstance(step.answer, ValueOf) and step.answer.fastener for step in told.steps))


def _watch(told: Told) -> Iterator[str]:
    """What the card asked to be told, where the step was ended with done."""
    for one in told.data["steps"]:
        if one["outcome"] == "done" and (said := _TELL.search(one["say"])):
            yield said[1]


def _tells(told: Told) -> bool:
    return told.account.card is None or any(_TELL.search(step.say) for step in told.steps)
