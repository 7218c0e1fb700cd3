"""Short tones: heard, not understood (again), time up, alarm, memo (speak now). Each differs in shape and pitch, 500 to 1500 Hz.

ISO 7731 wants a signal's main energy between 500 and 2500 Hz; that these are told apart by ear is common practice, no
source.
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
}
_PEAK = 10 ** (-12 / 20)
_EDGE = 0.005


def tone(kind: str, rate: int) -> np.ndarray:
    """A tone of `TONES` as float32 mono at `rate`, peaks at −12 dBFS, 5 ms edges. Raises BadInput for another kind."""
    if kind not in TONES:
        raise BadInput("tone", "must be one of " + ", ".join(TONES), repr(kind))
    return np.concatenate([_note(frequency, seconds, rate) for frequency, seconds in TONES[kind]])


def _note(frequency: float, seconds: float, rate: int) -> np.ndarray:
    """A sine with a quiet octave above it; a gap for 0 Hz."""
    turns = 2 * np.pi * frequency * np.arange(int(seconds * rate)) / rate
    edge = np.minimum(1, np.arange(len(turns)) / (_EDGE * rate))
    return (_PEAK * (0.8 * np.sin(turns) + 0.2 * np.sin(2 * turns)) * edge * edge[::-1]).astype(np.float32)
