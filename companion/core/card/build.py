"""From the written form to the values a job uses: groups repeated, limits folded, targets resolved.

Every form can be built, even one whose names lead nowhere (`refs` says so); a `next` to nowhere counts as none.
"""
from __future__ import annotations

from typing import Any, Iterator, Optional

from companion.core.card import form as form
from companion.core.card import values as values
from companion.core.card.sheet import Sheet
from companion.core.card.text import Path
from companion.core.numbers import say_number

_ITEM = "{item}"
_HEAD = {"id", "title", "version", "practice", "applies_to", "defers", "emergency", "minutes", "lists", "reasons"}
_AS_WRITTEN = ("cautions", "hazardous", "may_leave_open", "cannot_undo", "personal", "on_the_road", "ends_safe", "starts")


def build(sheet: Sheet, where: str = "", text: str = "") -> values.Card:
    """The card's values."""
    card = sheet.form
    return values.Card(
        **card.model_dump(include=_HEAD), where=where, text=text, steps=tuple(_Steps(sheet).all()),
        cylinders=values.Cylinders(**card.cylinders.model_dump()) if card.cylinders else None,
        tools=_items(card.tools), parts=_items(card.parts),
        cautions={name: values.Caution(**caution.model_dump()) for name, caution in card.cautions.items()},
        clocks={name: _clock(clock, card) for name, clock in card.clocks.items()})


def _items(written: tuple[form.ItemForm, ...]) -> tuple[values.Item, ...]:
    return tuple(values.Item(**item.model_dump()) for item in written)


def _clock(clock: form.ClockForm, card: form.CardForm) -> values.Clock:
    """A wait for a person has no reasons, because it never ends early."""
    reasons = clock.reasons if clock.reasons is not None else card.reasons
    return values.Clock(clock.kind, clock.lasts, clock.say, clock.protects or "", clock.kept or "",
                        marks_ms(clock), reasons if clock.protects == "work" else ())


def marks_ms(clock: form.ClockForm) -> tuple[int, ...]:
    """Milliseconds left at each mark, falling; marks that do not lie within the clock are passed over."""
    left = {clock.lasts // 2 if mark == "half" else int(mark) for mark in clock.marks}
    return tuple(sorted((mark for mark in left if 0 < mark < clock.lasts), reverse=True))


def items_of(card: form.CardForm, group: str) -> tuple[tuple[str, str], ...]:
    """What a group is repeated for: each item as it is shown and as it is said. () for an unknown list."""
    if group == "cylinders":
        count = card.cylinders.count if card.cylinders else 0
        return tuple((f"cylinder {n}", f"cylinder {say_number(str(n))}") for n in range(1, count + 1))
    return tuple((entry, entry) for entry in card.lists.get(group, ()))


class _Steps:
    """The steps in order, with groups repeated."""

    def __init__(self, sheet: Sheet) -> None:
        self.card, self.tree = sheet.form, sheet.tree
        self.ids = {place.step.id for place in sheet.steps()} | {values.END}
        self.used: set[str] = set()
        self.group_of: dict[str, Path] = {}
        for place in sheet.steps():
            if place.group:
                self.group_of.setdefault(place.step.id, place.path[:-1])

    def all(self) -> Iterator[values.Step]:
        for s, stage in enumerate(self.card.stages):
            for e, entry in enumerate(stage.steps):
                path: Path = ("stages", s, "steps", e)
                if isinstance(entry, form.StepForm):
                    yield self._step(entry, stage.stage, path)
                else:
                    yield from self._group(entry, stage.stage, (*path, "steps"))

    def _group(self, group: form.GroupForm, stage: str, path: Path) -> Iterator[values.Step]:
        items = items_of(self.card, group.for_each) or ((group.for_each, group.for_each),)
        for number, (item, said) in enumerate(items, start=1):
            for place, step in enumerate(group.steps):
                yield self._step(step, stage, (*path, place), number, item, said)

    def _step(self, step: form.StepForm, stage: str, path: Path, number: int = 0, item: str = "",
              said: str = _ITEM) -> values.Step:
        """One step, `number` of its group (0 outside a group)."""
        def fill(text: Optional[str]) -> str:
            return (text or "").replace(_ITEM, said)

        def target(to: Optional[str]) -> str:
            return self._target(to or "", path[:-1], number)

        safe = step.makes_safe
        return values.Step(
            id=self._id(f"{step.id}.{number}" if number else step.id), base_id=step.id, item=item, stage=stage,
            say=fill(step.say), brief=fill(step.brief), detail=fill(step.detail), line=self.tree.line(path),
            answer=_answer(step, self.card, fill, target), then={key: target(to) for key, to in step.then.items()},
            next=target(step.next) if step.next in self.ids else "", after_that=target(step.after_that),
            at_most=step.at_most or 0,
            makes_safe=values.MakesSafe(safe.name, fill(safe.still), target(safe.again)) if safe else None,
            must=step.must or "", closes=step.closes or "",
            **{key: getattr(step, key) for key in _AS_WRITTEN})

    def _id(self, name: str) -> str:
        """The id itself; one that stands twice on a faulty card gets a mark, so that the ways through it stay clear."""
        while name in self.used:
            name += "+"
        self.used.add(name)
        return name

    def _target(self, to: str, around: Path, number: int) -> str:
        """Within a group a target means the same item; from elsewhere it means the first."""
        group = self.group_of.get(to)
        if group is None:
            return to
        return f"{to}.{number if number and group == around else 1}"


def _answer(step: form.StepForm, card: form.CardForm, fill: Any, target: Any) -> values.Answer:
    """The answer, the wait or the run of a step."""
    if step.run:
        run = step.run
        return values.RunOf(run.clock, fill(run.ask), run.every, run.within, run.good, run.bad, target(run.silence))
    if step.wait:
        return values.WaitOf(step.wait)
    answer = step.answer
    if isinstance(answer, form.ChoiceForm):
        return values.ChoiceOf(answer.choice, fill(answer.name or step.id.replace("-", " ")))
    if isinstance(answer, form.ValueForm):
        return _value(answer, card, fill(answer.value))
    if isinstance(answer, form.CountForm):
        return values.CountOf(fill(answer.count), answer.must_be)
    if isinstance(answer, form.CodesForm):
        return values.CodesOf(fill(answer.codes))
    if isinstance(answer, form.SpellingForm):
        return values.SpellingOf(fill(answer.spelling), answer.least, answer.most)
    return {"affirm": values.Affirm(), "nothing": values.Nothing()}.get(answer or "", values.Done())


def _value(answer: form.ValueForm, card: form.CardForm, name: str) -> values.ValueOf:
    low, high = answer.low, answer.high
    if answer.nominal is not None and answer.tolerance is not None:
        low, high = answer.nominal - answer.tolerance, answer.nominal + answer.tolerance
    return values.ValueOf(name, answer.unit, low, high, answer.nominal, answer.tolerance, decimals_of(answer),
                          answer.reasons if answer.reasons is not None else card.reasons)


def decimals_of(answer: form.ValueForm) -> int:
    """The decimals given, or as many as the limits are written with."""
    return answer.decimals if answer.decimals is not None else most_decimals(answer)


def most_decimals(answer: form.ValueForm) -> int:
    """The most decimals that a limit is written with: 7.50 has two."""
    limits = (answer.low, answer.high, answer.nominal, answer.tolerance)
    return max((-int(limit.as_tuple().exponent) for limit in limits if limit is not None), default=0)
