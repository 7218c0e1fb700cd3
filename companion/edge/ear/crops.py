"""What of an utterance the recogniser is given: its level, the silence around it, and where the speech in it lies.

An utterance holds half a second of sound from before it was noticed, and in noise a good deal from after its end. The
recogniser makes words of that too, so what it is not quite sure of it hears twice: whole, and cut close to the speech. What
it says both times was said: the mean of both finds no more since the letters are heard too, but tells better what to trust
(`floors`).
"""
from __future__ import annotations

import numpy as np

from companion.edge.ear.base import RATE
from companion.edge.ear.endpoint import CHUNK, pause_detector

_SIDE = int(0.3 * RATE)
LEVEL = 0.1
_LEAST = int(0.05 * RATE)
MOST = 20 * RATE
"""Samples of an utterance that are heard."""
_FAINTEST = 1e-5
_SHARE = 0.5
_BEFORE, _AFTER = int(0.12 * RATE), int(0.1 * RATE)


class Crops:
    """Cuts utterances close to the speech in them. Not for two threads at once."""

    def __init__(self) -> None:
        self._detector = pause_detector()

    def close(self, samples: np.ndarray) -> np.ndarray:
        """From 0.12 s before to 0.1 s after all that is half as likely to be speech as the likeliest 32 ms of it.

        Float32 at 16 kHz. What is too short for the detector is given as it is.
        """
        likely = self._likely(samples)
        if not len(likely):
            return samples
        speech = np.flatnonzero(likely >= _SHARE * likely.max())
        return samples[max(0, speech[0] * CHUNK - _BEFORE):(speech[-1] + 1) * CHUNK + _AFTER]

    def _likely(self, samples: np.ndarray) -> np.ndarray:
        """How likely each 32 ms are to be speech."""
        self._detector.reset()
        sound = np.clip(np.nan_to_num(samples, posinf=0, neginf=0), -1, 1)
        starts = range(0, len(sound) - CHUNK + 1, CHUNK)
        return np.array([self._detector.process_samples(sound[at:at + CHUNK].tolist()) for at in starts])


def even(samples: np.ndarray) -> np.ndarray | None:
    """An utterance at a fixed level with silence on both sides; None for one too short or silent.

    0.3 s of silence on each side brought ten command words from 0.90 to 0.96 (clean), 0.57 to 0.62 (0 dB).
    """
    sound = np.clip(np.nan_to_num(np.asarray(samples, np.float32).ravel()[:MOST], posinf=0, neginf=0), -1, 1)
    sound -= sound.mean() if len(sound) else 0
    if len(sound) < _LEAST or np.abs(sound).max() < _FAINTEST:
        return None
    return np.pad(sound * np.float32(LEVEL / loudness(sound)), _SIDE)


def loudness(sound: np.ndarray) -> float:
    """Root mean square of the pieces of 10 ms that lie within 20 dB of the loudest."""
    powers = np.square(np.pad(sound, (0, -len(sound) % 160)).reshape(-1, 160), dtype=np.float64).mean(1)
    return float(np.sqrt(powers[powers >= powers.max() / 100].mean()))
