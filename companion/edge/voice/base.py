"""What a voice is, and the level at which every voice is handed on."""
from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

RATE = 24_000
"""Samples a second of everything a voice renders."""

PACES = ("prose", "number")
"""How fast: 150 to 170 words a minute, or slower for what has to be noted."""

_PAUSE = {"prose": 0.30, "number": 0.40}
_BREATH = 0.12

_ACTIVE = 10 ** (-20 / 20)
_KNEE, _CEILING = 10 ** (-6 / 20), 10 ** (-3 / 20)
_FRAME = 0.01
_LEAD, _TAIL, _FADE = 0.015, 0.04, 0.005


class Voice(Protocol):
    """Turns words into sound. One thread at a time may render."""

    name: str
    rate: int

    def render(self, text: str, pace: str = "prose", speed: float = 1.0) -> np.ndarray:
        """Float32 mono at `rate`, `speed` times as fast as usual, within −3 dBFS, no silence at either end; empty for no words. Paces: `PACES`."""


def finish(samples: np.ndarray, rate: int) -> np.ndarray:
    """Raw speech brought to the house level: trimmed, −20 dBFS while active, peaks below −3 dBFS, 5 ms edges.

    The active level is the mean square of the 10 ms frames within 25 dB of the loudest (a plain form of ITU-T P.56).
    """
    sound = _trim(samples.astype(np.float32), rate)
    if not len(sound):
        return sound
    sound = limit(sound * (_ACTIVE / active_level(sound, rate)))
    edge = min(int(_FADE * rate), len(sound) // 2)
    ramp = np.linspace(0, 1, edge, endpoint=False, dtype=np.float32)
    sound[:edge] *= ramp
    sound[len(sound) - edge:] *= ramp[::-1]
    return sound


def active_level(samples: np.ndarray, rate: int) -> float:
    """Root mean square (0 to 1) of the parts that are speech."""
    powers = _powers(samples, rate)
    return float(np.sqrt(powers[powers >= powers.max() * 10 ** -2.5].mean()))


def pauses(parts: list[str], pace: str) -> list[float]:
    """Seconds of silence before each part of a text: none, a breath after a comma, more after a sentence."""
    return [0.0, *(_BREATH if part[-1] in ",;:" else _PAUSE[pace] for part in parts[:-1])][:len(parts)]


def spoken(parts: list[str], pace: str, render: Callable[[str], np.ndarray]) -> np.ndarray:
    """The parts of a text one after the other, each through `render` (raw samples at `RATE`) and `finish`."""
    sounds = [np.zeros(0, np.float32)]
    for part, pause in zip(parts, pauses(parts, pace)):
        sounds += [np.zeros(int(pause * RATE), np.float32), finish(render(part), RATE)]
    return np.concatenate(sounds)


def _powers(samples: np.ndarray, rate: int) -> np.ndarray:
    frame = int(_FRAME * rate)
    padded = np.pad(samples, (0, -len(samples) % frame))
    return np.square(padded.reshape(-1, frame), dtype=np.float64).mean(1)


def _trim(samples: np.ndarray, rate: int) -> np.ndarray:
    """Cuts what lies 45 dB and more below the loudest frame at either end: a voice's silence delays its first word."""
    if not len(samples) or not np.any(samples):
        return np.zeros(0, np.float32)
    powers = _powers(samples, rate)
    loud = np.flatnonzero(powers > powers.max() * 10 ** -4.5)
    frame = int(_FRAME * rate)
    first = max(0, loud[0] * frame - int(_LEAD * rate))
    return samples[first:(loud[-1] + 1) * frame + int(_TAIL * rate)]


def limit(samples: np.ndarray) -> np.ndarray:
    """Bends peaks above −6 dBFS so that none reaches −3 dBFS; turning the whole down would vary from line to line."""
    size = np.abs(samples)
    room = _CEILING - _KNEE
    bent = _KNEE + room * np.tanh((size - _KNEE) / room)
    return np.where(size > _KNEE, np.sign(samples) * bent, samples).astype(np.float32)
