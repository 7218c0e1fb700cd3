"""Names on a card lead somewhere: cautions, clocks, lists, and what makes safe; every step has an id of its own."""
from __future__ import annotations

from collections.abc import Collection
from typing import Iterator

from companion.core.card.faults import meant
from companion.core.card.sheet import Place, Sheet
from companion.core.card.text import Fault
from companion.core.card.values import END
from companion.trade.parts import must_be_new

_RESERVED = ("cylinders",)


def reference_faults(sheet: Sheet) -> Iterator[Fault]:
    """Every name that leads nowhere, and every caution or wait that nothing leads to."""
    yield from _ids(sheet)
    yield from _lists(sheet)
    yield from _targets(sheet)
    yield from _cautions(sheet)
    yield from _clocks(sheet)
    yield from _safeguards(sheet)
    yield from _one_use(sheet)


def _unknown(sheet: Sheet, place: Place, key: str, name: str, known: Collection[str], what: str) -> Iterator[Fault]:
    if name not in known:
        yield sheet.fault(f'{key} must name {what}, not "{name}"' + meant(name, known), *place.path, key)


def _ids(sheet: Sheet) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for place in sheet.steps():
        line = sheet.tree.line((*place.path, "id"))
        name = place.step.id
        if name in first:
            yield Fault(line, f'each id must stand once, but "{name}" stands on line {first[name]} already')
        first.setdefault(name, line)


def _lists(sheet: Sheet) -> Iterator[Fault]:
    known = [*sheet.form.lists, *(["cylinders"] if sheet.form.cylinders else [])]
    for name in _RESERVED:
        if name in sheet.form.lists:
            yield sheet.fault(f'a list must not be called "{name}"', "lists", name)
    for s, stage in enumerate(sheet.form.stages):
        for e, entry in enumerate(stage.steps):
            name = getattr(entry, "for_each", None)
            if name is not None and name not in known:
                text = f'for_each must name one of the card\'s lists, or cylinders that the card counts, not "{name}"'
                yield sheet.fault(text + meant(name, known), "stages", s, "steps", e, "for_each")


def _targets(sheet: Sheet) -> Iterator[Fault]:
    known = {place.step.id for place in sheet.steps()} | {END}
    for path, step, _, _ in sheet.steps():
        named = [(("then", key), to) for key, to in step.then.items()]
        named += [((key,), to) for key, to in (("next", step.next), ("after_that", step.after_that)) if to]
        named += [(("run", "silence"), step.run.silence)] if step.run else []
        named += [(("makes_safe", "again"), step.makes_safe.again)] if step.makes_safe else []
        named += [(("opens", "again"), step.opens.again)] if step.opens else []
        for inside, to in named:
            if to not in known:
                text = f'{inside[-1]} must lead to the id of a step or to "end", not to "{to}"'
                yield sheet.fault(text + meant(to, known), *path, *inside)


def _cautions(sheet: Sheet) -> Iterator[Fault]:
    used: set[str] = set()
    for place in sheet.steps():
        for name in place.step.cautions:
            used.add(name)
            yield from _unknown(sheet, place, "cautions", name, sheet.form.cautions, "one of the card's cautions")
    if sheet.sound("stages"):
        for name in sheet.form.cautions:
            if name not in used:
                yield sheet.fault(f'the caution "{name}" must be acknowledged at a step, but no step names it',
                                  "cautions", name)


def _clocks(sheet: Sheet) -> Iterator[Fault]:
    waits = {name for name, clock in sheet.form.clocks.items() if clock.kind == "wait"}
    runs = set(sheet.form.clocks) - waits
    for place in sheet.steps():
        step = place.step
        for name in step.starts:
            yield from _unknown(sheet, place, "starts", name, waits, "a clock of the kind wait")
        if step.wait:
            yield from _unknown(sheet, place, "wait", step.wait, waits, "a clock of the kind wait")
        if step.run:
            yield from _unknown(sheet, place, "run", step.run.clock, runs, "a clock of the kind run")
    yield from _unwaited(sheet)


def _unwaited(sheet: Sheet) -> Iterator[Fault]:
    """A wait that protects a person protects nobody unless a step waits for it."""
    waited = {place.step.wait for place in sheet.steps()}
    for name, clock in sheet.form.clocks.items():
        if clock.protects == "person" and name not in waited and sheet.sound("stages"):
            yield sheet.fault(f'a step must wait for "{name}", which protects a person, but none does', "clocks", name)


def _one_use(sheet: Sheet) -> Iterator[Fault]:
    """Every part that serves only once is shown to be new by some step."""
    one_use = [item.name for item in sheet.form.parts if item.one_use]
    shown: dict[str, str] = {}
    for place in sheet.steps():
        for name in place.step.shows_new:
            yield from _unknown(sheet, place, "shows_new", name, one_use, "a part with one_use")
            shown[name] = "new"
    for number, item in enumerate(sheet.form.parts):
        if item.name in must_be_new(one_use, shown) and sheet.sound("stages"):
            yield sheet.fault(f'a step must show that "{item.name}" is new, which serves once: name it in shows_new',
                              "parts", number)


def _safeguards(sheet: Sheet) -> Iterator[Fault]:
    made = {place.step.makes_safe.name for place in sheet.steps() if place.step.makes_safe}
    order = {place.step.id: number for number, place in enumerate(sheet.steps())}
    for number, place in enumerate(sheet.steps()):
        safe = place.step.makes_safe
        if safe and order.get(safe.again, 0) > number:
            yield sheet.fault(f'again must lead to this step or an earlier one, not on to "{safe.again}"',
                              *place.path, "makes_safe", "again")
        for name in place.step.ends_safe:
            yield from _unknown(sheet, place, "ends_safe", name, made, "what a step makes safe")
