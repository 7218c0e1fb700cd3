"""Sinks that need no device: one that plays nothing, one that writes a WAV file along the job's own clock."""
from __future__ import annotations

import math
import os
import struct
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import numpy as np

from companion.errors import BrokenMachine

Seconds = Callable[[], float]
AHEAD = 0.04
"""Seconds of sound a sink takes before it is heard: what bounds how soon it can fall silent."""
_STEP = 0.01
_HEADER = struct.Struct("<4sI4s4sIHHIIHH4sI")
_MOST = 2 ** 32 - 64


class Sink(Protocol):
    """Takes float32 mono at `rate`. Owned by one thread. Any method raises BrokenMachine if the sound cannot go out."""

    rate: int

    def write(self, samples: np.ndarray) -> None:
        """Takes a short block (20 ms), waiting until there is room for it."""

    def drain(self, stopped: Callable[[], bool]) -> None:
        """Returns when all that was written has sounded, or `stopped()` is true."""

    def drop(self) -> int:
        """Falls silent at once, without a click; returns how many samples will not sound."""

    def close(self) -> None:
        """Lets go of the device or file."""


class NullSink:
    """Plays nothing and takes no time."""

    def __init__(self, rate: int = 24_000) -> None:
        self.rate = rate
        self.written = 0
        """Samples taken so far."""

    def write(self, samples: np.ndarray) -> None:
        """See `Sink`."""
        self.written += len(samples)

    def drain(self, stopped: Callable[[], bool]) -> None:
        """See `Sink`."""

    def drop(self) -> int:
        """See `Sink`."""
        return 0

    def close(self) -> None:
        """See `Sink`."""


class FileSink:
    """A 16-bit WAV file in which each word stands at the second of the job in which it was spoken, silence between.

    `now` gives the seconds since the start of the job. `pause` passes time, so that a live job goes at its own pace;
    for a simulated clock give one that does nothing: sound is then taken at once, and what would overlap follows on.
    """

    def __init__(self, path: str | Path, rate: int = 24_000, now: Seconds | None = None,
                 pause: Callable[[float], None] = time.sleep) -> None:
        start = time.monotonic()
        self.rate, self._path = rate, str(path)
        self._now = now or (lambda: time.monotonic() - start)
        self._pause = pause
        self._samples = 0
        try:
            self._file = open(path, "wb")
        except OSError as fault:
            raise self._broken(fault) from fault
        self._save()

    def write(self, samples: np.ndarray) -> None:
        """See `Sink`."""
        if self._left() < -AHEAD:  # a little late is joined on: a gap inside a word would click
            self._silence_until(self._now())
        self._append((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
        self._pause(max(0.0, self._left() - AHEAD))

    def drain(self, stopped: Callable[[], bool]) -> None:
        """See `Sink`. The file is whole after it, even if the program is killed later."""
        for _ in range(math.ceil(self._left() / _STEP)):
            if stopped():
                break
            self._pause(_STEP)
        self._save()

    def drop(self) -> int:
        """See `Sink`. At most `AHEAD` seconds are already in the file, and stay there."""
        return 0

    def close(self) -> None:
        """Fills the file with silence up to now and closes it."""
        self._silence_until(self._now())
        self._save()
        self._file.close()

    def _left(self) -> float:
        return self._samples / self.rate - self._now()

    def _silence_until(self, second: float) -> None:
        missing = int(second * self.rate) - self._samples
        while missing > 0:
            block = min(missing, self.rate)
            self._append(bytes(2 * block))
            missing -= block

    def _append(self, data: bytes) -> None:
        try:
            self._file.write(data)
        except (OSError, ValueError) as fault:
            raise self._broken(fault) from fault
        self._samples += len(data) // 2

    def _save(self) -> None:
        """Brings the header up to date. A file of more than 4 GB (a day) keeps the largest size that a WAV can name."""
        size = min(2 * self._samples, _MOST)
        shape = (16, 1, 1, self.rate, 2 * self.rate, 2, 16)
        header = _HEADER.pack(b"RIFF", size + 36, b"WAVE", b"fmt ", *shape, b"data", size)
        try:
            self._file.seek(0)
            self._file.write(header)
            self._file.seek(0, os.SEEK_END)
            self._file.flush()
        except (OSError, ValueError) as fault:
            raise self._broken(fault) from fault

    def _broken(self, fault: Exception) -> BrokenMachine:
        return BrokenMachine(self._path, "the sound must be written to a WAV file", str(fault), "Choose another file")
