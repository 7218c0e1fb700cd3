"""What the facts of a job do to how a lone mechanic is looked after (`Job.lone`)."""
from __future__ import annotations

from decimal import Decimal
from typing import Callable, Optional

from companion.core import events as ev
from companion.core.card import Step
from companion.core.job.alone.times import RING_AGAIN_MS, RING_MS, SPOKEN_MS
from companion.core.job.inputs import Now
from companion.core.job.alone.state import TOP, Lone
from companion.core.job.state import Job
from companion.core.log.rfc3339 import milliseconds


def step_begun(job: Job, step: Step) -> Optional[Lone]:
    """Risks of the step begin; on the road the agreed return time counts."""
    lone = job.lone
    if lone is None:
        return None
    return lone.but(risks=tuple(dict.fromkeys((*lone.risks, *step.risks))), on_the_road=step.on_the_road)


def step_ended(job: Job, step: Step, outcome: str, now: Now) -> Optional[Lone]:
    """Risks end with what was done, not with what was answered "negative"; whoever is back is looked after as usual."""
    lone = job.lone
    if lone is None:
        return None
    over = () if outcome in ("negative", "outside", "wrong") else step.ends_risks
    back = {"on_the_road": False, "back_by_up": 0, "sign_up": now.up_ms} if lone.on_the_road else {}
    return lone.but(risks=tuple(risk for risk in lone.risks if risk not in over), **back)


def value_logged(job: Job, event: ev.ValueLogged, now: Now) -> Job:
    """The return time counts from when it was agreed."""
    card = job.card.alone
    if job.lone is None or card is None or event.name != card.back_by or not isinstance(event.value, str):
        return job
    return job.but(lone=job.lone.but(back_by_up=now.up_ms + int(Decimal(event.value) * 60_000)))


def resumed(job: Job, event: ev.JobResumed, now: Now) -> Optional[Lone]:
    """Somebody is there again, and help can be called again. A return time stands where it stood on the wall clock, or on
    the up-clock of one boot."""
    lone = job.lone
    if lone is None:
        return None
    left = lone.back_by_up - job.last_up_ms - event.away_ms
    back = max(1, now.up_ms + left) if lone.back_by_up else 0
    return _silent(lone).but(sign_up=now.up_ms, back_by_up=back, called="")


def quiet(job: Job) -> Optional[Lone]:
    """An emergency takes the place of a check or an alarm."""
    return _silent(job.lone) if job.lone is not None else None


def over(job: Job, now: Now) -> Optional[Lone]:
    """All is clear: looked after as usual."""
    return _silent(job.lone).but(sign_up=now.up_ms, called="") if job.lone is not None else None


def _silent(lone: Lone) -> Lone:
    return lone.but(level=0, answer_by_up=0, rings_up=0, answered=False)


def _agreed(job: Job, event: ev.LoneWorkAgreed, now: Now) -> Job:
    call_by = milliseconds(event.call_by) if event.call_by else 0
    place = event.place.text if event.place else ""
    before = job.lone or Lone(0, 0, 0, 0, now.up_ms)
    return job.but(lone=before.but(
        every_ms=event.every_ms, at_risk_ms=event.at_risk_ms, within_ms=event.within_ms, contacts=event.contacts,
        sign_up=now.up_ms, place=place, call_by_ms=call_by, call_by_said=event.call_by_said,
        call_by_told=before.call_by_told and before.call_by_ms == call_by))


def _checked(job: Job, event: ev.CheckedOn, now: Now) -> Job:
    by = now.up_ms + job.lone.within_ms + SPOKEN_MS
    return job.but(lone=job.lone.but(checks=event.number, answer_by_up=by, times=0))


def _rung(job: Job, event: ev.AlarmRaised, now: Now) -> Job:
    """A second part that was not said in time has to begin again with the first."""
    again = RING_AGAIN_MS if event.times > TOP else RING_MS
    lone = job.lone.but(level=event.level, times=event.times, rings_up=now.up_ms + again, answer_by_up=0,
                        answered=False)
    return job.but(lone=lone, asked=None, digits=None)


def _change(**changes: object) -> Callable[..., Job]:
    return lambda job, event, now: job.but(lone=job.lone.but(**changes))


CHANGES: dict[type[ev.Event], Callable[..., Job]] = {
    ev.LoneWorkAgreed: _agreed,
    ev.CheckedOn: _checked,
    ev.AlarmRaised: _rung,
    ev.AlarmAnswered: _change(answered=True),
    ev.AlarmEnded: lambda job, event, now: job.but(asked=None, lone=over(job, now)),
    ev.HelpCalled: lambda job, event, now: job.but(lone=job.lone.but(called=event.why)),
    ev.CallByNear: _change(call_by_told=True),
    ev.SignedOff: _change(signed_off=True, answer_by_up=0, level=0),
    ev.AlarmTestAnswered: lambda job, event, now: job.but(asked=None, lone=job.lone.but(alarm_heard=event.heard_it)),
}
