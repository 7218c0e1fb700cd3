"""What waits between the player and a loudspeaker's stream: sound at the stream's own rate, taken by the stream's callback.

The callback only copies, for PortAudio calls it on a thread of its own that must never wait for long.
"""
from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

import numpy as np
import soxr

from companion.edge.sound.sinks import AHEAD
from companion.edge.voice.base import RATE
from companion.errors import BrokenMachine

LOST_AFTER = 2.0
"""Seconds without a sign of life after which a device counts as lost."""
STARTING = 5.0
"""The same just after the start, when a sound server may rest for 2 s."""

_FADE = 0.005
"""Seconds in which sound that is dropped fades out: ending at once would click."""
_STEP = 0.01
_MOST_PLAYED = 500


class Loudspeaker:
    """A `Sink` that outlives its device: streams come and go, of any rate; sound is resampled to the stream's own.

    `write` and `drain` raise BrokenMachine where no stream takes the sound for `LOST_AFTER`.
    """

    rate = RATE

    def __init__(self) -> None:
        self._room = threading.Condition()
        self._blocks: deque[np.ndarray] = deque()
        self._waiting = 0
        self._there, self._patient_until = False, 0.0
        self._stream_rate = RATE
        self._resample_afresh()
        self.latency = 0.0
        """Seconds after its callback at which a stream's sound is heard; whoever owns the stream sets it."""
        self.called_at = 0.0
        """When the stream last asked for sound, `time.monotonic()`."""
        self.starved = 0
        """How often the device found nothing where it should have."""
        self.played: deque[tuple[float, int, np.ndarray]] = deque(maxlen=_MOST_PLAYED)
        """The last blocks that went out, silence too: the second at which each sounds on the clock of PortAudio's streams,
        its samples a second, and the block. Whoever cancels the echo takes them."""

    @property
    def sounding(self) -> bool:
        """Whether a stream is there and has something to play."""
        return self._there and self._waiting > 0

    # -- for whoever owns the stream -----------------------------------------------------------------------------------

    def connect(self, rate: int) -> None:
        """A stream of `rate` is about to start. What still waits for another is dropped: `AHEAD` seconds at most."""
        with self._room:
            self._blocks.clear()
            self._waiting = 0
            self._there, self._stream_rate = True, rate
            self._resample_afresh()
            self.called_at = time.monotonic()
            self._patient_until = self.called_at + STARTING

    def disconnect(self) -> None:
        """The stream is gone. Whoever speaks waits for another, but not for long."""
        self._there = False

    def copy(self, out: np.ndarray, frames: int, at, status: object) -> None:  # type: ignore[no-untyped-def]
        """The stream's callback: the next `frames` samples into `out` (frames, channels), else silence."""
        self.starved += bool(status)
        self.called_at = time.monotonic()
        done = 0
        with self._room:
            while self._blocks and done < frames:
                block = self._blocks.popleft()
                taken = min(len(block), frames - done)
                out[done:done + taken] = block[:taken, None]
                if taken < len(block):
                    self._blocks.appendleft(block[taken:])
                done += taken
            self._waiting -= done
            self._room.notify()
        out[done:] = 0
        sounds_at = at.outputBufferDacTime or self.called_at + self.latency
        self.played.append((sounds_at, self._stream_rate, out[:, 0].copy()))

    # -- for the player ------------------------------------------------------------------------------------------------

    def write(self, samples: np.ndarray) -> None:
        """See `Sink`."""
        with self._room:
            if not self._room.wait_for(self._has_room, self._patience()):
                raise lost("loudspeaker")
            self._take(samples.astype(np.float32))

    def drain(self, stopped: Callable[[], bool]) -> None:
        """See `Sink`."""
        with self._room:
            self._take(np.zeros(0, np.float32), last=True)
            self._resample_afresh()
        limit = time.monotonic() + self._patience()
        while self._waiting and not stopped():
            if time.monotonic() > limit:
                raise lost("loudspeaker")
            time.sleep(_STEP)
        limit = time.monotonic() + self.latency
        while time.monotonic() < limit and not stopped():
            time.sleep(_STEP)

    def drop(self) -> int:
        """See `Sink`."""
        with self._room:
            held = np.concatenate([*self._blocks, np.zeros(0, np.float32)])
            kept = min(len(held), int(_FADE * self._stream_rate))
            self._blocks = deque([held[:kept] * np.linspace(1, 0, kept, dtype=np.float32)])
            self._waiting = kept
            dropped = self._resampler_holds() + round((len(held) - kept) * RATE / self._stream_rate)
            self._resample_afresh()
            return dropped

    def close(self) -> None:
        """See `Sink`. Whoever owns the stream closes it."""

    def _has_room(self) -> bool:
        return self._there and self._waiting < AHEAD * self._stream_rate

    def _patience(self) -> float:
        return STARTING if time.monotonic() < self._patient_until else LOST_AFTER

    def _take(self, samples: np.ndarray, last: bool = False) -> None:
        sound = self._resampler.resample_chunk(samples, last=last)
        self._fed, self._given = self._fed + len(samples), self._given + len(sound)
        self._blocks.append(sound)
        self._waiting += len(sound)

    def _resample_afresh(self) -> None:
        self._resampler = soxr.ResampleStream(RATE, self._stream_rate, 1)
        self._fed = self._given = 0

    def _resampler_holds(self) -> int:
        """Samples that the resampler has taken and not yet given back at the stream's rate."""
        return max(0, self._fed - round(self._given * RATE / self._stream_rate))


def lost(name: str) -> BrokenMachine:
    """The fault of a device that was there and is gone."""
    return BrokenMachine(name, "the device must keep running", f"silent for {LOST_AFTER:.0f} s",
                         "Connect it again. Without sound, run the job with --typed")
