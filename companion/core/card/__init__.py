"""The job card: its text in, its values out, or every fault of it in one error.

`text` reads it, `form` is the written form, `repair` finds its faults, `core.card.checks` those of
meaning, and `build` makes the values (`values`).
"""
from __future__ import annotations

from functools import lru_cache
from typing import Iterable

from companion.core.card.build import build
from companion.core.card.checks import meaning_faults
from companion.core.card.repair import read_form
from companion.core.card.text import Fault, read_tree
from companion.core.card.answers import (
    Adaptor, Affirm, Answer, ChoiceOf, CodesOf, CountOf, CylinderOf, Done, FaultOf, Nothing, RunOf, SpellingOf, ToolOf,
    ValueOf, WaitOf)
from companion.core.card.values import END, Alone, Card, Caution, Clock, Cylinders, Item, MakesSafe, Opens, Step
from companion.errors import BadInput

__all__ = ["END", "Adaptor", "Affirm", "Alone", "Answer", "Card", "CardErrors", "Caution", "ChoiceOf", "Clock", "CodesOf", "CountOf",
           "CylinderOf", "Cylinders", "Done", "FaultOf", "Item", "MakesSafe", "Nothing", "Opens", "RunOf", "SpellingOf",
           "Step", "ToolOf", "ValueOf", "WaitOf", "load_card"]

_MOST_SHOWN = 100


class CardErrors(BadInput):
    """A job card cannot be used. `faults` are in the order of their lines; `errors` are whole messages."""

    def __init__(self, where: str, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        self.errors = tuple(f"{where}:{fault.line}: {fault.text}" for fault in self.faults)
        super().__init__(where, "a job card must have no faults")

    def sentence(self) -> str:
        """One message a line; a flood is cut short."""
        more = len(self.errors) - _MOST_SHOWN
        return "\n".join(self.errors[:_MOST_SHOWN] + ((f"… and {more} more faults",) if more > 0 else ()))


@lru_cache(maxsize=8)
def load_card(text: str, where: str, checked: bool = True) -> Card:
    """The card written in `text`; `where` names it in messages.

    Raises CardErrors with every fault that one pass can find. The card in an old log is read with `checked` False: its
    form must hold, but checks of meaning that came later must not keep the log from being read."""
    tree = read_tree(text)
    sheet = read_form(tree) if tree.value is not None else None
    faults = tree.faults + (meaning_faults(sheet) if sheet and checked else [])
    if sheet is None or faults:
        raise CardErrors(where, faults)
    return build(sheet, where, text)
