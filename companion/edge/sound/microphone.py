"""What waits between a microphone's stream and the ear: 16 kHz, side by side with what the loudspeaker was given.

The two devices run on clocks of their own, hand over their sound in bursts, and lose some when the machine is busy. Each
block carries the second at which it sounds or sounded, on the clock that PortAudio's streams share. Sound is put in step by
that, so that the echo in a frame is always a little later than its cause in `played`; the echo canceller finds by how much.
"""
from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import soxr

from companion.edge.sound.loudspeaker import Loudspeaker, lost
from companion.edge.sound.sources import EAR_RATE

FRAME = 320
"""Samples in a frame: 20 ms at 16 kHz."""
EARLY_S = 0.03
"""So much earlier than its own time the cause is given, lest a wrong clock put it after its echo."""

_MOST_BLOCKS = 2_000
_JITTER_S = 0.015
"""So far beside the end of the block before it a block's time may lie; half of `EARLY_S`, for both sides may be wrong."""
_KEPT_S = 3.0
"""The longest gap that is filled with silence."""


@dataclass(frozen=True)
class Frame:
    """20 ms of both."""

    heard: np.ndarray
    """Float32 (320,) at 16 kHz: the microphone."""
    played: np.ndarray
    """The same length: what the loudspeaker was given to sound 30 ms later."""
    shifted: bool = False
    """Sound was lost on one side: from here on an echo may follow its cause at another distance than before."""


class Line:
    """Sound at 16 kHz with the second at which each sample stands; what was lost is a gap of silence.

    The last of it is held back by the resampler: steadily 13 ms from 44.1 and 48 kHz, 30 ms from 8 kHz. Without `vr` that
    would be up to 40 and 115 ms (measured, soxr 1.1.0, blocks of 20 ms): the cause would be known later than its echo.
    """

    def __init__(self) -> None:
        self._rate, self._next = 0, 0.0
        self.begin = 0.0
        """Second of the first sample kept."""
        self.sound = np.zeros(0, np.float32)
        self.shifted = False
        """Whether sound was lost since this was last set false."""

    def add(self, at: float, rate: int, block: np.ndarray) -> None:
        """A block of `rate` samples a second, the first of them at second `at`."""
        if rate != self._rate:
            self.shifted = self.shifted or self._rate != 0
            self._rate = rate
            self._resampler = soxr.ResampleStream(rate, EAR_RATE, 1, vr=rate != EAR_RATE)
            self.sound, self.begin, self._next = np.zeros(0, np.float32), at, at
        if abs(at - self._next) > _JITTER_S:
            self.shifted = True
            self._move_end(at - self._next)
            self._next = at
        self._next += len(block) / rate
        self.sound = np.concatenate([self.sound, self._resampler.resample_chunk(block)])

    def take(self, until: float) -> np.ndarray:
        """What stands before second `until`, which is then no longer kept; nothing is waited for."""
        size = min(max(0, round((until - self.begin) * EAR_RATE)), len(self.sound))
        taken, self.sound = self.sound[:size], self.sound[size:]
        self.begin += size / EAR_RATE
        return taken

    def _move_end(self, seconds: float) -> None:
        """A gap is filled with silence; what would stand twice goes; after a jump all that follows stands elsewhere."""
        gap = round(seconds * EAR_RATE)
        if abs(gap) > _KEPT_S * EAR_RATE or -gap > len(self.sound):
            self.sound, self.begin = np.zeros(0, np.float32), self.begin + len(self.sound) / EAR_RATE + seconds
        else:
            self.sound = np.pad(self.sound, (0, gap)) if gap > 0 else self.sound[:gap]


class Reference:
    """What the loudspeaker was given, in step with the microphone."""

    def __init__(self, loudspeaker: Loudspeaker) -> None:
        self._loudspeaker, self._line = loudspeaker, Line()

    def take(self, at: float) -> tuple[np.ndarray, bool]:
        """A frame of what sounds from second `at` on, silence where nothing does; whether some was lost."""
        played = self._loudspeaker.played
        while played:
            self._line.add(*played.popleft())
        self._line.take(at)
        late = min(FRAME, max(0, round((self._line.begin - at) * EAR_RATE)))
        sound = self._line.take(at + FRAME / EAR_RATE)[:FRAME - late]
        shifted, self._line.shifted = self._line.shifted, False
        return np.pad(sound, (late, FRAME - late - len(sound))), shifted


class Microphone:
    """Takes blocks of one or more channels from a stream's callback; streams come and go."""

    def __init__(self) -> None:
        self._blocks: "queue.Queue[tuple[float, int, np.ndarray] | None]" = queue.Queue(_MOST_BLOCKS)
        self._rate = EAR_RATE
        self.called_at = 0.0
        """When the stream last brought sound, `time.monotonic()`."""
        self.zeros_s = 0.0
        """Seconds of plain zeros since it last brought anything else."""
        self.overflowed = 0
        """How often the device lost sound that nobody fetched in time."""
        self.patience: float | None = None
        """Seconds that `frames` waits before it raises BrokenMachine; None for as long as it takes."""

    @property
    def waiting(self) -> bool:
        """Whether sound has come that nobody has taken yet."""
        return not self._blocks.empty()

    def connect(self, rate: int) -> None:
        """A stream of `rate` is about to start; what is left of another is dropped."""
        self.forget()
        self._rate = rate
        self.called_at = time.monotonic()

    def forget(self) -> None:
        """What nobody has taken yet is dropped."""
        with contextlib.suppress(queue.Empty):  # `frames` may take the last one first
            while True:
                self._blocks.get_nowait()

    def copy(self, block: np.ndarray, _frames: int, at, status: object) -> None:  # type: ignore[no-untyped-def]
        """The stream's callback: `block` is float32 (frames, channels). What is lost shows by the times of what follows."""
        self.called_at = time.monotonic()
        self.overflowed += bool(status)
        seconds = len(block) / self._rate
        self.zeros_s = 0.0 if block.any() else self.zeros_s + seconds
        with contextlib.suppress(queue.Full):  # nobody takes it
            self._blocks.put_nowait((at.inputBufferAdcTime or self.called_at - seconds, self._rate, block.mean(1)))

    def end(self) -> None:
        """No more sound comes: `frames` ends."""
        try:
            self._blocks.put_nowait(None)
        except queue.Full:
            self._blocks.get_nowait()
            self._blocks.put_nowait(None)

    def _next(self) -> tuple[float, int, np.ndarray] | None:
        try:
            return self._blocks.get(timeout=self.patience)
        except queue.Empty:
            raise lost("microphone") from None

    def frames(self, reference: Reference) -> Iterator[Frame]:
        """Frames of both, until the end."""
        line = Line()
        while (block := self._next()) is not None:
            line.add(*block)
            while len(line.sound) >= FRAME:
                at = line.begin
                heard = line.take(at + FRAME / EAR_RATE)
                played, shifted = reference.take(at + EARLY_S)
                shifted, line.shifted = shifted or line.shifted, False
                yield Frame(heard, played, shifted)
