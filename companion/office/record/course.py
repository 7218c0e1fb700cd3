"""The course of the job: its steps, its stages, what was left open or out, and every entry."""
from __future__ import annotations

import re
from itertools import groupby
from typing import Any

from companion.core import events as ev
from companion.core.log.codec import name_of
from companion.office.account import Account
from companion.office.record.rows import Moment, Row, Span, row, text


def steps(account: Account) -> list[Row]:
    """Every step as it was reached, with its words and its outcome ("" where it did not end)."""
    rows: list[Row] = []
    known: dict[str, str] = {}
    live: dict[str, tuple[Row, int]] = {}
    for entry, event in account.of(ev.Event):
        known.update([named(event)])
        if isinstance(event, ev.StepBegun):
            live[event.step] = row(entry, how=event.how, **words(account, event.step, known), outcome="",
                                   ended=None, took=None), account.elapsed[entry.n]
            rows.append(live[event.step][0])
        elif isinstance(event, (ev.StepEnded, ev.StepLeftOpen, ev.StepLeftOut)) and event.step in live:
            outcome = {ev.StepLeftOpen: "left open", ev.StepLeftOut: "left out"}.get(type(event))
            made, began = live.pop(event.step)
            made.update(outcome=outcome or event.outcome, ended=Moment(entry.at),
                        took=Span(account.elapsed[entry.n] - began))
    return rows


def named(event: ev.Event) -> tuple[str, str]:
    """What was answered, under the card's name for it ("" for none)."""
    for field in ("answer", "text", "value", "count"):
        answer = getattr(event, field, None)
        if hasattr(event, "name") and answer is not None:
            return event.name, str(answer) if isinstance(answer, int) else text(answer)
    return "", ""


def words(account: Account, step_id: str, known: dict[str, str]) -> Row:
    """What the card says of a step, with earlier answers filled in."""
    step = account.step(step_id)
    if step is None:
        return {"stage": step_id, "item": "", "say": ""}
    filled = re.sub(r"\{([^{}]+)\}", lambda found: known.get(found.group(1), "(not given)"), step.say)
    return {"stage": step.stage, "item": step.item, "say": filled}


def stages(account: Account) -> list[Row]:
    """The stages in the order they were first reached, with their stretches [from_ms, to_ms] of `Account.elapsed`."""
    begun = [(entry, stage_of(account, event.step)) for entry, event in account.of(ev.StepBegun)]
    runs = [next(group)[0] for _, group in groupby(begun, key=lambda one: one[1])]
    found: dict[str, Row] = {}
    for place, entry in enumerate(runs):
        to = account.elapsed[runs[place + 1].n if place + 1 < len(runs) else -1]
        stage = stage_of(account, entry.event.step)
        made = found.setdefault(stage, {"stage": stage, "at": Moment(entry.at), "took": Span(0), "stretches": []})
        made["stretches"].append([account.elapsed[entry.n], to])
        made["took"] = Span(made["took"] + to - account.elapsed[entry.n])
    return list(found.values())


def stage_of(account: Account, step_id: str) -> str:
    """The stage of a step; the step itself where the card does not know it."""
    step = account.step(step_id)
    return step.stage if step else step_id


def left_open(account: Account) -> list[Row]:
    """Steps left open, each with when it was closed (None: never) and how."""
    rows: list[Row] = []
    waiting: dict[str, Row] = {}
    for entry, event in account.of(ev.StepLeftOpen, ev.StepEnded, ev.StepLeftOut):
        if isinstance(event, ev.StepLeftOpen):
            waiting[event.step] = row(entry, closed=None, outcome="")
            rows.append(waiting[event.step])
        elif event.step in waiting:
            outcome = event.outcome if isinstance(event, ev.StepEnded) else "left out"
            waiting.pop(event.step).update(closed=Moment(entry.at), outcome=outcome)
    return rows


def left_out(account: Account) -> list[Row]:
    """Steps left out for good, each with its reason."""
    return [row(entry, reason=event.reason) for entry, event in account.of(ev.StepLeftOut)]


def entries(account: Account) -> list[Row]:
    """Every entry: its event's name and fields. The texts of card and tool list are left to the log."""
    rows = []
    for entry in account.entries:
        fields = {name: _plain(value) for name, value in vars(entry.event).items()
                  if name not in ("step", "heard", "card_text", "tools_text") and value is not None}
        rows.append(row(entry, up=entry.up, elapsed=account.elapsed[entry.n], event=name_of(type(entry.event)),
                        fields=fields))
    return rows


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, (bool, int)):
        return value
    return text(value) if isinstance(value, (str, ev.Personal)) else format(value, "f")
