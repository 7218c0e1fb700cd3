"""Working alone: intervals that can be kept, risks that begin and end, and no end of the job without signing off."""
from __future__ import annotations

from typing import Iterator

from companion.core.card.answers import Affirm, Done, ValueOf
from companion.core.card.faults import meant
from companion.core.card.flow import ways_on
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.core.card.values import END, Card

LEAST_MS, MOST_MS = 60_000, 4 * 3_600_000
"""Of an interval; common practice, no source."""
LEAST_WITHIN_MS = 20_000
"""The words of a check, and an answer from under a vehicle."""


def alone_faults(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """What does not hold about working alone; a card without `alone` must not name what belongs to it."""
    if card.alone is None:
        yield from _needless(sheet)
        return
    yield from _intervals(sheet)
    yield from _risks(sheet)
    yield from _signs_off(sheet, card)
    yield from _back_by(sheet, card)


def _needless(sheet: Sheet) -> Iterator[Fault]:
    for place in sheet.steps():
        for key in ("risks", "ends_risks", "signs_off"):
            if getattr(place.step, key):
                yield sheet.fault(f'{key} must stand on a card with "alone", which says how often to check', *place.path, key)


def _intervals(sheet: Sheet) -> Iterator[Fault]:
    alone = sheet.form.alone
    if not LEAST_MS <= alone.every <= MOST_MS:
        yield sheet.fault("every must be from 1 min to 4 h", "alone", "every")
    if alone.within < LEAST_WITHIN_MS:
        yield sheet.fault("within must be 20 s or more: a check must be heard, and answered", "alone", "within")
    if not 2 * alone.within <= alone.at_risk <= alone.every:
        yield sheet.fault("at_risk must be at most every, and at least twice within", "alone", "at_risk")


def _risks(sheet: Sheet) -> Iterator[Fault]:
    places = list(sheet.steps())
    begun = {name for place in places for name in place.step.risks}
    ended = {name for place in places for name in place.step.ends_risks}
    for place in places:
        if place.step.opens and not place.step.risks:
            yield sheet.fault("a step that opens a line under pressure must name the risk that begins: risks: [fuel system open]",
                              *place.path, "opens")
        for name in place.step.risks:
            if name not in ended and sheet.sound("stages"):
                yield sheet.fault(f'a step must end the risk "{name}", but none names it in ends_risks', *place.path, "risks")
        for name in place.step.ends_risks:
            if name not in begun:
                yield sheet.fault(f'ends_risks must name a risk that a step begins, not "{name}"' + meant(name, begun),
                                  *place.path, "ends_risks")


def _signs_off(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """Whoever is looked after is so until they say that they are done."""
    for step in card.steps:
        if END in ways_on(card, step) and not step.signs_off:
            yield sheet.step_fault(step, "a step that ends the job must sign off: signs_off: true")
        if step.signs_off and not isinstance(step.answer, (Done, Affirm)):
            yield sheet.step_fault(step, "signing off must be answered with done or affirm", "signs_off")


def _back_by(sheet: Sheet, card: Card) -> Iterator[Fault]:
    name = card.alone.back_by
    minutes = {step.answer.name for step in card.steps if isinstance(step.answer, ValueOf) and step.answer.unit == "min"}
    if name and name not in minutes:
        yield sheet.fault(f'back_by must name a value in minutes that a step asks for, not "{name}"' + meant(name, minutes),
                          "alone", "back_by")
    road = next((step for step in card.steps if step.on_the_road), None)
    if road and not name:
        yield sheet.fault("a card with a step on the road must name the agreed return time: back_by", "alone")
