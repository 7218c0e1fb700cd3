"""Sound files as the ear wants them: mono, 16 kHz, float32."""
from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile
import soxr

from companion.errors import BadInput

EAR_RATE = 16_000
CHUNK = 512
"""Samples in a chunk: 32 ms, what the pause detector takes."""

_LOWEST, _HIGHEST = 4_000, 384_000
_BLOCK_SECONDS = 1.0


class Source(Protocol):
    """Gives 16 kHz mono float32 in chunks of `CHUNK` samples."""

    def chunks(self) -> Iterator[np.ndarray]:
        """The chunks in order. Ends with the sound, or on `close`."""

    def close(self) -> None:
        """Ends `chunks` soon; may be called from another thread."""


class FileSource:
    """A WAV or FLAC file of any rate and any number of channels. Raises BadInput if it is no sound file.

    The last chunk is filled up with silence. Nothing is paced: whoever reads decides how time passes.
    """

    def __init__(self, path: str | Path) -> None:
        self._path, self._open = str(path), True
        self._file = _opened(self._path)

    @property
    def seconds(self) -> float:
        """How long the file says it is."""
        return self._file.frames / self._file.samplerate

    def chunks(self) -> Iterator[np.ndarray]:
        """See `Source`. Raises BadInput where the file breaks off."""
        rest = np.zeros(0, np.float32)
        for block in self._blocks():
            rest = np.concatenate([rest, block])
            whole = len(rest) // CHUNK * CHUNK
            for start in range(0, whole, CHUNK):
                if not self._open:
                    return
                yield rest[start:start + CHUNK]
            rest = rest[whole:]
        if len(rest):
            yield np.pad(rest, (0, CHUNK - len(rest)))

    def close(self) -> None:
        """See `Source`."""
        self._open = False
        self._file.close()

    def _blocks(self) -> Iterator[np.ndarray]:
        rate = self._file.samplerate
        resampler = soxr.ResampleStream(rate, EAR_RATE, 1)
        left = self._file.frames
        while self._open and left > 0:
            block = self._read(min(left, int(rate * _BLOCK_SECONDS)))
            left = left - len(block) if len(block) else 0
            yield resampler.resample_chunk(block, last=left == 0)

    def _read(self, frames: int) -> np.ndarray:
        try:
            block = self._file.read(frames, dtype="float32", always_2d=True)
        except (soundfile.LibsndfileError, RuntimeError) as fault:
            raise _unreadable(self._path, str(fault)) from fault
        sound = np.clip(np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0), -1, 1)  # no microphone gives more
        return sound.mean(1, dtype=np.float32)


def read_sound(path: str | Path) -> np.ndarray:
    """A whole sound file as 16 kHz mono float32. Raises BadInput if it is none."""
    source = FileSource(path)
    try:
        parts = list(source.chunks())
    finally:
        source.close()
    return np.concatenate(parts) if parts else np.zeros(0, np.float32)


def _opened(path: str) -> soundfile.SoundFile:
    try:
        file = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, OSError, RuntimeError, TypeError) as fault:
        reason = "nothing there" if not Path(path).exists() else str(fault)
        raise _unreadable(path, reason) from fault
    if not _LOWEST <= file.samplerate <= _HIGHEST:
        file.close()
        raise _unreadable(path, f"{file.samplerate} samples a second")
    return file


def _unreadable(path: str, found: str) -> BadInput:
    return BadInput(path, "must be a WAV or FLAC sound file", found)
