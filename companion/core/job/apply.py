"""`apply(job, event, now) -> job`: what each fact does to the state. Nothing else changes the state.

One small function per event that changes anything, in one table; events that are only for the record are not in it.
"""
from __future__ import annotations

from datetime import date, timedelta
from typing import Callable, Optional

from companion.core import events as ev
from companion.core.card import WaitOf, load_card
from companion.core.job import keeping
from companion.core.job.alone import changes as looking_after
from companion.core.job.inputs import Now
from companion.core.job.alone.state import lived
from companion.core.job.state import Job, Running, Watch
from companion.core.toolbox import load_tools


def apply(job: Optional[Job], event: ev.Event, now: Now) -> Job:
    """The state after `event`, which happened at `now`. `job` is None before the first event."""
    if isinstance(event, ev.JobOpened):
        job = _opened(event, now)
    assert job is not None, "the first event of a job is JobOpened"
    change = _CHANGES.get(type(event))
    after = change(job, event, now) if change else job
    lone = lived(after.lone, event, now.up_ms)
    if event.heard is not None and not isinstance(event, ev.NotUnderstood):
        return after.but(last_at_ms=now.at_ms, last_up_ms=now.up_ms, lone=lone, failures=0, taken_for="")
    return after.but(last_at_ms=now.at_ms, last_up_ms=now.up_ms, lone=lone)


def _opened(event: ev.JobOpened, now: Now) -> Job:
    tools = load_tools(event.tools_text, event.tools_name, day(now.at_ms)) if event.tools_text else None
    return Job(card=load_card(event.card_text, event.card_name, checked=False), brief=event.brief, tools=tools,
               mechanic=event.mechanic.text if event.mechanic else "", ear=event.ear, opened_at_ms=now.at_ms)


