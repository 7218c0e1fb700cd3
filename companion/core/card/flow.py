"""The ways through a card: every step can be reached, every loop ends, every open step is closed, every name is known.

A loop may only go round a bounded number of times. Once all its bounded steps (`at_most`) are used up, such a step only
leads on to its `after_that`; so a card is endless exactly if there is a loop in the graph in which bounded steps have
no other way out.
"""
from __future__ import annotations

from graphlib import CycleError, TopologicalSorter
from heapq import heappop, heappush
from typing import Iterator

from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.core.card.answers import RunOf, outcomes
from companion.core.card.values import END, Card, Step

Ways = dict[str, tuple[str, ...]]
_MOST_LOOPS = 10


def flow_faults(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """Faults of the whole; targets that lead nowhere are passed over (`refs` finds them)."""
    known = {step.id for step in card.steps}
    ways = {step.id: tuple(to for to in ways_on(card, step) if to in known) for step in card.steps}
    doubts = {step.id: (*ways[step.id], *(safe.again for safe in (step.makes_safe, step.opens) if safe))
              for step in card.steps}
    reached = _reached(card.steps[0].id, doubts)
    yield from _unreachable(sheet, card, reached)
    yield from _endless(sheet, card, {name: to for name, to in ways.items() if name in reached})
    yield from _never_closed(sheet, card)
    yield from _taken_for_a_pass(sheet, card)


def ways_on(card: Card, step: Step) -> tuple[str, ...]:
    """Where the job may go from a step: its branches, and the step that follows unless every answer has a branch."""
    silence = (step.answer.silence,) if isinstance(step.answer, RunOf) else ()
    bound = (step.after_that,) if step.at_most and step.after_that else ()
    answers = outcomes(step.answer, step.must)
    follows = () if answers and all(answer in step.then for answer in answers) else (card.following(step.id),)
    return (*follows, *step.then.values(), *silence, *bound)


def _reached(start: str, ways: Ways) -> set[str]:
    reached, ahead = {start}, [start]
    while ahead:
        new = [to for to in ways.get(ahead.pop(), ()) if to not in reached]
        reached.update(new)
        ahead += new
    return reached


def _unreachable(sheet: Sheet, card: Card, reached: set[str]) -> Iterator[Fault]:
    """The first step of each stretch that no way leads to; what only follows it is not named again."""
    before = True
    for step in card.steps:
        if step.id not in reached and before:
            of_item = f" for {step.item}" if step.item else ""
            yield sheet.step_fault(step, f'every step must be reachable, but no way leads to "{step.base_id}"{of_item}')
        before = step.id in reached


def _endless(sheet: Sheet, card: Card, ways: Ways) -> Iterator[Fault]:
    bounded = {step.id: step.after_that for step in card.steps if step.at_most and step.after_that}
    worn = {name: (bounded[name],) if name in bounded else to for name, to in ways.items()}
    for _ in range(_MOST_LOOPS):
        loop = _a_loop(worn)
        if not loop:
            return
        yield _loop_fault(sheet, card, loop, [name for name in loop if name in bounded])
        worn = {name: to for name, to in worn.items() if name not in loop}


def _a_loop(ways: Ways) -> list[str]:
    """The steps of one loop in the order of the job, the earliest on the card first; [] if there is none."""
    try:
        TopologicalSorter({name: set(to) & set(ways) for name, to in ways.items()}).prepare()
        return []
    except CycleError as error:
        loop = error.args[1][:0:-1]
    order = {name: place for place, name in enumerate(ways)}
    first = loop.index(min(loop, key=order.__getitem__))
    return loop[first:] + loop[:first]


def _loop_fault(sheet: Sheet, card: Card, loop: list[str], bounded: list[str]) -> Fault:
    shown = loop if len(loop) <= 6 else loop[:3] + ["…"] + loop[-2:]
    way = " → ".join(card.step(name).base_id if name != "…" else name for name in (*shown, loop[0]))
    if bounded:
        text = f"after_that must lead out of its loop, but {way} goes round for ever"
        return sheet.step_fault(card.step(bounded[0]), text, "after_that")
    return sheet.step_fault(card.step(loop[0]), f"a loop must hold a step with at_most, but {way} has none")


def _never_closed(sheet: Sheet, card: Card) -> Iterator[Fault]:
    last_gate = max((place for place, step in enumerate(card.steps) if step.closes), default=-1)
    for place, step in enumerate(card.steps):
        if step.may_leave_open and place >= last_gate:
            text = "a step that may be left open must have a later step with closes, but none follows"
            yield sheet.step_fault(step, text, "may_leave_open")


def _taken_for_a_pass(sheet: Sheet, card: Card) -> Iterator[Fault]:
    """Silence and bad answers to a run lead elsewhere than good ones, and not out of a job whose engine runs."""
    for step in card.steps:
        run = step.answer
        if not isinstance(run, RunOf):
            continue
        good = {step.then.get(answer) or card.following(step.id) for answer in run.good} | {END}
        rule = "must never lead where a good answer does, nor to the end"
        if run.silence in good:
            yield sheet.step_fault(step, f"silence {rule}", "run", "silence")
        for answer in run.bad:
            if step.then.get(answer) in good:
                yield sheet.step_fault(step, f'"{answer}" {rule}', "then", answer)


def answered_before(card: Card, names: dict[str, str]) -> dict[str, set[str]]:
    """For each reachable step: the names answered on every way to it. `names`: step id to the name its answer has."""
    bits = {name: 1 << place for place, name in enumerate(dict.fromkeys(names.values()))}
    order = {step.id: place for place, step in enumerate(card.steps)}
    had, ahead = {0: 0}, [0]
    while ahead:
        place = heappop(ahead)
        step = card.steps[place]
        gained = had[place] | bits.get(names.get(step.id, ""), 0)
        for to in {order[to] for to in ways_on(card, step) if to in order}:
            after = gained & had.get(to, gained)
            if after != had.get(to):
                had[to] = after
                heappush(ahead, to)
    return {card.steps[place].id: {name for name, bit in bits.items() if mask & bit} for place, mask in had.items()}
