"""How loud speech and noise are, and speech mixed with noise at a given ratio.

Levels are in dB relative to full scale, a square wave of ±1 having 0. Speech is measured while somebody speaks, after
ITU-T P.56 method B (from memory), noise by its root mean square over just the stretch that it is mixed into.
"""
from __future__ import annotations

import math
from itertools import accumulate

import numpy as np

from companion.edge.ear import RATE

SPEECH_DB = -26.0
"""What speech is brought to before mixing: the usual level of speech tests (common practice, no source)."""
SIDE_S = 0.6
"""Noise alone, before and after the speech."""
HISS_DB = -66.0
"""Of the quiet room's white noise where nothing else is mixed in (own choice): no microphone is silent."""
_SMOOTHING_S, _HANGOVER_S, _MARGIN_DB, _THRESHOLDS = 0.03, 0.2, 15.9, 15
_FAINTEST = 1e-7


def active_level(speech: np.ndarray) -> tuple[float, float]:
    """The level of speech in dB and the share of the time (0 to 1) in which it is active; (−inf, 0) for silence.

    The rectified signal goes through two one-pole smoothers of 0.03 s. For each of 15 thresholds, an octave apart, a
    sample is active while the envelope is above it or was within the last 0.2 s. The threshold that lies 15.9 dB below
    the level it gives itself is the one that counts, read between two of them. P.56 from memory.
    """
    sound = np.asarray(speech, np.float64).ravel()
    power = float(np.square(sound).sum())
    if not len(sound) or power < _FAINTEST ** 2 * len(sound):
        return -math.inf, 0.0
    envelope, below = _envelope(sound), None
    for step in range(_THRESHOLDS, 0, -1):
        active = _active(envelope, 2.0 ** -step)
        if not active:
            break
        level, threshold = _decibels(power / active), -step * _decibels(4)
        excess = level - threshold - _MARGIN_DB
        if excess <= 0:
            level = _between(below, (excess, level)) if below else level
            return level, power / 10 ** (level / 10) / len(sound)
        below = (excess, level)
    level = below[1] if below else _decibels(power / len(sound))
    return level, power / 10 ** (level / 10) / len(sound)


def noise_level(noise: np.ndarray) -> float:
    """The root mean square in dB; −inf for silence."""
    power = float(np.square(np.asarray(noise, np.float64)).mean()) if len(noise) else 0.0
    return _decibels(power) if power > 0 else -math.inf


def mixed(speech: np.ndarray, noise: np.ndarray | None, snr: float | None, random: np.random.Generator) -> np.ndarray:
    """Speech at `SPEECH_DB` with noise `snr` dB below it, running before, under and after; None: a quiet room's hiss.

    Float32 at 16 kHz, 0.6 s longer at each end than `speech`. The stretch of noise is drawn from `random`, and a short
    noise is repeated. Where the sum would clip, all of it is made fainter.
    """
    side = int(SIDE_S * RATE)
    level, _ = active_level(speech)
    sound = np.pad(np.asarray(speech, np.float64) * _factor(SPEECH_DB - level if level > -math.inf else 0), side)
    if noise is None or snr is None:
        return (sound + random.standard_normal(len(sound)) * _factor(HISS_DB)).astype(np.float32)
    return unclipped(sound + at_level(stretch(noise, len(sound), random), SPEECH_DB - snr))


def at_level(noise: np.ndarray, level: float) -> np.ndarray:
    """The noise with a root mean square of `level` dB; silence stays silence."""
    own = noise_level(noise)
    return noise * _factor(level - own) if own > -math.inf else noise


def stretch(noise: np.ndarray, size: int, random: np.random.Generator) -> np.ndarray:
    """So many samples from anywhere in the noise. A silent stretch is not taken: five places are tried, then the
    loudest is."""
    noise = np.asarray(noise, np.float64)
    for _ in range(5):
        found = np.take(noise, np.arange(size) + int(random.integers(len(noise))), mode="wrap")
        if noise_level(found) > noise_level(noise) - 20:
            return found
    return np.take(noise, np.arange(size) + int(np.abs(noise).argmax()) - size // 2, mode="wrap")


def unclipped(sound: np.ndarray) -> np.ndarray:
    """Made fainter where it would clip."""
    return (sound / max(1.0, float(np.abs(sound).max(initial=0.0)) / 0.99)).astype(np.float32)


def _envelope(sound: np.ndarray) -> np.ndarray:
    keep = math.exp(-1 / (RATE * _SMOOTHING_S))
    take = 1 - keep
    once = accumulate(np.abs(sound).tolist(), lambda past, now: keep * past + take * now, initial=0.0)
    return np.fromiter(accumulate(once, lambda past, now: keep * past + take * now), float, len(sound) + 1)[1:]


def _active(envelope: np.ndarray, threshold: float) -> int:
    """Samples with the envelope above the threshold now or within the hangover."""
    place = np.arange(len(envelope))
    hangover = math.ceil(_HANGOVER_S * RATE)
    last = np.maximum.accumulate(np.where(envelope >= threshold, place, -hangover - 1))
    return int((place - last <= hangover).sum())


def _between(below: tuple[float, float], above: tuple[float, float]) -> float:
    share = below[0] / (below[0] - above[0])
    return below[1] + share * (above[1] - below[1])


def _decibels(power: float) -> float:
    return 10 * math.log10(power)


def _factor(decibels: float) -> float:
    return 10 ** (decibels / 20)
