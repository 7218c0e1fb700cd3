"""Whoever worked alone: whether checks were agreed on, alarms that rang for silence, help that was called, signing off."""
from __future__ import annotations

from itertools import takewhile
from typing import Iterator, Optional

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import lasted, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.log import damaged
from companion.office.findings.steps import ended, properly_ended

_FORMAT = 2
"""Companions that wrote an earlier format of log did not look after anybody."""
_ALARM = (ev.AlarmRaised, ev.AlarmEnded, ev.EmergencyCalled, ev.SignedOff, ev.JobResumed)
_HOW = {ev.AlarmEnded: "it was ended by its two phrases", ev.EmergencyCalled: "an emergency was called",
        ev.SignedOff: "the mechanic signed off", ev.JobResumed: "the job was taken up again"}


def alone_unagreed(account: Account) -> Iterator[Finding]:
    """The card says how often to check on whoever works alone, and less was agreed, or nothing."""
    asked = account.card.alone if account.card else None
    if asked is None:
        return
    agreed = list(account.of(ev.LoneWorkAgreed))
    for entry, event in agreed:
        if not 0 < event.every_ms <= asked.every_ms or event.at_risk_ms > asked.at_risk_ms:
            what = f"only every {lasted(event.every_ms)}" if event.every_ms else "not at all"
            yield Finding("alone-unagreed", (entry.n + 1,), f"The mechanic was to be checked on {what}, and the card says every "
                          f"{lasted(asked.every_ms)}, or {lasted(asked.at_risk_ms)} at risk.")
    if not agreed and account.found.get("format", 1) >= _FORMAT and not damaged(account):
        yield Finding("alone-unagreed", (1,), f"The card says to check on the mechanic every {lasted(asked.every_ms)}, and "
                      "nothing was agreed.")


def alarm_raised(account: Account) -> Iterator[Finding]:
    """A check was not answered and the alarm rang: how often, how loud, and how it ended. Once for each time it began."""
    every, place = list(account.of(*_ALARM)), 0
    while place < len(every):
        rung = list(takewhile(lambda one: isinstance(one[1], ev.AlarmRaised), every[place:]))
        place += len(rung) + 1
        if rung:
            yield _rang(account, rung, every[place - 1][0] if place <= len(every) else None)


def _rang(account: Account, rung: list[tuple[Entry, ev.AlarmRaised]], over: Optional[Entry]) -> Finding:
    (first, event), last = rung[0], rung[-1][0]
    until = over or account.entries[-1]
    took = lasted(account.elapsed[until.n] - account.elapsed[first.n])
    how = f"After {took} {_HOW[type(over.event)]}" if over else f"Nobody ended it: the log ends {took} later"
    times = f"{len(rung)} time{'' if len(rung) == 1 else 's'}, up to level {max(one.level for _, one in rung)}"
    lines = sorted({first.n + 1, last.n + 1, *([over.n + 1] if over else [])})
    return Finding("alarm-raised", tuple(lines), f'At the step "{quoted(event.step)}" nobody answered, and the alarm rang '
                   f"{times}. {how}.")


def help_called(account: Account) -> Iterator[Finding]:
    """A message went to the contacts, and what became of it."""
    sent = [(entry, event) for entry, event in account.of(ev.MessageSent) if event.kind == "help"]
    for entry, event in account.of(ev.HelpCalled):
        after = next(((one, said) for one, said in sent if one.n > entry.n), None)
        became = "what became of it is not in the log" if after is None else "it was sent" if after[1].sent else \
            f"it could not be sent: {quoted(after[1].why)}"
        lines = (entry.n + 1, after[0].n + 1) if after else (entry.n + 1,)
        whom = "1 contact" if event.contacts == 1 else f"{event.contacts} contacts"
        yield Finding("help-called", lines, sentence(
            f'Help was called at the step "{quoted(event.step)}" ({quoted(event.why)}), a message to {whom}: {became}'))


def alarm_unheard(account: Account) -> Iterator[Finding]:
    """The day's test of the alarm: the mechanic did not hear it."""
    for entry, event in account.of(ev.AlarmTestAnswered):
        if not event.heard_it:
            yield Finding("alarm-unheard", (entry.n + 1,), "The mechanic did not hear the day's test of the alarm.")


def not_signed_off(account: Account) -> Iterator[Finding]:
    """The job came to its proper end, and whoever was looked after did not sign off."""
    end = ended(account)
    if end is None or damaged(account) or not account.once(properly_ended) or next(account.of(ev.SignedOff), None):
        return
    if any(event.every_ms for _, event in account.of(ev.LoneWorkAgreed)):
        yield Finding("not-signed-off", (end.n + 1,), "The job came to its end, and the mechanic, who was looked after, did "
                      "not sign off.")


def log_held_back(account: Account) -> Iterator[Finding]:
    """Entries waited in memory, since the disk did not take them: for so long a crash would have lost them."""
    for entry, event in account.of(ev.LogCaughtUp):
        held = next((one for one, _ in account.of(ev.LogHeldBack) if one.at == event.since), None)
        how_long = lasted(account.elapsed[entry.n] - account.elapsed[held.n]) if held else "an unknown time"
        lines = (held.n + 1, entry.n + 1) if held else (entry.n + 1,)
        yield Finding("log-held-back", lines, sentence(
            f"{event.entries} entries waited in memory for {how_long} ({quoted(event.why)}): a crash would have lost them"))


def log_not_caught_up(account: Account) -> Iterator[Finding]:
    """The program stopped while entries waited in memory: some of them may never have been written."""
    waiting = None
    for entry, event in account.of(ev.LogHeldBack, ev.LogCaughtUp, ev.JobResumed):
        if isinstance(event, ev.LogHeldBack):
            waiting = waiting or (entry, event)
            continue
        if waiting and isinstance(event, ev.JobResumed):
            yield _not_caught_up(*waiting)
        waiting = None
    if waiting:
        yield _not_caught_up(*waiting)


def _not_caught_up(entry: Entry, event: ev.LogHeldBack) -> Finding:
    return Finding("log-not-caught-up", (entry.n + 1,), sentence(
        f"Entries waited in memory ({quoted(event.why)}), and the program stopped before the log had caught up: some may be "
        "missing"))
