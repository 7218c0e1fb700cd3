"""Where the job stood still: the program stopped, a pause, an emergency; and what was shown before it went on."""
from __future__ import annotations

from typing import Optional

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.record.rows import Moment, Row, Span, row, text


def emergencies(account: Account) -> list[Row]:
    """Emergencies, each with its end."""
    return _stretches(account, ev.EmergencyCalled, ev.EmergencyEnded)


def pauses(account: Account) -> list[Row]:
    """Pauses, each with its end."""
    return _stretches(account, ev.Paused, ev.Resumed)


def _stretches(account: Account, begins: type[ev.Event], ends: type[ev.Event]) -> list[Row]:
    """From one event to another; stopping the program ends it too."""
    rows: list[Row] = []
    running: Optional[Row] = None
    for entry, event in account.of(begins, ends, ev.JobResumed):
        if isinstance(event, begins) and running is None:
            running = row(entry, ended=None)
            rows.append(running)
        elif running is not None and not isinstance(event, begins):
            running["ended"], running = Moment(entry.at), None
    return rows


def gaps(account: Account) -> list[Row]:
    """Where the program stopped: `left` and how, `at` the job went on (None: not yet), and what was proved first."""
    rows: list[Row] = []
    before: Optional[Entry] = None
    left_by_word = proving = False
    for entry in account.entries:
        event = entry.event
        if isinstance(event, ev.JobLeft):
            left_by_word = True
            rows.append(_gap(entry, entry, 'by "stop job"') | {"at": None})
        elif isinstance(event, ev.JobResumed):
            how = rows.pop()["how"] if left_by_word else "the program stopped"
            rows.append(_gap(entry, before or entry, how) | {
                "away": Span(event.away_ms), "same_boot": event.same_boot, "torn_bytes": event.torn_bytes})
            left_by_word, proving = False, True
        elif isinstance(event, ev.StepBegun):
            proving = False
        elif proving and (said := _proof(event)):
            rows[-1]["proved"].append(said)
        before = entry
    return rows


def _gap(entry: Entry, left: Entry, how: str) -> Row:
    return row(entry, left=Moment(left.at), how=how, away=None, same_boot=None, torn_bytes=0, proved=[])


def _proof(event: ev.Event) -> str:
    """What was asked on resuming, in words; "" for any other event."""
    if isinstance(event, ev.SafeguardProved):
        return f"{event.safeguard}: still so"
    if isinstance(event, ev.SafeguardDoubted):
        return f"{event.safeguard}: in doubt, back to step {event.again}"
    if isinstance(event, ev.TimeAwayCounted):
        return f"{event.clock}: the time away counted"
    if isinstance(event, ev.TimeAwayDropped):
        return f"{event.clock}: the time away did not count, begun anew"
    if isinstance(event, ev.SameMechanicStated):
        return "the same mechanic"
    return f"taken over by {text(event.mechanic)}" if isinstance(event, ev.TakenOver) else ""
