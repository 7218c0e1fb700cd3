"""Parts of the companion that fail for a moment, and sound that stutters; what is lost for longer is in `sound`."""
from __future__ import annotations

from dataclasses import dataclass

from companion.core.events.root import Event


@dataclass(frozen=True, kw_only=True)
class PartFaltered(Event):
    """A part failed and works on, or was started anew: an utterance was missed, a sentence was tried twice."""

    part: str
    """ear, voice, memory, keyboard, screen … or the name of a thread."""
    why: str = ""
    """The fault as the program has it."""


@dataclass(frozen=True, kw_only=True)
class SoundStuttered(Event):
    """A spell in which a sound device lost sound, or found none to play: the machine was too busy."""

    part: str
    """microphone or loudspeaker."""
    times: int
    """How often within the spell."""
    ms: int
    """From the first time to the last."""


@dataclass(frozen=True, kw_only=True)
class StillDeaf(Event):
    """It was said again that nothing can be heard: the ear or the microphone is still gone."""
