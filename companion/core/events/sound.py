"""The sound about a job: how the companion speaks, spoken memos, devices lost and found, and the room."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Optional

from companion.core.events.root import Event, Words


@dataclass(frozen=True, kw_only=True)
class VoiceSet(Event):
    """The voice was made slower, faster, louder or quieter."""

    word: str
    """What was said: slower, faster, louder or quieter."""
    speed: int
    """Percent of the voice's own speed."""
    loudness: int
    """Decibels above the voice's own loudness."""


@dataclass(frozen=True, kw_only=True)
class MemoBegun(Event):
    """A spoken note is about to be recorded."""

    memo: int
    """Its number in this job, from 1."""


@dataclass(frozen=True, kw_only=True)
class MemoKept(Event):
    """The sound of a spoken note lies beside the log."""

    memo: int
    file: str
    """The sound file's name, without its folder."""
    sha256: str
    """Of the file's bytes, lower-case hex."""
    ms: int
    """Length of the sound."""
    draft: Words = ""
    """A machine's guess at the words: personal, so that it can be erased. "" where it made none."""


@dataclass(frozen=True, kw_only=True)
class MemoLost(Event):
    """Nothing was kept of a spoken note that had begun."""

    memo: int
    why: str
    """nothing was said, no sound came, the program stopped, or the recorder's fault."""


@dataclass(frozen=True, kw_only=True)
class ClipKept(Event):
    """Evidence, where the operator wants it: the sound of what was heard just before lies beside the log."""

    clip: int
    """Its number in this job, from 1."""
    file: str
    """The sound file's name, without its folder."""
    sha256: str
    """Of the file's bytes, lower-case hex."""
    ms: int
    """Length of the sound, with the silence around it."""


@dataclass(frozen=True, kw_only=True)
class ClipLost(Event):
    """The sound of what was heard just before could not be kept."""

    why: str


@dataclass(frozen=True, kw_only=True)
class SoundWasLost(Event):
    """A part that hears or speaks is gone."""

    part: str
    """microphone or loudspeaker: the device; ear: the recogniser; voice; or sound file: written in place of a loudspeaker."""
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class SoundWasFound(Event):
    """It is back."""

    part: str


@dataclass(frozen=True, kw_only=True)
class RoomMeasured(Event):
    """How well the ear can hear here. Levels in dB below full scale (dBFS)."""

    verdict: str
    """good, noisy, faint, clipped, muted or nobody spoke."""
    noise_db: Decimal
    speech_db: Optional[Decimal] = None
    """Active speech level; None where nobody spoke."""
    ratio_db: Optional[Decimal] = None
    """Speech above noise."""
    clipped: Decimal = Decimal(0)
    """Percent of samples at full scale."""
    advice: tuple[str, ...] = ()
    """What the mechanic was told."""
