"""Parts lines: what serves once and was shown to be new, and the part whose code was read off its body."""
from __future__ import annotations

from typing import Iterator, NamedTuple

from companion.core import events as ev
from companion.core.card import Item, SpellingOf
from companion.office.record.sheets.told import NOT, Told


class PartLine(NamedTuple):
    """One part. Reusable things of the card's list, such as caps and rags, are none: they are counted back."""

    name: str
    count: int
    """As the card has it."""
    one_use: bool
    number: str
    """The new part's code, and its number where it was asked; "" for a part that has none."""
    shown: str
    """What the log says of it being new."""


def part_lines(told: Told) -> tuple[PartLine, ...]:
    """In the order of the card's list."""
    card = told.account.card
    shown, coded = _shown_new(told), _coded(told)
    lines = (_line(told, part, shown, coded) for part in (card.parts if card else ()))
    return tuple(line for line in lines if line.one_use or line.number)


def asks_parts(told: Told) -> bool:
    """Whether the card has a part that would make a line."""
    card = told.account.card
    return told.asks("part code", "part number") or any(part.one_use for part in (card.parts if card else ()))


def _line(told: Told, part: Item, shown: dict[str, int], coded: str) -> PartLine:
    number = number_of(told) if part.name == coded else ""
    line = shown.get(part.name, 0)
    new = f"shown to be new: line {line}" if line else NOT
    return PartLine(part.name, part.count, part.one_use, number, new if part.one_use else "read off the new part")


def number_of(told: Told) -> str:
    """The new part's code and number, as far as they were spelled."""
    found = [f"{said} {answer}" for said, name in (("code", "part code"), ("number", "part number"))
             if (answer := told.answer(name)) != NOT]
    return ", ".join(found)


def _shown_new(told: Told) -> dict[str, int]:
    """Each one-use part that was affirmed to be new, with the line of the log."""
    return {part: entry.n + 1 for entry, event in told.account.of(ev.StepEnded) if event.outcome == "affirm"
            for part in getattr(told.account.step(event.step), "shows_new", ())}


def _coded(told: Told) -> str:
    """The part whose code is spelled: the longest name of the card's list that stands in that step's words."""
    said = " ".join(_words(told))
    names = [part.name for part in told.account.card.parts if part.name in said] if told.account.card else []
    return max(names, key=len, default="")


def _words(told: Told) -> Iterator[str]:
    asked = {step.id: step.say for step in told.steps
             if isinstance(step.answer, SpellingOf) and step.answer.name == "part code"}
    return (asked[event.step] for _, event in told.account.of(ev.SpellingLogged) if event.step in asked)
