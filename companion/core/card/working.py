"""What the companion works out must have what it works from: every answer named here stands earlier, on every way, and is
of the right kind; an angle follows its bolt's snug torque."""
from __future__ import annotations

from typing import Iterator, NamedTuple

from companion.core.card.answers import (
    Answer, ChoiceOf, CodesOf, CountOf, CylinderOf, FaultOf, SpellingOf, ToolOf, ValueOf)
from companion.core.card.faults import meant
from companion.core.card.flow import answered_before
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.core.card.values import Card, Step
from companion.trade.torque import Stage, stage_faults
from companion.trade.units import UNITS

_KINDS = {ChoiceOf: "a choice", CodesOf: "a list of fault codes", CountOf: "a count", CylinderOf: "a cylinder",
          SpellingOf: "a spelling", ToolOf: "a tool", ValueOf: "a measured value"}


class Need(NamedTuple):
    """One earlier answer that a step works from."""

    key: str
    name: str
    kind: type


def working_faults(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """Every answer that could not be worked out."""
    named = {step.id: step.answer.name for step in card.steps if type(step.answer) in _KINDS}
    by_name = {step.answer.name: step for step in card.steps if type(step.answer) in _KINDS}
    personal = {named[step.id] for step in card.steps if step.personal and step.id in named}
    had = answered_before(card, named)
    for step in card.steps:
        for need in needs(step):
            text = _missing(need, by_name, step.id not in had or need.name in had[step.id])
            if not text and need.kind is ValueOf and need.name in personal:
                text = f'{need.key}: "{need.name}" is personal and may be erased, so nothing can be worked out from it'
            if text:
                yield sheet.step_fault(step, text, *(("opens",) if need.key in _OF_OPENS else ("answer", need.key)))
            else:
                yield from _misfit(sheet, step, need, by_name[need.name].answer)
    yield from _opens(sheet, card)
    yield from _cylinders(sheet, card)
    yield from _settings(sheet, card)
    yield from _adaptors(sheet, card)
    yield from _tightening(sheet, card)


_OF_OPENS = ("pressure",)


def needs(step: Step) -> tuple[Need, ...]:
    """The earlier answers that a step works from."""
    answer, found = step.answer, []
    if isinstance(answer, ValueOf):
        found = [("tool", answer.tool, ToolOf), ("no_rise_from", answer.no_rise_from, ValueOf)]
    elif isinstance(answer, (CountOf, SpellingOf)):
        found = [("same_as", answer.same_as, type(answer))]
    elif isinstance(answer, CodesOf):
        found = [("proves", answer.proves, CylinderOf), ("cleared", answer.cleared, CodesOf)]
        found += [("against", name, CodesOf) for name in answer.against]
    elif isinstance(answer, CylinderOf):
        found = [("same_as", answer.same_as, CylinderOf)] + [("codes", name, CodesOf) for name in answer.codes]
        found += [("readings", spread.name, ValueOf) for spread in answer.readings]
    elif isinstance(answer, FaultOf):
        found = [(key, given.answer, ChoiceOf) for key in ("wiring", "driver", "swap") if (given := getattr(answer, key))]
        found += [("resistance", answer.resistance, ValueOf)]
    if step.opens:
        found.append(("pressure", step.opens.pressure, ValueOf))
    return tuple(Need(*need) for need in found if need[1])


def _missing(need: Need, by_name: dict[str, Step], had: bool) -> str:
    other = by_name.get(need.name)
    if other is None or type(other.answer) is not need.kind:
        return f'{need.key} must name {_KINDS[need.kind]} of an earlier step, not "{need.name}"' + meant(
            need.name, [name for name, step in by_name.items() if type(step.answer) is need.kind])
    return "" if had else f'{need.key}: "{need.name}" must be answered on every way to this step, but is not'


def _misfit(sheet: Sheet, step: Step, need: Need, other: Answer) -> Iterator[Fault]:
    answer, path = step.answer, ("answer", need.key)
    if any(isinstance(value, ValueOf) and value.unit not in UNITS for value in (answer, other)):
        return  # `limits` says so
    if need.key == "no_rise_from" and UNITS[answer.unit].quantity != UNITS[other.unit].quantity:
        yield sheet.step_fault(step, f'no_rise_from must name a {UNITS[answer.unit].quantity}, not "{need.name}"', *path)
    if need.key in ("wiring", "driver", "swap") and getattr(answer, need.key).sound not in other.options:
        wrong = getattr(answer, need.key).sound
        yield sheet.step_fault(step, f'sound must be an answer of "{need.name}", not "{wrong}"', *path)
    if need.key == "resistance" and other.low is None and other.high is None:
        yield sheet.step_fault(step, f'resistance must name a value with limits, but "{need.name}" has none', *path)
    if need.key == "pressure" and (UNITS[other.unit].quantity != "pressure" or other.high is None):
        yield sheet.step_fault(step, f'pressure must name a pressure with a high limit, not "{need.name}"', "opens")


def _opens(sheet: Sheet, card: Card) -> Iterator[Fault]:
    known = [name for name, clock in card.clocks.items() if clock.kind == "wait" and clock.protects == "person"]
    for step in card.steps:
        if step.opens and step.opens.wait not in known:
            text = f'opens must name a wait that protects a person, not "{step.opens.wait}"'
            yield sheet.step_fault(step, text + meant(step.opens.wait, known), "opens", "wait")


def _cylinders(sheet: Sheet, card: Card) -> Iterator[Fault]:
    for step in card.steps if not card.cylinders else ():
        if isinstance(step.answer, CylinderOf):
            yield sheet.step_fault(step, 'a card that asks for a cylinder must have the key "cylinders"', "answer", "cylinder")


def _settings(sheet: Sheet, card: Card) -> Iterator[Fault]:
    for step in card.steps:
        for key in ("say", "brief", "detail"):
            if "{setting}" in getattr(step, key) and not getattr(step.answer, "adaptor", None):
                yield sheet.step_fault(step, "{setting} must stand in a step whose value has an adaptor", key)


def _adaptors(sheet: Sheet, card: Card) -> Iterator[Fault]:
    for step in card.steps:
        answer = step.answer
        if not isinstance(answer, ValueOf) or answer.unit not in UNITS:
            continue
        torque = UNITS[answer.unit].quantity == "torque"
        if answer.adaptor and not (torque and answer.tool and answer.nominal is not None):
            yield sheet.step_fault(step, "an adaptor must stand with a nominal torque and the tool that pulls it",
                                   "answer", "adaptor")
        if answer.uncertainty is not None and answer.uncertainty <= 0:
            yield sheet.step_fault(step, f"uncertainty must be above 0, not {answer.uncertainty}", "answer", "uncertainty")


def _tightening(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """The stages of each bolt in the order of the card."""
    so_far: dict[str, list[Stage]] = {}
    for step in card.steps:
        answer = step.answer
        if not isinstance(answer, ValueOf) or UNITS.get(answer.unit) is None:
            continue
        quantity = UNITS[answer.unit].quantity
        if quantity == "angle" and not answer.fastener:
            yield sheet.step_fault(step, "an angle must name its fastener, whose snug torque it counts from", "answer")
        target = answer.nominal if answer.nominal is not None else answer.high
        if answer.fastener and target is None:
            text = f'what tightens "{answer.fastener}" must have a nominal, or a high limit'
            yield sheet.step_fault(step, text, "answer", "fastener")
        elif answer.fastener and quantity in ("torque", "angle"):
            stages = so_far.setdefault(answer.fastener, [])
            before = stage_faults(tuple(stages))
            stages.append(Stage(quantity, target, answer.tolerance, answer.unit))
            for text in stage_faults(tuple(stages)):
                if text not in before:
                    yield sheet.step_fault(step, f"{answer.fastener}: {text}", "answer", "fastener")
