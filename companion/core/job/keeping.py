"""What answers leave in the state: by name, by item, since which wait; and what is being asked back."""
from __future__ import annotations

from companion.core import events as ev
from companion.core.job.inputs import Now
from companion.core.job.pointing import made_by_us
from companion.core.job.state import Job


def answer(job: Job, name: str, text: str) -> Job:
    return job.but(answers={**job.answers, name: text}) if name else job


def value_logged(job: Job, event: ev.ValueLogged, now: Now) -> Job:
    text, item = ev.plain(event.value), job.card.step(event.step).item
    job = answer(job, event.name, text)
    readings, uses = dict(job.readings), dict(job.tool_uses)
    if item and isinstance(event.value, str):  # a personal one may be erased, and is not compared
        readings[event.name] = {**readings.get(event.name, {}), item: text}
    if event.tool:
        uses[event.tool] = uses.get(event.tool, 0) + 1
    over = [name for name, clock in job.clocks.items() if clock.kind == "wait" and clock.ended]
    after = {**job.read_after, **{name: job.read_after.get(name, ()) + (event.name,) for name in over}}
    return job.but(value=event, values={**job.values, event.name: event}, readings=readings, tool_uses=uses,
                   read_after=after, asked=None, digits=None)


def codes_logged(job: Job, event: ev.CodesLogged, now: Now) -> Job:
    made = made_by_us(job, event.codes) if job.card.step(event.step).answer.ours else ()
    return answer(job, event.name, " ".join(event.codes)).but(ours=job.ours + made)


def code_heard(job: Job, event: ev.CodeHeard, now: Now) -> Job:
    before = job.codes[:-1] if event.replaces else job.codes
    return job.but(codes=before + (event.code,))


def asked(job: Job, event: ev.Asked, now: Now) -> Job:
    before = job.beneath if job.asked and job.asked.about == "doubt" else job.asked
    return job.but(asked=event, beneath=before if event.about == "doubt" else None)


def settled(job: Job, event: ev.Settled, now: Now) -> Job:
    return job.but(asked=job.beneath if event.about == "doubt" and event.answer != "replaced" else None)
