"""Leak looks and leak runs: every question answered, to the end, and what was seen."""
from __future__ import annotations

from typing import Iterator, Optional

from companion.core import events as ev
from companion.core.card import ChoiceOf, Clock, RunOf
from companion.core.log.journal import Entry
from companion.office.account import Account
from companion.office.findings.figures import lasted, listed, quoted
from companion.office.findings.finding import Finding

_LEAK = "leaking"
"""How a leak is answered on every card, so that no "no leak" can be misheard."""


def leak_run_broken(account: Account) -> Iterator[Finding]:
    """A run was broken off; by silence, that is a question without an answer."""
    for entry, event in account.of(ev.RunBroken):
        if event.why == "silence":
            yield Finding("leak-unanswered", (entry.n + 1,), f'A question of the leak run "{quoted(event.clock)}" was '
                          "not answered, and the run was broken off.")
        else:
            yield Finding("leak-run-short", (entry.n + 1,), f'The leak run "{quoted(event.clock)}" was broken off: '
                          f"{quoted(event.why)}.")


def leak_run_short(account: Account) -> Iterator[Finding]:
    """A run that counts as passed, but not all its questions were answered well, or its time was not served."""
    began: dict[str, Entry] = {}
    good: dict[str, set[int]] = {}
    for entry, event in account.of(ev.ClockStarted, ev.RunAnswered, ev.StepEnded):
        step = account.step(event.step)
        run = step.answer if step and isinstance(step.answer, RunOf) else None
        if isinstance(event, ev.ClockStarted):
            began[event.clock], good[event.clock] = entry, set()
        elif run is None:
            continue
        elif isinstance(event, ev.RunAnswered) and event.answer in run.good:
            good.setdefault(run.clock, set()).add(event.number)
        elif isinstance(event, ev.StepEnded) and event.outcome != "silence" and event.outcome not in run.bad:
            yield from _short(account, run, began.pop(run.clock, None), entry, good.get(run.clock, set()))


def _short(account: Account, run: RunOf, began: Optional[Entry], entry: Entry, good: set[int]) -> Iterator[Finding]:
    clock: Optional[Clock] = account.card.clocks.get(run.clock) if account.card else None
    if clock is None or run.every_ms <= 0:
        return
    asked = -(-clock.lasts_ms // run.every_ms)
    missing = asked - len(good & set(range(1, asked + 1)))
    passed = account.elapsed[entry.n] - account.elapsed[began.n] if began else 0
    faults = [f"had no good answer to {missing} of its {asked} questions"] if missing else []
    faults += [f"lasted {lasted(passed)} of {lasted(clock.lasts_ms)}"] if passed < clock.lasts_ms else []
    if faults:
        lines = (began.n + 1, entry.n + 1) if began else (entry.n + 1,)
        yield Finding("leak-run-short", lines, f'The leak run "{quoted(run.clock)}" was passed, but {listed(faults)}.')


def leak_found(account: Account) -> Iterator[Finding]:
    """A leak was seen, in a run or in a look at the joints."""
    for entry, event in account.of(ev.RunAnswered, ev.AnswerGiven):
        step = account.step(event.step)
        answer = step.answer if step else None
        if isinstance(event, ev.RunAnswered):
            leak = event.answer in answer.bad if isinstance(answer, RunOf) else event.answer.startswith(_LEAK)
        else:
            looked = isinstance(answer, ChoiceOf) and step.must == "leak-check"
            leak = looked and ev.plain(event.answer).startswith(_LEAK)
        if leak:
            said = f"the answer was: {quoted(event.answer)}" if isinstance(event.answer, str) else "a leak was seen"
            yield Finding("leak-found", (entry.n + 1,), f'At the step "{quoted(event.step)}" {said}.')
