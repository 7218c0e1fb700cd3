"""The way that a job takes when all goes well: at each step the answer that is nearest to the card's proper end."""
from __future__ import annotations

from collections import deque
from functools import lru_cache
from typing import Mapping

from companion.core.card import END, Card, CylinderOf, Step, ToolOf, ValueOf, load_card
from companion.core.card.answers import outcomes

FAR = 10**6
"""Steps to an end that is no proper one."""


class Road:
    """The ways through one card. Its proper end is the end of the step that closes the job; without one, any end."""

    def __init__(self, card: Card) -> None:
        self.card = card
        self._far = self._distances()
        self.steps = self._walked()
        """The steps of the nearest way, in order."""

    def how_far(self, step: Step, outcome: str) -> int:
        """Steps to the proper end after that outcome; FAR where it leads to another end, or to none."""
        target = self.leads_to(step, outcome)
        if step.closes == END:
            return 0 if target == END and outcome != "negative" else FAR
        return self._far.get(target, FAR)

    def nearest(self, step: Step, among: tuple[str, ...] = ()) -> tuple[str, ...]:
        """The outcomes of a step, or those `among` them, that are nearest to the proper end; several where it is all
        the same."""
        found = {outcome: self.how_far(step, outcome) for outcome in among or ways(step)}
        least = min(found.values())
        return tuple(outcome for outcome, far in found.items() if far == least)

    def leads_to(self, step: Step, outcome: str) -> str:
        """The step that an outcome leads to, or "end"."""
        return step.then.get(outcome) or self.card.following(step.id)

    def read_on(self, kind: str) -> tuple[Step, ...]:
        """The steps of the nearest way whose value is read on a tool of that kind."""
        tools = {step.answer.name for step in self.steps if isinstance(step.answer, ToolOf) and step.answer.kind == kind}
        return tuple(step for step in self.steps if isinstance(step.answer, ValueOf) and step.answer.tool in tools)

    def compared(self) -> frozenset[str]:
        """The names of the readings that are to point to a cylinder."""
        naming = (step.answer for step in self.card.steps if isinstance(step.answer, CylinderOf))
        return frozenset(spread.name for answer in naming for spread in answer.readings)

    def _distances(self) -> Mapping[str, int]:
        closing = [step.id for step in self.card.steps if step.closes == END] or [END]
        before: dict[str, list[str]] = {}
        for step in self.card.steps:
            for outcome in ways(step):
                before.setdefault(self.leads_to(step, outcome), []).append(step.id)
        far, waiting = {step: 0 for step in closing}, deque(closing)
        while waiting:
            here = waiting.popleft()
            for step in before.get(here, ()):
                if step not in far:
                    far[step] = far[here] + 1
                    waiting.append(step)
        return far

    def _walked(self) -> tuple[Step, ...]:
        steps: list[Step] = []
        here = self.card.steps[0].id
        while here != END and len(steps) < len(self.card.steps):
            steps.append(self.card.step(here))
            here = self.leads_to(steps[-1], self.nearest(steps[-1])[0])
        return tuple(steps)


@lru_cache(maxsize=32)
def road_of(card_text: str) -> Road:
    """The ways through the card written in `card_text`, worked out once."""
    return Road(load_card(card_text, "a made job's card", checked=False))


def ways(step: Step) -> tuple[str, ...]:
    """The outcomes that a step may have."""
    return outcomes(step.answer, step.must) or ("done",)
