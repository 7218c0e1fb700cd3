"""Looking after a lone mechanic: agreeing on it, checking, the alarm, calling help, and signing off.

A check is asked `within` before the agreed time runs out. Without an answer the alarm sounds at three levels, each
louder, and then help is called; the alarm goes on until it is ended in two parts. The steps of the alarm are common
practice, no source: HSE INDG73 wants intervals and what follows agreed beforehand, and gives no minutes.
"""
from __future__ import annotations

from dataclasses import replace
from typing import Optional

from companion.core import events as ev
from companion.core.commands import span_ms
from companion.core.grammar import Reading
from companion.core.job.alone.times import CALL_NEAR_MS, LEAST_MS, MOST_MS, WITHIN_MS
from companion.core.job.draft import Draft
from companion.core.job.flow import end_step, present
from companion.core.job.inputs import AlarmHeard, LoneTerms, MessageDone
from companion.core.job.alone.state import TOP, Lone
from companion.core.job.state import Job
from companion.core.card import RunOf, WaitOf
from companion.core.log.rfc3339 import stamp

# -- agreeing ----------------------------------------------------------------------------------------------------------

def agree(draft: Draft, terms: LoneTerms, by: str = "operator") -> None:
    """What the operator or the mechanic gives comes before the card's, but never asks less of the card."""
    card = draft.job.card.alone
    every = min(filter(None, (terms.every_ms, card.every_ms if card else 0)), default=0)
    if not every or card and every == card.every_ms and by == "operator":
        by = "card" if every else "nobody"
    draft.add(ev.LoneWorkAgreed, every_ms=every, at_risk_ms=min(card.at_risk_ms if card else every, every), by=by,
              within_ms=min(card.within_ms if card else WITHIN_MS, every // 2), contacts=terms.contacts,
              place=ev.Personal(terms.place) if terms.place else None,
              call_by=stamp(terms.call_by_ms) if terms.call_by_ms else "", call_by_said=terms.call_by_said)


def agree_again(draft: Draft, terms: LoneTerms) -> None:
    """On coming back: what was agreed stands, but for what is given anew, who can be called now, and a time to call that
    has passed."""
    lone = draft.job.lone
    if lone is None:
        return agree(draft, terms)
    before = _terms(lone)
    call_by = terms if terms.call_by_ms else before if before.call_by_ms > draft.now.at_ms else LoneTerms()
    now = LoneTerms(terms.every_ms or lone.every_ms, terms.contacts, terms.place or lone.place, call_by.call_by_ms,
                    call_by.call_by_said)
    if now != before:
        agree(draft, now)


def _terms(lone: Lone) -> LoneTerms:
    """What is agreed now."""
    return LoneTerms(lone.every_ms, lone.contacts, lone.place, lone.call_by_ms, lone.call_by_said)


def check_every(draft: Draft, reading: Reading) -> None:
    """"check on me every ten minutes": as often as the card says, or more often."""
    every, lone, card = span_ms(reading), draft.job.lone, draft.job.card.alone
    if lone is None or not LEAST_MS <= every <= MOST_MS:
        return draft.refuse("check_every", "Say a time from two minutes to four hours")
    if card and every > card.every_ms:
        return draft.refuse("check_every", "The card checks on you more often than that")
    draft.add(ev.ChecksAsked, every_ms=every)
    agree(draft, replace(_terms(lone), every_ms=every), "mechanic")


# -- checks and the alarm ----------------------------------------------------------------------------------------------

def okay(draft: Draft, reading: Reading) -> None:
    """"I am okay": ends a check; of an alarm it is the first part."""
    if draft.job.lone.level:
        draft.add(ev.AlarmAnswered)
    else:
        draft.add(ev.CheckAnswered, number=draft.job.lone.checks)


def may_say_okay(job: Job) -> bool:
    """Whether somebody is looked after who may say so unasked."""
    return _looked_after(job) and job.mode != "ended"


def alarm_over(draft: Draft, reading: Reading) -> None:
    """The second part: the alarm ends, and the job goes on where it stood."""
    draft.add(ev.AlarmEnded)
    take_up(draft)


def emergency(draft: Draft, reading: Reading) -> None:
    """At any moment, at once, without asking back."""
    draft.add(ev.EmergencyCalled)
    break_run(draft, "emergency")
    _call_help(draft, "emergency")


def tick(draft: Draft) -> None:
    """Add what has fallen due."""
    job, up = draft.job, draft.now.up_ms
    if _call_near_up(job) is not None and up >= _call_near_up(job):
        draft.add(ev.CallByNear)
    if not _looked_after(job):
        return
    lone = job.lone
    if lone.level and up >= lone.rings_up or lone.answer_by_up and up >= lone.answer_by_up:
        _ring(draft)
    elif not lone.level and not lone.answer_by_up and up >= lone.check_up:
        draft.add(ev.CheckedOn, number=lone.checks + 1, why="return time" if lone.on_the_road and lone.back_by_up else "silence")


def _ring(draft: Draft) -> None:
    lone = draft.job.lone
    if lone.times == TOP:
        _call_help(draft, "no answer")
    draft.add(ev.AlarmRaised, level=min(lone.level + 1, TOP), times=lone.times + 1)
    break_run(draft, "alarm")


def _call_help(draft: Draft, why: str) -> None:
    lone = draft.job.lone
    worse = why == "emergency" and lone is not None and lone.called == "no answer"
    if lone is not None and lone.contacts and (worse or not lone.called):
        draft.add(ev.HelpCalled, why=why, contacts=lone.contacts)


def due(job: Job) -> Optional[int]:
    """The up-clock moment of the next of these facts, or None."""
    moments = [_call_near_up(job)]
    if _looked_after(job):
        lone = job.lone
        moments.append(lone.rings_up if lone.level else lone.answer_by_up or lone.check_up)
    return min((moment for moment in moments if moment is not None), default=None)


def _looked_after(job: Job) -> bool:
    """In an emergency help was called already; while a note is recorded somebody speaks."""
    lone = job.lone
    return lone is not None and lone.every_ms > 0 and not (lone.signed_off or job.emergency or job.memo)


def _call_near_up(job: Job) -> Optional[int]:
    lone = job.lone
    if lone is None or not lone.call_by_ms or lone.call_by_told or lone.signed_off or job.memo:
        return None
    return job.last_up_ms + max(0, lone.call_by_ms - CALL_NEAR_MS - job.last_at_ms)


# -- what comes back ---------------------------------------------------------------------------------------------------

def message_done(draft: Draft, what: MessageDone) -> None:
    """A message was taken for sending, or could not be sent."""
    draft.add(ev.MessageSent, **vars(what))


def alarm_heard(draft: Draft, what: AlarmHeard) -> None:
    """The day's test of the alarm was sounded: did the mechanic hear it?"""
    draft.add(ev.AlarmSounded, **vars(what))
    draft.add(ev.Asked, about="alarm test", needs="affirm")


# -- after a break -----------------------------------------------------------------------------------------------------

def break_run(draft: Draft, why: str) -> None:
    """A leak watch that nobody watches does not pass."""
    job = draft.job
    if job.begun and isinstance(job.step.answer, RunOf) and job.step.answer.clock in job.clocks:
        draft.add(ev.RunBroken, clock=job.step.answer.clock, why=why)


def take_up(draft: Draft) -> None:
    """After a silence, an alarm or an emergency: a broken run goes where silence leads; a wait that ran out is over.

    A silence that was asked for still holds after an alarm: then it is for "resume" to go on."""
    job = draft.job
    if job.paused or job.proofs or not job.begun or job.cautions:
        return
    if isinstance(job.step.answer, RunOf) and job.step.answer.clock not in job.clocks:
        end_step(draft, "silence")
    elif isinstance(job.step.answer, WaitOf):
        present(draft)
