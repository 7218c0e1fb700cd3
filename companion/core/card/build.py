"""From the written form to the values a job uses: groups repeated, limits folded, targets resolved.

Every form can be built, even one whose names lead nowhere (`refs` says so); a `next` to nowhere counts as none.
"""
from __future__ import annotations

from typing import Iterator, Optional

from companion.core.card import form
from companion.core.card import values
from companion.core.card.build_answer import answer_of
from companion.core.card.sheet import Sheet
from companion.core.card.text import Path
from companion.core.numbers import say_number
from companion.trade.torque import cross_order

_ITEM = "{item}"
_HEAD = {"id", "title", "version", "practice", "applies_to", "defers", "emergency", "minutes", "reasons"}
_AS_WRITTEN = ("cautions", "hazardous", "may_leave_open", "cannot_undo", "personal", "on_the_road", "hold", "ends_safe",
               "starts", "shows_new", "risks", "ends_risks", "signs_off")


def build(sheet: Sheet, where: str = "", text: str = "") -> values.Card:
    """The card's values."""
    card = sheet.form
    return values.Card(
        **card.model_dump(include=_HEAD), where=where, text=text, steps=tuple(_Steps(sheet).all()),
        lists={name: entries_of(card, name) for name in card.lists},
        stage_minutes={stage.stage: stage.minutes for stage in card.stages if stage.minutes is not None},
        alone=_alone(card.alone), cylinders=values.Cylinders(**card.cylinders.model_dump()) if card.cylinders else None,
        tools=_items(card.tools), parts=_items(card.parts),
        cautions={name: values.Caution(**caution.model_dump()) for name, caution in card.cautions.items()},
        clocks={name: _clock(clock, card) for name, clock in card.clocks.items()})


def _items(written: tuple[form.ItemForm, ...]) -> tuple[values.Item, ...]:
    return tuple(values.Item(**item.model_dump()) for item in written)


def _alone(written: Optional[form.AloneForm]) -> Optional[values.Alone]:
    return values.Alone(written.every, written.at_risk, written.within, written.back_by or "") if written else None


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
    return tuple((entry, entry) for entry in entries_of(card, group))


def entries_of(card: form.CardForm, name: str) -> tuple[str, ...]:
    """The entries of a list in the order of work; bolts go in cross order. () for an unknown list."""
    entries = card.lists.get(name, ())
    if isinstance(entries, form.BoltsForm):
        return tuple(f"{entries.called} {say_number(str(bolt))}" for bolt in cross_order(entries.bolts))
    return entries


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

        safe, opens = step.makes_safe, step.opens
        return values.Step(
            id=self._id(f"{step.id}.{number}" if number else step.id), base_id=step.id, item=item, stage=stage,
            say=fill(step.say), brief=fill(step.brief), detail=fill(step.detail), line=self.tree.line(path),
            answer=answer_of(step, self.card.reasons, fill, target), then={key: target(to) for key, to in step.then.items()},
            next=target(step.next) if step.next in self.ids else "", after_that=target(step.after_that),
            at_most=step.at_most or 0,
            makes_safe=values.MakesSafe(safe.name, fill(safe.still), target(safe.again)) if safe else None,
            must=step.must or "", closes=step.closes or "",
            opens=values.Opens(opens.wait, opens.pressure, target(opens.again)) if opens else None,
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
