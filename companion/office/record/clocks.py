"""The record's clocks: waits, runs with their questions, and timers of one's own."""
from __future__ import annotations

from typing import Any, Optional

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.record.course import stage_of
from companion.office.record.rows import Moment, Row, Span, heard, row

FULL = "its full length"
"""How a clock ended that nothing cut short."""


def clocks(account: Account) -> tuple[list[Row], list[Row]]:
    """Every clock that was started, and every question of the runs among them, in order.

    `lasts` is what the card asks for, `ran` what passed, with `away` where time away was counted; `how` says how it
    ended; `from_ms` and `to_ms` are on the scale of `Account.elapsed`. Questions name the line their run began at in
    `run`; they are numbered from 1, and 0 is an answer that came unasked.
    """
    fold = _Fold(account)
    for entry in account.entries:
        take = _TAKE.get(type(entry.event))
        if take is not None:
            take(fold, entry, entry.event)
    for left in fold.live.values():
        left["to_ms"] = account.elapsed[-1]
    return fold.rows, fold.questions


class _Fold:
    """Clocks by name, as far as the entries have come."""

    def __init__(self, account: Account) -> None:
        self.account = account
        self.rows: list[Row] = []
        self.questions: list[Row] = []
        self.live: dict[str, Row] = {}
        self.judged: Optional[Row] = None
        """A run whose time is over and whose step has yet to say what came of it."""

    def start(self, entry: Entry, event: ev.ClockStarted) -> None:
        self.close(entry, event.clock, "begun anew")
        clock = self.account.card.clocks.get(event.clock) if self.account.card else None
        made = row(entry, stage=stage_of(self.account, event.step), clock=event.clock, kind=event.kind,
                   say=clock.say if clock else event.clock, protects=clock.protects if clock else "",
                   lasts=Span(event.lasts_ms), ended=None, ran=None, away=None, how="had not ended", reason="",
                   from_ms=self.account.elapsed[entry.n], to_ms=0)
        self.live[event.clock] = made
        self.rows.append(made)

    def close(self, entry: Entry, name: str, how: str, **more: Any) -> Optional[Row]:
        made = self.live.pop(name, None)
        if made is not None:
            end = self.account.elapsed[entry.n]
            made.update(ended=Moment(entry.at), how=how, to_ms=end,
                        ran=Span(end - made["from_ms"] + (made["away"] or 0)), **more)
        return made

    def end(self, entry: Entry, event: ev.ClockEnded) -> None:
        made = self.close(entry, event.clock, FULL)
        if made is not None and made["kind"] == "run":
            self.judged = made

    def step_ended(self, entry: Entry, event: ev.StepEnded) -> None:
        """A run's outcome: "good", or the answer that ended it."""
        if self.judged is not None and self.judged["step"] == event.step:
            good = event.outcome == "good"
            self.judged["how"] = f"{FULL}, every answer good" if good else f"ended by an answer: {event.outcome}"
            self.judged = None

    def counted(self, entry: Entry, event: ev.TimeAwayCounted) -> None:
        if event.clock in self.live:
            self.live[event.clock]["away"] = Span((self.live[event.clock]["away"] or 0) + event.away_ms)

    def question(self, entry: Entry, event: Any) -> None:
        """A question asked, put (its last word has sounded) or answered."""
        run = self.live.get(event.clock)
        if run is None:
            return
        last = self.questions[-1] if self.questions else {}
        if (last.get("run"), last.get("number")) != (run["line"], event.number) or last["answered"]:
            last = row(entry, run=run["line"], say=run["say"], number=event.number, put=None, answered=None, answer="")
            self.questions.append(last)
        if isinstance(event, ev.QuestionPut):
            last["put"] = Moment(entry.at)
        elif isinstance(event, ev.RunAnswered):
            last.update(heard(entry), answered=Moment(entry.at), answer=event.answer)


_TAKE = {
    ev.ClockStarted: _Fold.start,
    ev.ClockEnded: _Fold.end,
    ev.StepEnded: _Fold.step_ended,
    ev.WaitCutShort: lambda fold, entry, event: fold.close(
        entry, event.clock, "cut short", left=Span(event.left_ms), reason=event.reason),
    ev.TimerCancelled: lambda fold, entry, event: fold.close(entry, event.clock, "cancelled"),
    ev.RunBroken: lambda fold, entry, event: fold.close(entry, event.clock, "broken", reason=event.why),
    ev.TimeAwayCounted: _Fold.counted,
    ev.QuestionAsked: _Fold.question,
    ev.QuestionPut: _Fold.question,
    ev.RunAnswered: _Fold.question,
}
