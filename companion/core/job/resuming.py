"""Coming back to an unfinished job: who goes on, is the place still safe, does the time away count."""
from __future__ import annotations

from companion.core import events as ev
from companion.core.job.alone import acts as alone
from companion.core.job import parts
from companion.core.job.draft import Draft
from companion.core.job.flow import begin, enter, finish, start_clock
from companion.core.grammar import Reading
from companion.core.job.inputs import CameBack
from companion.core.job.sound import lose_memo
from companion.core.job.state import Job


def came_back(draft: Draft, back: CameBack) -> None:
    """Log the gap, then ask for the proofs one by one."""
    job, now = draft.job, draft.now
    by_wall = max(0, now.at_ms - job.last_at_ms)
    away = max(0, now.up_ms - job.last_up_ms) if back.same_boot else by_wall
    set_by_ms = parts.set_by(job, now, back.same_boot)
    draft.add(ev.JobResumed, boot=back.boot, away_ms=away, same_boot=back.same_boot, torn_bytes=back.torn_bytes,
              ear=back.ear, clips=back.clips)
    if set_by_ms:
        draft.add(ev.TimeOfDaySet, by_ms=set_by_ms)
    if back.lone is not None:
        alone.agree_again(draft, back.lone)
    if draft.job.memo:
        lose_memo(draft, "the program stopped")
    if back.mechanic and back.mechanic == job.mechanic:
        draft.add(ev.SameMechanicStated)
    elif back.mechanic:
        draft.add(ev.TakenOver, mechanic=ev.Personal(back.mechanic))
    _after_proof(draft)


def by_which_clock(event: ev.JobResumed, job: Job) -> str:
    """After another start of the machine only the time of day tells how long that was, and it may have been set."""
    if event.same_boot:
        return ""
    if not event.away_ms:
        return ", for the time of day was set back. No time away counts"
    waits = any(proof.startswith("clock:") for proof in job.proofs)
    return " by the time of day" + (". If that may be wrong, say negative when asked about the wait" if waits else "")


def still_question(job: Job, proof: str) -> str:
    """The question behind a proof: "safe:key held" is the card's `still` words, "clock:key-out" its `kept` words."""
    kind, _, name = proof.partition(":")
    if kind == "clock":
        return job.card.clocks[name].kept
    return next(step.makes_safe.still for step in job.card.steps if step.makes_safe and step.makes_safe.name == name)


def same_mechanic(draft: Draft, reading: Reading) -> None:
    """The same person goes on."""
    if draft.job.proofs[0] != "mechanic":
        return draft.refuse("same_mechanic", "Say affirm or negative")
    draft.add(ev.SameMechanicStated)
    _after_proof(draft)


def taking_over(draft: Draft, reading: Reading) -> None:
    """Another person goes on, and spells initials."""
    if draft.job.proofs[0] != "mechanic":
        return draft.refuse("taking_over", "Say affirm or negative")
    draft.add(ev.Asked, about="mechanic", needs="initials")


def taken_over(draft: Draft, initials: ev.Words) -> None:
    """The initials were affirmed."""
    draft.add(ev.TakenOver, mechanic=initials)
    _after_proof(draft)


def proof(draft: Draft, reading: Reading) -> None:
    """"affirm" or "negative" to whether the place is still safe, or a wait's condition held. A doubt is a no."""
    kind, _, name = draft.job.proofs[0].partition(":")
    held = reading.rule == "affirm"
    if kind == "mechanic":
        return draft.refuse(reading.rule, "Say same mechanic, or taking over")
    if kind == "clear":
        draft.add(ev.AllClearGiven if held else ev.HelpStillNeeded)
        return _after_proof(draft) if held else alone.emergency(draft, reading)
    if kind == "safe" and held:
        draft.add(ev.SafeguardProved, safeguard=name)
    elif kind == "safe":
        draft.add(ev.SafeguardDoubted, safeguard=name, again=_again(draft.job, name))
    elif held:
        draft.add(ev.TimeAwayCounted, clock=name, away_ms=draft.job.away_ms)
    else:
        draft.add(ev.TimeAwayDropped, clock=name)
        start_clock(draft, name)
    _after_proof(draft)


def _again(job: Job, name: str) -> str:
    """The step that makes it safe again."""
    step = next(step for step in job.card.steps if step.makes_safe and step.makes_safe.name == name)
    return step.makes_safe.again or step.id


def _after_proof(draft: Draft) -> None:
    job = draft.job
    if job.proofs:
        return
    if job.doubted:
        begin(draft, job.doubted, "again")
    elif job.end_held:
        finish(draft)
    elif job.at:
        begin(draft, job.at, "resume")
    else:
        enter(draft, job.card.steps[0].id, "next")
