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
_BEGINS = (b"RIFF", b"RIFX", b"RF64", b"fLaC")
"""Of WAV and FLAC. The library knows two dozen other formats; it is not shown them."""
_BLOCK_SECONDS, _BLOCK_VALUES = 1.0, 2**20
"""What is read at a time: the less of the two, since a file may say that it has a thousand channels."""
MOST_HOURS = 4
"""Of one file: a few kilobytes of FLAC can hold days of silence."""


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
        at_once = max(1, min(int(rate * _BLOCK_SECONDS), _BLOCK_VALUES // self._file.channels))
        left, most = self._file.frames, rate * 3600 * MOST_HOURS
        while self._open and left > 0:
            block = self._read(min(left, at_once))
            left, most = left - len(block) if len(block) else 0, most - len(block)
            if most < 0:
                raise BadInput(self._path, f"a sound file must be at most {MOST_HOURS} hours long")
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
        if Path(path).exists() and not Path(path).is_file():
            raise _unreadable(path, "a folder, a pipe or a device")
        with open(path, "rb") as begins:
            if begins.read(4) not in _BEGINS:
                raise _unreadable(path, "another format")
        file = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, OSError, RuntimeError, TypeError) as fault:
        reason = "nothing there" if isinstance(fault, FileNotFoundError) else getattr(fault, "strerror", None) or str(fault)
        raise _unreadable(path, reason) from fault
    if not _LOWEST <= file.samplerate <= _HIGHEST:
        file.close()
        raise _unreadable(path, f"{file.samplerate} samples a second")
    return file


def _unreadable(path: str, found: str) -> BadInput:
    return BadInput(path, "must be a WAV or FLAC sound file", found)
