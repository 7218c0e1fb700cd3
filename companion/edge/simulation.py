"""A job on a simulated clock: what falls due is taken at its own moment, and nothing waits."""
from __future__ import annotations

from collections import deque
from typing import Optional

from companion.core.events import Event
from companion.core.job.inputs import Input, SpokenToEnd, Tick
from companion.edge.clock import SimulatedClock
from companion.edge.loop import Companion


class Simulation:
    """Runs a companion on a simulated clock, on one thread. Nothing sleeps."""

    def __init__(self, clock: SimulatedClock) -> None:
        self.clock = clock
        self.companion: Optional[Companion] = None
        self._ended: deque[str] = deque()

    def report(self, tag: str) -> None:
        """For the mouth: speech that has ended."""
        self._ended.append(tag)

    def take(self, what: Input) -> tuple[Event, ...]:
        """One input, and all that follows from it at once. Gives the events of the input itself."""
        made = self.companion.take(what)
        self._settle()
        return made

    def _settle(self) -> None:
        """Ended speech and due ticks, until nothing is left to do at this moment."""
        while not self.companion.over:
            if self._ended:
                self.companion.take(SpokenToEnd(self._ended.popleft()))
            elif self._is_due():
                if not self.companion.take(Tick()):
                    return
            else:
                return

    def _is_due(self) -> bool:
        moment = self.companion.due
        return moment is not None and moment <= self.clock.now().up_ms

    def wait(self, ms: int) -> None:
        """Let time pass, stopping at each moment at which something falls due."""
        until = self.clock.now().up_ms + ms
        while not self.companion.over:
            moment = self.companion.due
            if moment is None or moment > until:
                break
            self.clock.advance_to(moment)
            self._settle()
        self.clock.advance_to(until)
        self._settle()
