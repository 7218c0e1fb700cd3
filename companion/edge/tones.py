"""Short tones: heard, not understood (again), time up, alarms, memo (speak now). Each differs in shape and pitch, 500 to 1500 Hz.

ISO 7731 wants a signal's main energy between 500 and 2500 Hz, and pulses from 0.2 to 5 a second (from memory); that these are
told apart by ear is common practice, no source. The alarm for a mechanic who does not answer rises: longer and louder.
"""
from __future__ import annotations

import numpy as np

from companion.errors import BadInput

# (frequency in Hz, seconds) one after the other; 0 Hz is a gap.
TONES: dict[str, tuple[tuple[float, float], ...]] = {
    "heard": ((1175, 0.07),),
    "again": ((784, 0.09), (0, 0.03), (523, 0.14)),
    "time": ((988, 0.12), (0, 0.06), (988, 0.12), (0, 0.06), (988, 0.24)),
    "memo": ((880, 0.3),),
    "alarm": ((1397, 0.15), (698, 0.15)) * 4,
    "alarm 1": ((1397, 0.15), (698, 0.15)) * 5,
    "alarm 2": ((1397, 0.15), (698, 0.15)) * 8,
    "alarm 3": ((1397, 0.15), (698, 0.15)) * 12,
}
_USUAL_DB = -12.0
LOUD_DB = {"alarm 2": -6.0, "alarm 3": -1.0}
"""Peaks of those that are louder than the rest, dBFS. In a headset none is: a tone as loud as this can be at the ear harms."""
_EDGE = 0.005


def tone(kind: str, rate: int, headset: bool = False) -> np.ndarray:
    """A tone of `TONES` as float32 mono at `rate`, peaks at −12 dBFS or as `LOUD_DB` has it, 5 ms edges.

    Raises BadInput for another kind."""
    if kind not in TONES:
        raise BadInput("tone", "must be one of " + ", ".join(TONES), repr(kind))
    peak = 10 ** ((_USUAL_DB if headset else LOUD_DB.get(kind, _USUAL_DB)) / 20)
    return np.concatenate([_note(frequency, seconds, rate, peak) for frequency, seconds in TONES[kind]])


def _note(frequency: float, seconds: float, rate: int, peak: float) -> np.ndarray:
    """A sine with a quiet octave above it; a gap for 0 Hz."""
    turns = 2 * np.pi * frequency * np.arange(int(seconds * rate)) / rate
    edge = np.minimum(1, np.arange(len(turns)) / (_EDGE * rate))
    return (peak * (0.8 * np.sin(turns) + 0.2 * np.sin(2 * turns)) * edge * edge[::-1]).astype(np.float32)
