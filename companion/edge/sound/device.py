"""The loudspeaker and the microphone through PortAudio. `sounddevice` is imported only when one is opened.

The sound library's own thread only copies blocks in or out; everything else happens on the caller's thread.
"""
from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator

import numpy as np
import soxr

from companion.edge.sound.sinks import AHEAD
from companion.edge.sound.sources import CHUNK, EAR_RATE
from companion.errors import BrokenMachine

LOST_AFTER = 2.0
"""Seconds without a sign of life after which a device counts as lost."""

_STARTING = 5.0
_LATENCY = {"loudspeaker": 0.05, "microphone": 0.03}
_FADE = 0.005
_STEP = 0.01
_MOST_BLOCKS = 2_000


class SpeakerSink:
    """The loudspeaker. `rate` is the device's own. Raises BrokenMachine where there is none."""

    def __init__(self, device: int | str | None = None) -> None:
        library = _library()
        self.rate = _own_rate(library, device, "output")
        self._blocks: deque[np.ndarray] = deque()
        self._room = threading.Condition()
        self._patience = _Patience()
        self._waiting = 0
        self.starved = 0
        """How often the device found nothing where it should have."""
        self._stream = _opened(library.OutputStream, "loudspeaker", device, self.rate, self._copy)

    def write(self, samples: np.ndarray) -> None:
        """See `Sink`."""
        with self._room:
            if not self._room.wait_for(lambda: self._waiting < AHEAD * self.rate, self._patience()):
                raise _lost("loudspeaker")
            self._blocks.append(samples)
            self._waiting += len(samples)

    def drain(self, stopped: Callable[[], bool]) -> None:
        """See `Sink`."""
        limit = time.monotonic() + self._patience()
        while self._waiting and not stopped():
            if time.monotonic() > limit:
                raise _lost("loudspeaker")
            time.sleep(_STEP)
        limit = time.monotonic() + self._stream.latency
        while time.monotonic() < limit and not stopped():
            time.sleep(_STEP)

    def drop(self) -> int:
        """See `Sink`."""
        with self._room:
            held = np.concatenate([*self._blocks, np.zeros(0, np.float32)])
            kept = min(len(held), int(_FADE * self.rate))
            self._blocks = deque([held[:kept] * np.linspace(1, 0, kept, dtype=np.float32)])
            self._waiting = kept
            return len(held) - kept

    def close(self) -> None:
        """See `Sink`."""
        self._stream.close()

    def _copy(self, out: np.ndarray, frames: int, _time: object, status: object) -> None:
        """PortAudio's callback: the next `frames` samples into `out` (frames, channels), else silence."""
        self.starved += bool(status)
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


class MicrophoneSource:
    """The microphone, resampled from its own rate. Raises BrokenMachine where there is none, or once it is lost."""

    def __init__(self, device: int | str | None = None) -> None:
        library = _library()
        rate = _own_rate(library, device, "input")
        self._heard: queue.Queue[np.ndarray | None] = queue.Queue(_MOST_BLOCKS)
        self.missed = 0
        """Blocks that were lost because nobody took them, or the device gave none."""
        self._patience = _Patience()
        self._resampler = soxr.ResampleStream(rate, EAR_RATE, 1)
        self._stream = _opened(library.InputStream, "microphone", device, rate, self._copy)

    def chunks(self) -> Iterator[np.ndarray]:
        """See `Source`. Waits for sound; raises BrokenMachine if the device gives none for 2 s."""
        rest = np.zeros(0, np.float32)
        while True:
            try:
                block = self._heard.get(timeout=self._patience())
            except queue.Empty:
                raise _lost("microphone") from None
            if block is None:
                return
            rest = np.concatenate([rest, self._resampler.resample_chunk(block)])
            while len(rest) >= CHUNK:
                yield rest[:CHUNK]
                rest = rest[CHUNK:]

    def close(self) -> None:
        """See `Source`."""
        self._stream.close()
        try:
            self._heard.put_nowait(None)
        except queue.Full:
            self._heard.get_nowait()
            self._heard.put_nowait(None)

    def _copy(self, block: np.ndarray, _frames: int, _time: object, status: object) -> None:
        self.missed += bool(status)
        try:
            self._heard.put_nowait(block.mean(1))
        except queue.Full:
            self.missed += 1


class _Patience:
    """How long to wait for a sign of life: longer just after the start, when a sound server may rest for 2 s."""

    def __init__(self) -> None:
        self._started = time.monotonic()

    def __call__(self) -> float:
        return LOST_AFTER if time.monotonic() > self._started + _STARTING else _STARTING


def _library():  # type: ignore[no-untyped-def]
    """The module `sounddevice`. Raises BrokenMachine where PortAudio is missing."""
    try:
        import sounddevice

        return sounddevice
    except (ImportError, OSError) as fault:
        raise BrokenMachine("sound", "PortAudio must be installed for the loudspeaker and the microphone",
                            str(fault), f"On Linux: apt-get install libportaudio2. {_TYPED}") from fault


def _own_rate(library, device: int | str | None, kind: str) -> int:  # type: ignore[no-untyped-def]
    name = {"output": "loudspeaker", "input": "microphone"}[kind]
    try:
        return round(library.query_devices(device, kind)["default_samplerate"])
    except (library.PortAudioError, ValueError) as fault:
        raise _missing(name, fault) from fault


def _opened(stream_class, name, device, rate, callback):  # type: ignore[no-untyped-def]
    """A running stream of one channel or, where the device has no such thing, two."""
    for channels in (1, 2):
        try:
            stream = stream_class(device=device, samplerate=rate, channels=channels, dtype="float32",
                                  latency=_LATENCY[name], callback=callback)
            stream.start()
            return stream
        except Exception as fault:  # PortAudioError, or ValueError for a device that cannot do this
            reason = fault
    raise _missing(name, reason)


_TYPED = "Without sound, run the job with --typed"


def _missing(name: str, fault: Exception) -> BrokenMachine:
    return BrokenMachine(name, "a device must be there", str(fault),
                         f"Connect one and check the system's sound settings. {_TYPED}")


def _lost(name: str) -> BrokenMachine:
    return BrokenMachine(name, "the device must keep running", f"silent for {LOST_AFTER:.0f} s",
                         f"Connect it again. {_TYPED}")
