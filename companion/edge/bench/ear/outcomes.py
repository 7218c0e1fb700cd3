"""What became of each utterance: the raw material of every figure."""
from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from companion.core.words import british
from companion.edge.bench.ear.word_errors import WordErrors
from companion.edge.voice.wording import for_voice

CLEAN = "clean"


@dataclass(frozen=True)
class Heard:
    """One guess."""

    text: str
    """In its plainest form; "" where nothing fits."""
    score: float
    accepted: bool
    sure: bool
    reads: bool
    """Whether it means anything."""
    records: bool
    """Whether it would change the record."""
    right: bool
    """Whether it means exactly what was said."""


@dataclass(frozen=True)
class Outcome:
    """What one ear made of one utterance in one condition."""

    kind: str
    """"said", "foreign" (speech that is not for the program) or "noise"."""
    set: str
    said: str
    voice: str
    snr: float | None
    """In dB; None for clean."""
    noise: str
    ear: str
    seconds: float
    """Of the speech, or of the noise alone."""
    heard: tuple[Heard, ...]
    words: WordErrors

    @property
    def condition(self) -> str:
        """"clean", "10 dB" …"""
        return CLEAN if self.snr is None else f"{self.snr:g} dB"

    @property
    def accepted(self) -> list[Heard]:
        """The guesses that were."""
        return [heard for heard in self.heard if heard.accepted]

    @property
    def right(self) -> bool:
        """Accepted once, as what was said, and nothing else."""
        return [heard.right for heard in self.accepted] == [True]

    @property
    def wrong(self) -> bool:
        """Accepted as something else, or as more than was said."""
        return bool(self.accepted) and not self.right

    @property
    def wrong_and_sure(self) -> bool:
        """The same without being asked back."""
        sure = [heard.right for heard in self.heard if heard.sure]
        return bool(sure) and sure != [True]

    @property
    def taken_for(self) -> str:
        """The accepted text, or "—"."""
        return " + ".join(heard.text for heard in self.accepted) or "—"

    def as_json(self) -> list[Any]:
        """Compactly, for `COLUMNS`."""
        guesses = [[heard.text, heard.score, heard.accepted, heard.sure, heard.records, heard.right]
                   for heard in self.heard if heard.reads]
        return [self.kind, self.set, self.said, self.voice, self.condition, self.noise, self.ear, self.seconds, guesses]


COLUMNS = ("kind", "set", "said", "voice", "condition", "noise", "ear", "seconds",
           "guesses: text, score, accepted, sure, records, right")


def groups(found: Iterable[Outcome], *names: str) -> dict[tuple[str, ...], list[Outcome]]:
    """By the fields or properties `names`, in the order in which they come."""
    made: dict[tuple[str, ...], list[Outcome]] = {}
    for outcome in found:
        made.setdefault(tuple(getattr(outcome, name) for name in names), []).append(outcome)
    return made


def spoken_words(text: str) -> list[str]:
    """Bare words in lower case and British spelling; figures and units as they are spoken."""
    return [british(word) for word in re.findall(r"[a-z']+", for_voice(text).lower().replace("-", " "))]
