"""What waits between a microphone's stream and the ear: 16 kHz, side by side with what the loudspeaker was given.

The two devices run on clocks of their own and hand over their sound in bursts. Microphone and loudspeaker are therefore
paired in the order of arrival: sound goes out before it can come back in, so the echo in a frame is always later than
its cause in `played`, and the echo canceller finds by how much.
"""
from __future__ import annotations

import queue
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import soxr

from companion.edge.sound.loudspeaker import Loudspeaker, lost
from companion.edge.sound.sources import EAR_RATE

FRAME = 320
"""Samples in a frame: 20 ms at 16 kHz."""

_MOST_BLOCKS = 2_000
_LONGEST_LAG = int(0.08 * EAR_RATE)
_MOST_OWED = EAR_RATE // 4
_LOOK_BACK = int(5 * EAR_RATE / FRAME)


@dataclass(frozen=True)
class Frame:
    """20 ms of both."""

    heard: np.ndarray
    """Float32 (320,) at 16 kHz: the microphone."""
    played: np.ndarray
    """The same length: what the loudspeaker was given meanwhile."""


class Microphone:
    """Takes blocks of one or more channels from a stream's callback; streams come and go."""

    def __init__(self) -> None:
        self._blocks: "queue.Queue[tuple[int, np.ndarray] | None]" = queue.Queue(_MOST_BLOCKS)
        self._rate = self._own_rate = EAR_RATE
        self.called_at = 0.0
        """When the stream last brought sound, `time.monotonic()`."""
        self.sounded_at = 0.0
        """When it last brought anything but plain zeros."""
        self.missed = 0
        """Blocks that were lost because nobody took them, or the device gave none."""
        self.patience: float | None = None
        """Seconds that `sound` waits before it raises BrokenMachine; None for as long as it takes."""
        self._resampler = soxr.ResampleStream(EAR_RATE, EAR_RATE, 1)

    @property
    def waiting(self) -> bool:
        """Whether sound has come that nobody has taken yet."""
        return not self._blocks.empty()

    def connect(self, rate: int) -> None:
        """A stream of `rate` is about to start; what is left of another is dropped."""
        while not self._blocks.empty():
            self._blocks.get_nowait()
        self._own_rate = rate
        self.called_at = self.sounded_at = time.monotonic()

    def copy(self, block: np.ndarray, _frames: int, _time: object, status: object) -> None:
        """The stream's callback: `block` is float32 (frames, channels)."""
        self.missed += bool(status)
        self.called_at = time.monotonic()
        if block.any():
            self.sounded_at = self.called_at
        try:
            self._blocks.put_nowait((self._own_rate, block.mean(1)))
        except queue.Full:
            self.missed += 1

    def end(self) -> None:
        """No more sound comes: `sound` ends."""
        try:
            self._blocks.put_nowait(None)
        except queue.Full:
            self._blocks.get_nowait()
            self._blocks.put_nowait(None)

    def sound(self) -> np.ndarray | None:
        """The next sound at 16 kHz, of any length; waits for it. None at the end."""
        try:
            taken = self._blocks.get(timeout=self.patience)
        except queue.Empty:
            raise lost("microphone") from None
        if taken is None:
            return None
        rate, block = taken
        if rate != self._rate:
            self._rate, self._resampler = rate, soxr.ResampleStream(rate, EAR_RATE, 1)
        return self._resampler.resample_chunk(block)


class Reference:
    """What the loudspeaker was given, at 16 kHz, in step with the microphone.

    Where a burst is late the frame is filled with silence, and the same length of the late sound is dropped. Where the
    loudspeaker's clock is the faster one, more than 80 ms that were never needed for five seconds are dropped too.
    """

    def __init__(self, loudspeaker: Loudspeaker) -> None:
        self._loudspeaker = loudspeaker
        self._spare: deque[int] = deque(maxlen=_LOOK_BACK)
        self._begin()

    def take(self, size: int) -> np.ndarray:
        """The next `size` samples."""
        if self._stream != self._loudspeaker.stream:
            self._begin()
        while self._loudspeaker.played:
            block = self._loudspeaker.played.popleft()
            self._kept = np.concatenate([self._kept, self._resampler.resample_chunk(block)])
        late = min(self._owed, len(self._kept))
        self._kept, self._owed = self._kept[late:], self._owed - late
        frame, self._kept = self._kept[:size], self._kept[size:]
        missing = size - len(frame)
        self._owed = min(self._owed + missing, _MOST_OWED)
        self._settle()
        return np.pad(frame, (0, missing))

    def _begin(self) -> None:
        """Another stream of the loudspeaker than before."""
        self._stream = self._loudspeaker.stream
        self._resampler = soxr.ResampleStream(self._stream[1], EAR_RATE, 1)
        self._kept, self._owed = np.zeros(0, np.float32), 0
        self._spare.clear()

    def _settle(self) -> None:
        self._spare.append(len(self._kept))
        spare = min(self._spare)
        if len(self._spare) == self._spare.maxlen and spare > _LONGEST_LAG:
            self._kept = self._kept[spare:]
            self._spare.clear()


def frames(sound: Callable[[], np.ndarray | None], reference: Reference):
    """Frames of both, until `sound` gives None."""
    rest = np.zeros(0, np.float32)
    while (more := sound()) is not None:
        rest = np.concatenate([rest, more])
        while len(rest) >= FRAME:
            yield Frame(rest[:FRAME], reference.take(FRAME))
            rest = rest[FRAME:]
