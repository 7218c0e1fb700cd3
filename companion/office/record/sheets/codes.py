"""Fault codes before the work against what became of them, one row a code."""
from __future__ import annotations

from companion.core.card import CodesOf
from companion.office.record.paper.blocks import Block, Grid, Says
from companion.office.record.rows import Row
from companion.office.record.sheets.told import NOT, Told
from companion.office.record.worked import meaning

_OUTCOMES = (("came_back", "came back"), ("still_there", "still there"),
             ("ours_left", "from our own test, still there"), ("new", "new since then"), ("gone", "gone"))
"""Worst first."""


def codes(told: Told) -> Block:
    """The table, or the sentence that stands instead of it."""
    before = dict(told.codes_before())
    last = _last(told)
    outcomes = {code: said for key, said in reversed(_OUTCOMES) for one in last for code in one[key]}
    every = dict.fromkeys([*before, *(code for code, said in outcomes.items() if said != "gone" or code in before)])
    rows = tuple((code, meaning(code), "yes" if code in before else "no", outcomes.get(code, "not read again"))
                 for code in every)
    if rows:
        return Grid("codes", "Fault codes before and after", ("Code", "Meaning", "Before the work", "After it"), rows,
                    frozenset(place for place, row in enumerate(rows) if row[3] != "gone"))
    return Says("No fault codes were held before the work." if told.read_before else f"Fault codes: {NOT}.")


def _last(told: Told) -> list[Row]:
    """The last comparison of each list; those read right after clearing count only where nothing was read later."""
    cleared = {step.answer.cleared for step in told.steps if isinstance(step.answer, CodesOf)}
    last = {one["name"]: one for one in told.data["codes_compared"]}
    return [one for name, one in last.items() if name not in cleared] or list(last.values())
