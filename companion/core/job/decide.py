"""`decide(job, input, now) -> events`: the only place where a job's events are made. Pure."""
from __future__ import annotations

from dataclasses import asdict
from typing import Optional

from companion.core import events as ev
from companion.core.job import parts, sound
from companion.core.job.alone import acts as alone
from companion.core.job.apply import apply
from companion.core.job.asking_back import ask_doubt
from companion.core.card import CountOf, Done, ValueOf
from companion.core.commands import all_commands
from companion.core.job.draft import Draft
from companion.core.job.flow import enter
from companion.core.job.held import HELD
from companion.core.grammar import Reading
from companion.core.job.inputs import (
    AlarmHeard, CameBack, Faltered, Heard, Input, MemoTaken, MessageDone, Now, Opened, RoomHeard, SoundFound, SoundLost,
    SpokenToEnd, Stuttered, Tick, Unheard)
from companion.core.job.listen import listen
from companion.core.job.resuming import came_back
from companion.core.job.state import Job
from companion.core.job.table import perform, refusal
from companion.core.job.ticks import tick
from companion.core.log.journal import FORMAT
from companion.core.understand import understand

#: Failures in a row before another way is offered (design: after three, digit by digit, then one key).
FAILURES = 3

_EVERYTHING = all_commands()
#: Acts that one doubtful hearing never does and never asks about: they answer a question. Said again the same, they count.
_ANSWERS_BACK = ("affirm", "negative", "acknowledge", "okay")


def decide(job: Optional[Job], what: Input, now: Now) -> tuple[ev.Event, ...]:
    """The events that `what` brings about at `now`; `job` is None only for `Opened`."""
    if isinstance(what, Opened):
        return _open(what, now)
    assert job is not None, "a job begins with Opened"
    draft = Draft(job, now, getattr(what, "hearing", None))
    if isinstance(what, CameBack):
        came_back(draft, what)
    elif type(what) in HELD:
        HELD[type(what)](draft, what)
    elif job.mode == "ended":
        return ()
    else:
        parts.time_of_day(draft)
        _DECIDERS[type(what)](draft, what)
    return tuple(draft.events)


def _open(what: Opened, now: Now) -> tuple[ev.Event, ...]:
    fields = asdict(what)
    fields["mechanic"] = ev.Personal(what.mechanic) if what.mechanic else None
    fields.pop("lone")
    opened = ev.JobOpened(format=FORMAT, **fields)
    draft = Draft(apply(None, opened, now), now)
    if what.lone is not None:
        alone.agree(draft, what.lone)
    enter(draft, draft.job.card.steps[0].id, "next")
    return (opened, *draft.events)


def _heard(draft: Draft, what: Heard) -> None:
    words = what.hearing.words if isinstance(what.hearing.words, str) else what.hearing.words.text
    if not words.strip():
        return _key(draft)
    live = listen(draft.job)
    reading = understand(live, words)
    if reading is None:
        return _not_live(draft, words, what.sure)
    rule = next(rule for rule in live.rules if rule.name == reading.rule)
    if draft.job.mode == "memo" and not what.sure and reading.rule != "emergency":
        return  # words of the note
    said_twice = reading.rule in _ANSWERS_BACK and draft.job.taken_for == reading.rule
    if what.sure or not rule.records or said_twice:
        perform(draft, reading)
    elif reading.rule in _ANSWERS_BACK:
        _fail(draft, taken_for=reading.rule)
    elif isinstance(draft.heard.words, ev.Personal):  # never asked back: the question would stand in the chain
        _fail(draft)
    else:
        ask_doubt(draft, reading, words)
    if what.clip and rule.records:
        sound.keep_clip(draft, what.clip)


def _not_live(draft: Draft, words: str, sure: bool) -> None:
    """A known command at the wrong moment is refused with the reason; anything else was not understood. "I am okay" is
    welcome at any moment, though it is listened for in a check only."""
    reading = understand(_EVERYTHING, words)
    if reading is None:
        _fail(draft)
    elif reading.rule == "okay" and sure and alone.may_say_okay(draft.job):
        alone.okay(draft, reading)
    elif reading.rule == "leave_open":
        draft.refuse("leave_open", "This step cannot be left open")
    else:
        draft.refuse(reading.rule, refusal(draft.job.mode))


def _key(draft: Draft) -> None:
    """The Enter key alone: does the one thing that was offered for it, and else only repeats."""
    job = draft.job
    if job.key_offered and job.mode == "asking" and isinstance(job.step.answer, Done):
        perform(draft, Reading("next"))
    elif job.key_offered and job.mode == "assent":
        perform(draft, Reading("affirm"))
    elif job.key_offered and job.mode == "caution":
        perform(draft, Reading("acknowledge"))
    elif job.mode not in ("cautioning", "memo"):
        draft.add(ev.Repeated)


def _unheard(draft: Draft, what: Unheard) -> None:
    job = draft.job
    if "ear" in job.lost:
        return  # it has been said that nothing is heard now
    if job.mode in ("paused", "emergency", "cautioning", "memo") or (job.begun and job.step.on_the_road):
        return  # silence was asked for, the companion or a note is being spoken, or the talk in the cab is not for it
    _fail(draft)


def _fail(draft: Draft, taken_for: str = "") -> None:
    """Count a failure; after three in a row offer digit by digit for a number, then the key."""
    job = draft.job
    failures = job.failures + 1
    draft.add(ev.NotUnderstood, failures=failures, taken_for=taken_for)
    if failures < FAILURES or job.key_offered:
        return
    if job.mode == "asking" and isinstance(job.step.answer, (ValueOf, CountOf)):
        draft.add(ev.DigitsBegun)
    elif job.mode in ("asking", "digits", "assent", "caution"):
        draft.add(ev.KeyOffered)


def _spoken(draft: Draft, what: SpokenToEnd) -> None:
    """Only what is still being waited for counts: a caution's last word, a question's last word."""
    kind, _, name = what.tag.partition(":")
    job = draft.job
    if kind == "caution" and job.mode == "cautioning" and job.cautions[0] == name:
        draft.add(ev.CautionHeard, caution=name, how=_SHOWN[what.shown])
    elif kind == "question" and job.watched and job.watch.asked and not job.watch.put \
            and name == str(job.watch.number):
        run = job.step.answer
        draft.add(ev.QuestionPut, clock=run.clock, number=job.watch.number, within_ms=run.within_ms,
                  how=_SHOWN[what.shown])


_SHOWN = {False: "", True: "shown"}

_DECIDERS = {
    Heard: _heard,
    Unheard: _unheard,
    SpokenToEnd: _spoken,
    MemoTaken: sound.memo_taken,
    SoundLost: sound.lost,
    SoundFound: sound.found,
    Faltered: parts.faltered,
    Stuttered: parts.stuttered,
    RoomHeard: sound.room,
    MessageDone: alone.message_done,
    AlarmHeard: alone.alarm_heard,
    Tick: lambda draft, what: tick(draft),
}
