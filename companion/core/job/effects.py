"""What the edge has to carry out. It decides nothing."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Union


@dataclass(frozen=True)
class Say:
    """Speak `text`. `tag` is sent back as `SpokenToEnd` after its last word ("" sends nothing)."""

    text: str
    tag: str = ""
    pace: str = "prose"
    """"number" is spoken slower."""


@dataclass(frozen=True)
class Tone:
    """A short tone: heard, again (not understood), time (a clock ran out), alarm, memo (speak now); "alarm 1" to "alarm 3"
    rise."""

    kind: str


@dataclass(frozen=True)
class Hush:
    """Stop speaking now; what was still to be said is dropped."""


@dataclass(frozen=True)
class SetVoice:
    """From now on speak like this; it holds for every `Say` that follows."""

    speed: int
    """Percent of the voice's own speed, 70 to 130."""
    loudness: int
    """Decibels above the voice's own loudness, -6 to 12."""


@dataclass(frozen=True)
class Record:
    """After what is still to be said and sounded, record a memo until silence ends it; `MemoTaken` follows."""

    memo: int
    """Its number in this job, from 1."""

    @property
    def name(self) -> str:
        """What its file is called after the log's name: "memo-1"."""
        return f"memo-{self.memo}"


@dataclass(frozen=True)
class StopRecording:
    """End the memo that is being recorded, if one is, and hand in what there is of it."""


@dataclass(frozen=True)
class Message:
    """Send to whoever is to be told about a lone mechanic; `MessageDone` follows. Never logged: it names people."""

    kind: str
    """help, all clear, call by, signed off, or test."""
    text: str


Effect = Union[Say, Tone, Hush, SetVoice, Record, StopRecording, Message]
