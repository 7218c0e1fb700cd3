"""The way of a card: what no job that comes to its proper end can have missed."""
from __future__ import annotations

from functools import lru_cache

from companion.core.card import END, load_card
from companion.core.card.flow import answered_before, ways_on
from companion.office.account import CARD_NAME


@lru_cache(maxsize=64)
def never_missed(card_text: str) -> frozenset[str]:
    """The steps that lie on every way of this card to its proper end."""
    card = load_card(card_text, CARD_NAME, checked=False)
    before = answered_before(card, {step.id: step.id for step in card.steps})
    closing = [step.id for step in card.steps if step.closes == "end"]
    last = closing or [step.id for step in card.steps if END in ways_on(card, step)]
    passed = [before[step] | {step} for step in last if step in before]
    return frozenset(set.intersection(*passed)) if passed else frozenset()
