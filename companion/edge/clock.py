"""The clocks a job can run on. The core only ever sees `Now`."""
from __future__ import annotations

import time
from typing import Protocol

from companion.core.job.inputs import Now
from companion.edge.device import up_ms


class Clock(Protocol):
    def now(self) -> Now:
        """This moment on both clocks."""


class RealClock:
    """The machine's own clocks."""

    def now(self) -> Now:
        """See `Clock`."""
        return Now(time.time_ns() // 1_000_000, up_ms())


class SimulatedClock:
    """A clock that moves only when told to; it starts at the real time, so that logs read naturally."""

    def __init__(self, start: Now | None = None) -> None:
        self._now = start or RealClock().now()

    def now(self) -> Now:
        """See `Clock`."""
        return self._now

    def advance(self, ms: int) -> None:
        """Let `ms` milliseconds pass on both clocks."""
        self._now = Now(self._now.at_ms + ms, self._now.up_ms + ms)

    def advance_to(self, up_ms: int) -> None:
        """Let time pass until the up-clock shows `up_ms`; never back."""
        self.advance(max(0, up_ms - self._now.up_ms))
