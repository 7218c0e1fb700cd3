"""Where the job's time went, stage by stage, against the card's estimate; folded from the entries alone."""
from __future__ import annotations

from typing import Iterator

from companion.core import events as ev
from companion.core.card import WaitOf
from companion.office.record import rows
from companion.office.account import Account
from companion.office.record.course import stage_of
from companion.trade import times as trade

BEFORE = "before the first step"
_MINUTE = 60_000


def times(account: Account) -> list[rows.Row]:
    """One row a stage, in the order they were reached, then those that were not; the whole job last, as stage "".

    Milliseconds. `estimate` and `difference` (worked less estimate) are None where the card gives no minutes.
    """
    if not account.entries:
        return []
    spent = trade.by_stage(spans(account))
    kinds = {one.stage: one for one in spent}
    card = account.card
    found = trade.against(spent, card.stage_minutes if card else {}, card.minutes if card else None)
    made = [_row(one, kinds.get(one.stage)) for one in found[:-1]]
    names = ("hands_on", "waits", "road_test", "away")
    whole = {name: rows.Span(sum(one[name] for one in made)) for name in names}
    return made + [{**_row(found[-1], None), **whole}]


def _row(against: trade.Row, kinds: trade.StageTime | None) -> rows.Row:
    spent = kinds or trade.StageTime(against.stage)
    estimate = None if against.estimate is None else rows.Span(against.estimate * _MINUTE)
    return {"stage": against.stage, "hands_on": rows.Span(spent.hands_on_ms), "waits": rows.Span(spent.wait_ms),
            "road_test": rows.Span(spent.road_ms), "away": rows.Span(spent.away_ms),
            "worked": rows.Span(against.worked_ms), "estimate": estimate, "difference": against.difference_ms}


def spans(account: Account) -> Iterator[trade.Span]:
    """The time of each step that was open, of its stage and kind, and the time away; in the order it went by."""
    step, spent, before = "", 0, account.entries[0].up
    for entry in account.entries[1:]:
        event = entry.event
        if isinstance(event, ev.JobResumed):
            yield trade.Span(_stage(account, step), trade.AWAY, max(0, event.away_ms))
        else:
            spent += max(0, entry.up - before)
        before = entry.up
        if isinstance(event, ev.StepBegun):
            if step or spent:
                yield trade.Span(_stage(account, step), _kind(account, step), spent)
            step, spent = event.step, 0
    if step or spent:
        yield trade.Span(_stage(account, step), _kind(account, step), spent)


def _stage(account: Account, step_id: str) -> str:
    return stage_of(account, step_id) or BEFORE


def _kind(account: Account, step_id: str) -> str:
    """Of the time while the step `step_id` was open."""
    step = account.step(step_id)
    if step and isinstance(step.answer, WaitOf):
        return trade.WAIT
    return trade.ROAD_TEST if step and step.on_the_road else trade.HANDS_ON
