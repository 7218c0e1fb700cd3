"""How long a step takes in the hand: the card's estimate of each stage, less its waits and its talk, shared out."""
from __future__ import annotations

from functools import lru_cache
from random import Random
from typing import Mapping

from companion.core.card import Affirm, Card, CodesOf, CountOf, RunOf, SpellingOf, Step, WaitOf
from companion.office.fleet.road import road_of

_TALK_S = 9.0
"""Of words at one step."""
_LEAST_S, _MOST_S, _ELSEWHERE_S = 2.0, 540.0, 25.0
"""Nobody takes more than nine minutes over a step; a step off the usual way, or without an estimate, has its own."""
_SHORT = (Affirm, CountOf, SpellingOf, CodesOf)
"""Answers that are soon given."""


@lru_cache(maxsize=32)
def seconds_by_step(card_text: str) -> Mapping[str, float]:
    """Step id to the seconds that its work takes, as a rule."""
    road = road_of(card_text)
    seconds: dict[str, float] = {}
    for stage, minutes in road.card.stage_minutes.items():
        steps = [step for step in road.steps if step.stage == stage]
        worked = [step for step in steps if not isinstance(step.answer, (WaitOf, RunOf)) and not step.on_the_road]
        left = 60 * minutes - _TALK_S * len(steps) - sum(_waits_s(road.card, step) for step in steps)
        shares = sum(map(_share, worked)) or 1
        seconds |= {step.id: min(_MOST_S, max(_LEAST_S, left * _share(step) / shares)) for step in worked}
    return seconds


def hands_on_ms(card: Card, step: Step, pace: float, random: Random) -> int:
    """How long it takes this time."""
    usual = seconds_by_step(card.text).get(step.id, _ELSEWHERE_S)
    return round(1000 * max(_LEAST_S, usual * pace * random.uniform(0.6, 1.5)))


def _share(step: Step) -> float:
    return 0.3 if isinstance(step.answer, _SHORT) else 1.0


def _waits_s(card: Card, step: Step) -> float:
    return card.clocks[step.answer.clock].lasts_ms / 1000 if isinstance(step.answer, (WaitOf, RunOf)) else 0.0
