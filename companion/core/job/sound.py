"""The sound about a job: how it speaks, spoken memos, and devices lost and found.

Speeds and loudnesses are common practice, no source: steps large enough to be noticed, ends at which speech is clear.
"""
from __future__ import annotations

from hashlib import sha256

from companion.core import events as ev
from companion.core.grammar import Reading
from companion.core.job.draft import Draft
from companion.core.job.apply import apply
from companion.core.job.inputs import Clip, MemoTaken, RoomHeard, SoundFound, SoundLost

SPEEDS = (70, 85, 100, 115, 130)
"""Percent of the voice's own speed."""
LOUDNESS = (-6, 0, 6, 12)
"""Decibels above the voice's own loudness."""

_WORDS = {"slower": ("speed", SPEEDS, -1), "faster": ("speed", SPEEDS, 1),
          "quieter": ("loudness", LOUDNESS, -1), "louder": ("loudness", LOUDNESS, 1)}
VOICE_WORDS = tuple(_WORDS)


# -- the voice ---------------------------------------------------------------------------------------------------------

def voice(draft: Draft, reading: Reading) -> None:
    """"slower", "faster", "louder", "quieter": one step; at the end of the range it is told so."""
    what, steps, way = _WORDS[reading.rule]
    now = {"speed": draft.job.voice_speed, "loudness": draft.job.voice_loudness}
    beyond = [step for step in steps if (step - now[what]) * way > 0]
    if beyond:
        then = min(beyond) if way > 0 else max(beyond)
        draft.add(ev.VoiceSet, word=reading.rule, **{**now, what: then})
    else:
        draft.add(ev.Told, topic=reading.rule)


# -- memos -------------------------------------------------------------------------------------------------------------

def memo(draft: Draft, reading: Reading) -> None:
    """"memo": a spoken note, where there is something to hear it."""
    if draft.job.ear == "typed":
        draft.refuse("memo", "There is no microphone")
    elif "microphone" in draft.job.lost:
        draft.refuse("memo", "The microphone is gone")
    else:
        draft.add(ev.MemoBegun, memo=draft.job.memos + 1)


def memo_taken(draft: Draft, what: MemoTaken) -> None:
    """Its recording has ended; one that is no longer waited for changes nothing."""
    if not draft.job.memo or what.memo != draft.job.memo:
        return
    if what.fault or not what.file:
        return lose_memo(draft, what.fault or "nothing was said")
    words = ev.Personal(what.draft) if what.draft.strip() else ""
    draft.add(ev.MemoKept, memo=what.memo, file=what.file, sha256=what.sha256, ms=what.ms, draft=words)


def lose_memo(draft: Draft, why: str) -> None:
    """Nothing is kept of the memo that had begun."""
    draft.add(ev.MemoLost, memo=draft.job.memo, why=why)


# -- evidence ----------------------------------------------------------------------------------------------------------

def keep_clip(draft: Draft, clip: Clip) -> None:
    """The sound of what was just answered, right after the first fact that it brought about: nothing may follow a job's end.

    Of what changed nothing, and of what is personal, no sound is kept."""
    first = next((place for place, event in enumerate(draft.events) if event.heard is not None), None)
    if first is None or isinstance(draft.events[first], (ev.Refused, ev.NotUnderstood)) or _is_personal(draft):
        return
    step = draft.events[first].step
    if clip.file:
        fact = ev.ClipKept(step=step, clip=draft.job.clips + 1, file=clip.file, sha256=sha256(clip.sound).hexdigest(), ms=clip.ms)
    else:
        fact = ev.ClipLost(step=step, why="it cannot be written")
    draft.events.insert(first + 1, fact)
    draft.job = apply(draft.job, fact, draft.now)


def _is_personal(draft: Draft) -> bool:
    return any(isinstance(event.heard.words, ev.Personal) for event in draft.events if event.heard is not None)


# -- devices and the room ----------------------------------------------------------------------------------------------

def lost(draft: Draft, what: SoundLost) -> None:
    """Said once, however often it is reported."""
    if what.part not in draft.job.lost:
        draft.add(ev.SoundWasLost, part=what.part, why=what.why)


def found(draft: Draft, what: SoundFound) -> None:
    """Only what was lost is found."""
    if what.part in draft.job.lost:
        draft.add(ev.SoundWasFound, part=what.part)


def room(draft: Draft, what: RoomHeard) -> None:
    """For the record; the advice has been given already."""
    draft.add(ev.RoomMeasured, **vars(what))
