"""What could not be written yet: the decisions of a job that wait in memory, in their order and with their own times."""
from __future__ import annotations

from collections import deque
from typing import NamedTuple, Optional, Sequence

from companion.core.events import Event
from companion.core.job.inputs import Now
from companion.core.log.rfc3339 import stamp
from companion.edge.logfile import LogFile, NotWritten
from companion.errors import BrokenMachine

AGAIN_MS = 5_000
"""The disk is tried again after so long."""
AT_ONCE = 25
"""So many decisions are written before the job is looked at again: each takes an `fsync`, and clocks must not wait."""
MOST = 20_000
"""Entries that are kept in memory, some 40 MB: four days of talk. Beyond them the job stops."""


class _Decision(NamedTuple):
    events: Sequence[Event]
    now: Now


class Backlog:
    """Writes to a log, or keeps for later what it does not take."""

    def __init__(self, log: LogFile) -> None:
        self._log = log
        self._waiting: deque[_Decision] = deque()
        self._due_up: Optional[int] = None
        self.holding = False
        """Whether decisions are kept for later; it ends by `over`."""
        self.entries = 0
        """Kept since the holding began, whether written meanwhile or not."""

    @property
    def unwritten(self) -> int:
        """Entries that are not on the disk."""
        return sum(len(decision.events) for decision in self._waiting)

    @property
    def due(self) -> Optional[int]:
        """The up-clock moment at which `catch_up` should be tried."""
        return self._due_up if self.holding else None

    def keep(self, events: Sequence[Event], now: Now) -> None:
        """Write a decision, or keep it while the log is held back. Raises NotWritten where the disk does not take it and
        nothing is held back yet."""
        if not self.holding:
            self._log.append(events, stamp(now.at_ms), now.up_ms)
        elif self.entries + len(events) > MOST:
            raise BrokenMachine(str(self._log.path), f"no more than {MOST} entries are kept in memory", do="Make room")
        else:
            self._waiting.append(_Decision(events, now))
            self.entries += len(events)

    def hold(self, fault: NotWritten, now: Now) -> None:
        """From now on decisions are kept, and the disk is tried again later, unless that can only do harm."""
        self.holding = True
        self._due_up = None if fault.for_good else now.up_ms + AGAIN_MS

    def catch_up(self, now: Now, most: int = AT_ONCE) -> bool:
        """Write what waits, the first first; whether nothing is left. Raises NotWritten: what is written is written."""
        for _ in range(min(most, len(self._waiting))):
            events, then = self._waiting[0]
            self._log.append(events, stamp(then.at_ms), then.up_ms)
            self._waiting.popleft()
        self._due_up = now.up_ms
        return not self._waiting

    def over(self) -> None:
        """All is written, and the log tells of it: decisions are written at once again."""
        self.holding, self.entries, self._due_up = False, 0, None
