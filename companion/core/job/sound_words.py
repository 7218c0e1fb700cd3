"""What is said and done about sound: voice, memos, devices. Derived from the event and the state after it."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.job.effects import Effect, Hush, Record, SetVoice, StopRecording, Tone
from companion.core.job.prompt import prompt, say
from companion.core.job.state import Job
from companion.core.job.telling import duration
from companion.core.job.ticks import wait_over


def voice(job: Job) -> Effect:
    """The voice as the job has it."""
    return SetVoice(job.voice_speed, job.voice_loudness)


def memo_ends(job: Job) -> tuple[Effect, ...]:
    """Ends the memo that is being recorded, if one is: what was said of it so far is kept."""
    return (StopRecording(),) if job.memo else ()


def _voice_set(event: ev.VoiceSet, job: Job) -> tuple[Effect, ...]:
    return (voice(job), *say(f"{event.word}."))


def _memo_begun(event: ev.MemoBegun, job: Job) -> tuple[Effect, ...]:
    words = say("Speak after the tone.", "Two seconds of silence end the memo.")
    return (*words, Tone("memo"), Record(event.memo))


def _memo_kept(event: ev.MemoKept, job: Job) -> tuple[Effect, ...]:
    return _after_memo(job, "Memo kept.", f"{duration(event.ms)}.")


def _clip_lost(event: ev.ClipLost, job: Job) -> tuple[Effect, ...]:
    """Said once, until one is kept again."""
    return say("The sound of that answer is not kept.") if job.clips_lost == 1 else ()


def _memo_lost(event: ev.MemoLost, job: Job) -> tuple[Effect, ...]:
    """On resuming it has been said already, before the first question."""
    if job.proofs:
        return ()
    return (StopRecording(), *_after_memo(job, "No memo is kept.", f"{event.why}."))


def _after_memo(job: Job, *sentences: str) -> tuple[Effect, ...]:
    """What was asked before is asked again, unless a wait has run out meanwhile: then the next step comes at once."""
    if job.emergency:
        return ()
    return say(*sentences) + (() if wait_over(job) else prompt(job))


_LOST = {
    "microphone": ("The microphone is gone.", "Connect it again, or type."),
    "loudspeaker": ("The loudspeaker is gone.", "Connect it again.", "Without it no caution counts."),
    "ear": ("I cannot hear you now.", "Use the keyboard."),
    "voice": ("My voice has failed.", "Read the screen."),
    "sound file": ("The sound file cannot be written.", "Read the screen."),
}
_FOUND = {"ear": "I can hear you again.", "voice": "My voice is back."}
_SPOKE = ("loudspeaker", "voice", "sound file")
"""While one of these was gone nobody heard what was said."""
_FALTERED = {"ear": ("I missed that.",), "program": ("Something in me failed.", "I go on here."),
             "voice": ("My voice failed for a moment.",),
             "memory": ("Memory runs short.", "Close other programs on this machine.")}
_MANY = 50
"""So often a spell of lost sound must be told: own choice; words break up from a few a second on."""


def _lost(event: ev.SoundWasLost, job: Job) -> tuple[Effect, ...]:
    """Told by whatever still works. There is no tone where no loudspeaker is."""
    words = say(*_LOST.get(event.part, (f"The {event.part} is gone.",)))
    if event.part == "microphone":
        return (*memo_ends(job), Tone("alarm"), *words)
    return (Tone("alarm"), *words) if event.part in ("ear", "voice") else words


def _found(event: ev.SoundWasFound, job: Job) -> tuple[Effect, ...]:
    """What is being asked is said again. Where the loudspeaker never stopped, a caution is not begun twice."""
    words = say(_FOUND.get(event.part, f"The {event.part} is back."))
    if event.part in _SPOKE:
        return (Hush(), *words, *prompt(job))
    return words if job.must_be_heard_out else words + prompt(job)


def _faltered(event: ev.PartFaltered, job: Job) -> tuple[Effect, ...]:
    """Where an answer may have been lost in the fault, what is asked now is said."""
    words = say(*_FALTERED.get(event.part, (f"Something failed: the {event.part}.", "It is logged.")))
    return words + prompt(job) if event.part in ("program", "memory") and not job.must_be_heard_out else words


def _stuttered(event: ev.SoundStuttered, job: Job) -> tuple[Effect, ...]:
    return say("The sound stutters.", "Close other programs on this machine.") if event.times >= _MANY else ()


SOUND: dict[type[ev.Event], Callable[..., tuple[Effect, ...]]] = {
    ev.VoiceSet: _voice_set,
    ev.MemoBegun: _memo_begun,
    ev.MemoKept: _memo_kept,
    ev.MemoLost: _memo_lost,
    ev.ClipLost: _clip_lost,
    ev.SoundWasLost: _lost,
    ev.SoundWasFound: _found,
    ev.PartFaltered: _faltered,
    ev.SoundStuttered: _stuttered,
    ev.StillDeaf: lambda event, job: (
        Tone("alarm"), *say("I still cannot hear you.", "Use the keyboard, or leave everything safe.")),
}
