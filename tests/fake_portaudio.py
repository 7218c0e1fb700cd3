"""Stands for `sounddevice`, and for the time: devices are plugged in and pulled out, callbacks come only when told.

As the real library, it sees no device that was connected after it started.
"""
from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

KINDS = {"input": "microphone", "output": "loudspeaker"}


class FakeError(Exception):
    """What PortAudio raises."""


class FakeStream:
    """Of one device."""

    def __init__(self, sounds: "FakePortAudio", part: str, options: dict[str, Any]) -> None:
        if part not in sounds.seen or options["channels"] not in sounds.channels:
            raise FakeError(f"no {part} of {options['channels']} channels")
        self.sounds, self.part, self.options = sounds, part, options
        self.channels, self.latency = options["channels"], options["latency"] + 0.01
        self.running = self.closed = False
        sounds.streams.append(self)

    def start(self) -> None:
        """Callbacks may come from now on."""
        if self.part not in self.sounds.plugged or self.part in self.sounds.stuck:
            raise FakeError(f"the {self.part} does not start")
        self.running = True

    def abort(self, ignore_errors: bool = True) -> None:
        """No more callbacks."""
        self.running = False
        if self.part in self.sounds.stuck:
            raise FakeError(f"the {self.part} cannot be stopped")

    def close(self, ignore_errors: bool = True) -> None:
        """The same, for ever."""
        self.running, self.closed = False, True

    def call(self, now: float) -> None:
        """One callback with 0.1 s of sound."""
        frames = round(self.options["samplerate"] / 10)
        at = SimpleNamespace(inputBufferAdcTime=now - 0.1, outputBufferDacTime=now + self.latency)
        block = np.full((frames, self.channels), self.sounds.level, np.float32)
        for _ in range(self.sounds.starves if self.part == "loudspeaker" else 1):
            self.options["callback"](block, frames, at, "underflow" if self.part == "loudspeaker" else self.sounds.overflow)
        if self.part == "loudspeaker":
            self.options["callback"](block, frames, at, None)


class FakePortAudio:
    """The library."""

    PortAudioError = FakeError

    def __init__(self) -> None:
        self.plugged, self.seen = set(KINDS.values()), set(KINDS.values())
        self.silent: set[str] = set()
        """Parts whose callbacks do not come."""
        self.stuck: set[str] = set()
        """Parts that do not start, and cannot be stopped."""
        self.channels = {1, 2}
        self.overflow = ""
        """What the microphone's callbacks are told of lost sound; "" where none was lost."""
        self.level, self.starves, self.starts, self.fails = 0.1, 0, 0, False
        self.streams: list[FakeStream] = []

    def OutputStream(self, **options: Any) -> FakeStream:  # noqa: N802
        """For the loudspeaker."""
        return FakeStream(self, "loudspeaker", options)

    def InputStream(self, **options: Any) -> FakeStream:  # noqa: N802
        """For the microphone."""
        return FakeStream(self, "microphone", options)

    def query_devices(self, device: object, kind: str) -> dict[str, Any]:
        """What the device itself runs at."""
        if KINDS[kind] not in self.seen:
            raise FakeError(f"no {kind} device")
        return {"name": device, "default_samplerate": 48_000.0 if kind == "output" else 16_000.0}

    def _terminate(self) -> None:
        assert not any(stream.running for stream in self.streams)
        if not self.fails:
            self.seen = set()

    def _initialize(self) -> None:
        if self.fails:
            raise FakeError("PortAudio does not start")
        self.starts, self.seen = self.starts + 1, set(self.plugged)

    def running(self, part: str) -> FakeStream | None:
        """The one stream of `part`, or None."""
        found = [stream for stream in self.streams if stream.part == part and stream.running]
        assert len(found) <= 1
        return found[0] if found else None

    def call(self, now: float) -> None:
        """One callback of each stream whose device is there."""
        for part in self.plugged - self.silent:
            stream = self.running(part)
            if stream is not None:
                stream.call(now)


class Clock:
    """Stands for the module `time` in whatever reads it."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.now = 1_000.0
        for module in ("loudspeaker", "microphone", "streams"):
            patch.setattr(f"companion.edge.sound.{module}.time", self)

    def monotonic(self) -> float:
        """Seconds."""
        return self.now

    def passes(self, seconds: float, each: Callable[[], None]) -> None:
        """Tenth by tenth."""
        for _ in range(round(seconds * 10)):
            self.now = round(self.now + 0.1, 6)
            each()
