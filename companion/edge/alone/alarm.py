"""The day's test of the alarm: it is sounded at its loudest, and where a microphone can hear it, held against the noise.

ISO 7731 (from memory): a danger signal is clearly audible where its A-weighted level is 15 dB or more above the noise.
What level that is in the room no microphone tells without calibration, so only the difference is judged. A headset's
sound does not reach its microphone: then only the mechanic can say whether it was heard.
"""
from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np

from companion.core.job.inputs import AlarmHeard
from companion.edge.ear.base import RATE
from companion.edge.room import powers

TESTED = "alarm-tested"
"""The file in the device's folder that holds the day of the last test."""
COMING = "Alarm test. It is loud."
QUIET_S, SOUNDING_S = 1.0, 4.5
CLEAR_DB = 15.0
REACHED_DB = 3.0
"""Below it nothing of the alarm can be told from the noise."""
_WINDOW = 10
"""Frames of 50 ms over which a level is taken, as an ear does."""


def due(folder: Path, today: date) -> bool:
    """Whether the alarm has not been tested on this day."""
    try:
        return (folder / TESTED).read_text(encoding="ascii").strip() != today.isoformat()
    except (OSError, ValueError):
        return True


def note(folder: Path, today: date) -> None:
    """It has been tested. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    (folder / TESTED).write_text(f"{today.isoformat()}\n", encoding="ascii")


def alarm_check(say: Callable[[str], None], sound: Callable[[str], None], hear: Callable[[float], np.ndarray]) -> AlarmHeard:
    """`say` returns when its last word has sounded, `sound` begins a tone and returns, `hear` gives the next so many seconds
    of the microphone at 16 kHz."""
    say(COMING)
    quiet = hear(QUIET_S)
    sound("alarm 3")
    return judged(quiet, hear(SOUNDING_S))


def judged(quiet: np.ndarray, loud: np.ndarray, rate: int = RATE) -> AlarmHeard:
    """What a second of noise and the seconds of the alarm show; float32 mono, −1 to 1."""
    noise = max(float(powers(quiet, rate).mean()), 1e-12)
    frames = powers(loud, rate)
    window = min(_WINDOW, len(frames))
    alarm = float(np.convolve(frames, np.ones(window) / window, "valid").max())
    ratio = 10 * np.log10(max(alarm - noise, 1e-12) / noise)
    noise_db = Decimal(f"{10 * np.log10(noise):.1f}")
    if ratio < REACHED_DB:
        return AlarmHeard("not measured", noise_db)
    return AlarmHeard("clear" if ratio >= CLEAR_DB else "weak", noise_db, Decimal(f"{ratio:.1f}"))
