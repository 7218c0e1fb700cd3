"""Braces in spoken texts: each names an earlier answer, asked on every way to the step, and never a personal one."""
from __future__ import annotations

import re
from typing import Iterator

from companion.core.card.faults import meant
from companion.core.card.flow import answered_before
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.core.card.answers import (
    ChoiceOf, CountOf, CylinderOf, FaultOf, RunOf, SpellingOf, ToolOf, ValueOf)
from companion.core.card.values import Card, Step

NAME = re.compile(r"\{([^{}]*)\}")


def name_faults(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """Every name in braces that cannot be filled in."""
    named = {step.id: answer_name(step) for step in card.steps if answer_name(step)}
    personal = {named[step.id] for step in card.steps if step.personal and step.id in named}
    had = answered_before(card, named)
    for step in card.steps:
        for inside, spoken in _texts(step):
            for name in NAME.findall(spoken):
                text = _fault(name, set(named.values()), personal, step.id not in had or name in had[step.id])
                if text:
                    yield sheet.step_fault(step, f"{inside[-1]}: {text}", *inside)


def answer_name(step: Step) -> str:
    """The name that later texts may use for the answer; "" for none."""
    answer = step.answer
    if isinstance(answer, (ChoiceOf, ValueOf, CountOf, SpellingOf, ToolOf, CylinderOf, FaultOf)):
        return answer.name
    return ""


def _texts(step: Step) -> Iterator[tuple[tuple[str, ...], str]]:
    """The texts of a step in which names are filled in, and where they stand."""
    yield from ((("say",), step.say), (("brief",), step.brief), (("detail",), step.detail))
    if isinstance(step.answer, RunOf):
        yield ("run", "ask"), step.answer.ask
    if step.makes_safe:
        yield ("makes_safe", "still"), step.makes_safe.still


def _fault(name: str, known: set[str], personal: set[str], had: bool) -> str:
    if name == "setting":  # of the wrench, worked out for an adaptor; `working` sees that there is one
        return ""
    if name == "item":
        return "{item} must stand in a step of for_each"
    if name not in known:
        return "{" + name[:40] + "} must name the answer of an earlier step" + meant(name, known)
    if name in personal:
        return "{" + name + "} is a personal answer, which must not be spoken again"
    return "" if had else "{" + name + "} must be answered on every way to this step, but is not"