def day(at_ms: int) -> date:
    """The day, in UTC, of a wall-clock time in milliseconds since 1970."""
    return date(1970, 1, 1) + timedelta(days=at_ms // 86_400_000)


# -- steps -------------------------------------------------------------------------------------------------------------

def _step_begun(job: Job, event: ev.StepBegun, now: Now) -> Job:
    step = job.card.step(event.step)
    visits = dict(job.visits)
    if event.how in ("next", "branch"):
        visits[event.step] = visits.get(event.step, 0) + 1
    trail = job.trail
    if event.how == "previous" and event.step in trail:
        trail = trail[:len(trail) - trail[::-1].index(event.step)]
    if not trail or trail[-1] != event.step:
        trail += (event.step,)
    on_the_way = event.how not in ("gate", "previous", "again")  # the last two come by the gate once more
    return job.but(at=event.step, begun=True, return_to=job.return_to if on_the_way else "", doubted="",
                   cautions=step.cautions, caution_heard=False, visits=visits, trail=trail,
                   codes=job.codes if event.how == "resume" else (), asked=None, digits=None, key_offered=False,
                   watch=Watch(), failures=0, taken_for="", lone=looking_after.step_begun(job, step))


def _step_ended(job: Job, event: ev.StepEnded, now: Now) -> Job:
    step = job.card.step(event.step)
    ends = step.ends_safe + ((step.makes_safe.name,) if step.makes_safe else ())
    safe = tuple(name for name in job.safeguards if name not in ends)
    if step.makes_safe and event.outcome not in ("negative", "outside"):
        safe += (step.makes_safe.name,)
    clocks = dict(job.clocks)
    if isinstance(step.answer, WaitOf) and step.answer.clock in clocks:
        clocks[step.answer.clock] = _with(clocks[step.answer.clock], used=True)
    return job.but(begun=False, outcomes={**job.outcomes, event.step: event.outcome}, safeguards=safe, clocks=clocks,
                   open=tuple(step_id for step_id in job.open if step_id != event.step), asked=None, digits=None,
                   lone=looking_after.step_ended(job, step, event.outcome, now))


def _left_open(job: Job, event: ev.StepLeftOpen, now: Now) -> Job:
    still = tuple(step_id for step_id in job.open if step_id != event.step)
    return job.but(begun=False, open=still + (event.step,), outcomes={**job.outcomes, event.step: "left open"})


def _left_out(job: Job, event: ev.StepLeftOut, now: Now) -> Job:
    return job.but(begun=False, outcomes={**job.outcomes, event.step: "left out"}, asked=None,
                   open=tuple(step_id for step_id in job.open if step_id != event.step))


def _open_due(job: Job, event: ev.OpenStepsDue, now: Now) -> Job:
    return job.but(return_to=event.gate)


# -- clocks ------------------------------------------------------------------------------------------------------------

def _with(clock: Running, **changes: object) -> Running:
    return Running(**{**clock.__dict__, **changes})  # type: ignore[arg-type]


def _clock(job: Job, name: str, **changes: object) -> Job:
    return job.but(clocks={**job.clocks, name: _with(job.clocks[name], **changes)})


def _clock_started(job: Job, event: ev.ClockStarted, now: Now) -> Job:
    clock = Running(event.clock, event.kind, event.lasts_ms, now.up_ms + event.lasts_ms, event.lasts_ms)
    after = {name: read for name, read in job.read_after.items() if name != event.clock}
    return job.but(clocks={**job.clocks, event.clock: clock}, read_after=after)


def _clock_ended(job: Job, event: ev.ClockEnded, now: Now) -> Job:
    if event.kind != "timer":
        return _clock(job, event.clock, ended=True)
    return _clock_gone(job, event, now)


def _clock_gone(job: Job, event: ev.TimerCancelled | ev.ClockEnded | ev.RunBroken, now: Now) -> Job:
    return job.but(clocks={name: clock for name, clock in job.clocks.items() if name != event.clock})


def _run_broken(job: Job, event: ev.RunBroken, now: Now) -> Job:
    return _clock_gone(job, event, now).but(watch=Watch())


def _question_asked(job: Job, event: ev.QuestionAsked, now: Now) -> Job:
    """Should the voice never report its last word, the answer is awaited for half a minute more than the card says."""
    by = now.up_ms + job.step.answer.within_ms + 30_000
    return job.but(watch=Watch(event.number, asked=True, answer_by_up=by))


def _question_put(job: Job, event: ev.QuestionPut, now: Now) -> Job:
    return job.but(watch=Watch(event.number, asked=True, put=True, answer_by_up=now.up_ms + event.within_ms))


def _run_answered(job: Job, event: ev.RunAnswered, now: Now) -> Job:
    return job.but(watch=Watch(event.number)) if event.number else job


# -- resume ------------------------------------------------------------------------------------------------------------

def _resumed(job: Job, event: ev.JobResumed, now: Now) -> Job:
    """Clocks stand where they stood at the last entry; the mechanic's own timers count the time away."""
    clocks = {}
    for name, clock in job.clocks.items():
        left = clock.left(job.last_up_ms) - (event.away_ms if clock.kind == "timer" else 0)
        clocks[name] = _with(clock, ends_up=now.up_ms + max(0, left))
    kept = tuple("clock:" + name for name, clock in clocks.items() if clock.kind == "wait" and not clock.used
                 and job.card.clocks[name].kept)
    clear = ("clear:help",) if job.lone is not None and job.lone.called else ()
    proofs = ("mechanic", *clear) + tuple("safe:" + name for name in job.safeguards) + kept
    return job.but(held="", left=False, paused=False, emergency=False, asked=None, digits=None, clocks=clocks, begun=False,
                   proofs=proofs, away_ms=event.away_ms, ear=event.ear or job.ear, lost=(),
                   lone=looking_after.resumed(job, event, now))


def _proved(job: Job) -> Job:
    return job.but(proofs=job.proofs[1:])


def _doubted(job: Job, event: ev.SafeguardDoubted, now: Now) -> Job:
    """Of several doubts, the job goes back to the earliest step."""
    steps = [step for step in (job.doubted, event.again) if step]
    gone = tuple(name for name in job.safeguards if name != event.safeguard)
    return _proved(job).but(doubted=min(steps, key=job.card.index), safeguards=gone)


def _time_away(job: Job, event: ev.TimeAwayCounted, now: Now) -> Job:
    return _proved(_clock(job, event.clock, ends_up=job.clocks[event.clock].ends_up - event.away_ms))


def _emergency(job: Job, event: ev.EmergencyCalled, now: Now) -> Job:
    return job.but(emergency=True, asked=None, digits=None, lone=looking_after.quiet(job))


def _held_back(job: Job, event: ev.LogHeldBack, now: Now) -> Job:
    """Another reason does not make it later."""
    return job.but(held=event.why) if job.held else job.but(held=event.why, held_at_ms=now.at_ms, held_up_ms=now.up_ms)


# -- sound -------------------------------------------------------------------------------------------------------------

def _memo_begun(job: Job, event: ev.MemoBegun, now: Now) -> Job:
    """Its words, the tone, a minute of speech and two seconds of silence take less than this."""
    return job.but(memo=event.memo, memos=event.memo, memo_by_up=now.up_ms + 90_000)


def _sound_lost(job: Job, event: ev.SoundWasLost, now: Now) -> Job:
    return job.but(lost=(*job.lost, event.part), deaf_told_up=now.up_ms)


def _sound_found(job: Job, event: ev.SoundWasFound, now: Now) -> Job:
    return job.but(lost=tuple(part for part in job.lost if part != event.part))


_CHANGES: dict[type[ev.Event], Callable[..., Job]] = {
    ev.JobResumed: _resumed,
    ev.JobLeft: lambda job, event, now: job.but(left=True, asked=None),
    ev.JobEnded: lambda job, event, now: job.but(done=True),
    ev.StepBegun: _step_begun,
    ev.StepEnded: _step_ended,
    ev.StepLeftOpen: _left_open,
    ev.StepLeftOut: _left_out,
    ev.OpenStepsDue: _open_due,
    ev.CautionHeard: lambda job, event, now: job.but(caution_heard=True),
    ev.CautionAcknowledged: lambda job, event, now: job.but(cautions=job.cautions[1:], caution_heard=False),
    ev.SafeguardProved: lambda job, event, now: _proved(job),
    ev.SafeguardDoubted: _doubted,
    ev.TimeAwayCounted: _time_away,
    ev.TimeAwayDropped: lambda job, event, now: _proved(job),
    ev.AllClearGiven: lambda job, event, now: _proved(job),
    ev.HelpStillNeeded: lambda job, event, now: _proved(job),
    ev.SameMechanicStated: lambda job, event, now: _proved(job),
    ev.TakenOver: lambda job, event, now: _proved(job).but(asked=None, mechanic=ev.plain(event.mechanic)),
    ev.AnswerGiven: lambda job, event, now: keeping.answer(job, event.name, ev.plain(event.answer)),
    ev.ValueLogged: lambda job, event, now: looking_after.value_logged(keeping.value_logged(job, event, now), event, now),
    ev.CountLogged: lambda job, event, now: keeping.answer(job, event.name, str(event.count)),
    ev.CodeHeard: keeping.code_heard,
    ev.CodesLogged: keeping.codes_logged,
    ev.SpellingLogged: lambda job, event, now: keeping.answer(job, event.name, ev.plain(event.text)).but(asked=None),
    ev.Asked: keeping.asked,
    ev.Settled: keeping.settled,
    ev.NotUnderstood: lambda job, event, now: job.but(failures=event.failures, taken_for=event.taken_for),
    ev.DigitsBegun: lambda job, event, now: job.but(digits="", failures=0, asked=None),
    ev.DigitHeard: lambda job, event, now: job.but(digits=ev.plain(event.digits)),
    ev.KeyOffered: lambda job, event, now: job.but(key_offered=True),
    ev.ClockStarted: _clock_started,
    ev.MarkReached: lambda job, event, now: _clock(job, event.clock, marked_ms=event.left_ms),
    ev.ClockEnded: _clock_ended,
    ev.WaitCutShort: lambda job, event, now: _clock(job, event.clock, ended=True).but(asked=None),
    ev.TimerCancelled: _clock_gone,
    ev.QuestionAsked: _question_asked,
    ev.QuestionPut: _question_put,
    ev.RunAnswered: _run_answered,
    ev.RunBroken: _run_broken,
    ev.Paused: lambda job, event, now: job.but(paused=True, asked=None, digits=None),
    ev.Resumed: lambda job, event, now: job.but(paused=False),
    ev.BriefSet: lambda job, event, now: job.but(brief=event.on),
    ev.VoiceSet: lambda job, event, now: job.but(voice_speed=event.speed, voice_loudness=event.loudness),
    ev.MemoBegun: _memo_begun,
    ev.MemoKept: lambda job, event, now: job.but(memo=0),
    ev.MemoLost: lambda job, event, now: job.but(memo=0),
    ev.ClipKept: lambda job, event, now: job.but(clips=event.clip, clips_lost=0),
    ev.ClipLost: lambda job, event, now: job.but(clips_lost=job.clips_lost + 1),
    ev.SoundWasLost: _sound_lost,
    ev.StillDeaf: lambda job, event, now: job.but(deaf_told_up=now.up_ms),
    ev.SoundWasFound: _sound_found,
    ev.LogHeldBack: _held_back,
    ev.LogCaughtUp: lambda job, event, now: job.but(held=""),
    ev.JobEndHeldBack: lambda job, event, now: job.but(end_held=True),
    ev.EmergencyCalled: _emergency,
    ev.EmergencyEnded: lambda job, event, now: job.but(emergency=False, asked=None, lone=looking_after.over(job, now)),
    **looking_after.CHANGES,
}
