"""What an ear is: one utterance of sound in, one guess at its words out."""
from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from companion.core.grammar import Listen, Reading

RATE = 16_000


@dataclass(frozen=True)
class Guess:
    """What one utterance was taken for."""

    text: str
    """The words in the recogniser's writing, e.g. "Log value 7.5 newton meters"; "" if nothing fits."""
    score: float
    """Confidence that this reading was said, 0 to 1, calibrated on real voices in noise (`floors`)."""
    accepted: bool
    """The score reaches the floor of the reading's rule."""
    sure: bool
    """Accepted, and no other reading comes close: a guess that is not sure is asked back."""
    reading: Reading | None
    """What the words mean under the `Listen` that was in force; None if nothing fits."""
    alternatives: tuple[tuple[str, float], ...] = ()
    """The texts of the other readings with their share (0 to 1), the likeliest first."""
    ms: float = 0.0
    """Milliseconds from the endpoint decision to this guess."""
    longer: bool = False
    """More words could follow these under the same `Listen`."""
    start_s: float = 0.0
    """Where the utterance begins and ends in the stream, in seconds from its start, pre-roll not counted."""
    end_s: float = 0.0
    sound: np.ndarray | None = field(default=None, compare=False, repr=False)
    """What was heard, where that is wanted (`LivePath.keeps_sound`)."""


NOTHING = Guess("", 0.0, False, False, None)
"""What comes of sound that fits nothing."""


class Ear(Protocol):
    """A recogniser. It keeps no memory of earlier utterances."""

    name: str

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """One utterance: float32 samples (n,), mono, 16 kHz, −1 to 1. Never raises for any sound."""
        ...

    def draft(self, samples: np.ndarray) -> str:
        """What the recogniser writes of up to a minute of speech when nothing constrains it: a draft, often wrong."""
        ...
