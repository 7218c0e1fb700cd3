"""The two streams of PortAudio: opened, watched, lost and found again. It starts no thread and reads no clock but `time`'s.

PortAudio sees no device that was connected after it started, so finding one means ending it and starting it afresh,
which closes every stream.
"""
from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from typing import Any

from companion.edge.sound.loudspeaker import STARTING, Loudspeaker
from companion.edge.sound.microphone import Microphone
from companion.edge.sound.portaudio import LATENCIES, library, open_stream, own_rate
from companion.edge.sound.spells import Spells, Stutter
from companion.errors import BrokenMachine

STOPPED_AFTER = 1.5
"""Seconds without a callback after which a device counts as lost; with the time to look, it is said within 2 s."""
DEAF_AFTER = 4.0
"""Seconds of plain zeros after which a microphone counts as lost: no real one is that quiet, a muted one is."""
LOOK = 0.1
"""Seconds between two looks."""
AGAIN, AFRESH = 1.0, 5.0
"""Seconds between two attempts to open what is missing, and between two fresh starts of PortAudio, which interrupt the
other device too."""
STARVED = 5
"""So often within a second the loudspeaker must have found nothing; just after its start it always does."""
DEAF = "It gives no sound at all. It may be muted"
GONE = "It has stopped"

Notice = Callable[[str, bool, str], None]
"""Takes "microphone" or "loudspeaker", whether it is there, and why not."""


class Streams:
    """For one thread, which calls `look` every `LOOK` seconds; only `doubt` may be called from others.

    `wanted` gives each part's device, None for the system's own. Raises BrokenMachine where PortAudio is missing.
    """

    def __init__(self, wanted: dict[str, int | str | None], microphone: Microphone, loudspeaker: Loudspeaker,
                 notice: Notice, stutter: Stutter = lambda part, times, ms: None) -> None:
        self._library, self._wanted, self._notice = library(), wanted, notice
        self._microphone, self._loudspeaker = microphone, loudspeaker
        self._running: dict[str, Any] = {}
        self._doubted: set[str] = set()
        self._spells = Spells(stutter)
        self._told_gone: set[str] = set()
        self._deaf = False
        self._wider, self._starved, self._counted = 0, 0, 0.0
        self._tried = self._fresh = self._lost_at = time.monotonic()
        self._begun = dict.fromkeys(wanted, self._tried)
        """When each part was there for the first time, or again after a loss."""

    def open(self) -> None:
        """Opens every part. Raises BrokenMachine where one is missing."""
        for part in self._wanted:
            self._open(part)

    def doubt(self, part: str) -> None:
        """Somebody found `part` failing: it is closed at the next look, and opened again."""
        self._doubted.add(part)

    def look(self) -> None:
        """Tells what is lost, and opens what is missing."""
        now = time.monotonic()
        for part, keeper in (("microphone", self._microphone), ("loudspeaker", self._loudspeaker)):
            patience = STOPPED_AFTER if now > self._begun[part] + STARTING else STARTING
            if part in self._running and (part in self._doubted or now > keeper.called_at + patience):
                self._lose(part)
        self._count_losses(now)
        self._feed_better(now)
        self._listen_for_zeros(now)
        if self._missing() and now > self._tried + AGAIN:
            self._find(now)

    def close(self) -> None:
        """Closes both."""
        for part in tuple(self._running):
            self._close(part)

    def _open(self, part: str) -> None:
        self._doubted.discard(part)
        device = self._wanted[part]
        rate = own_rate(self._library, device, part)
        if part == "microphone":
            self._microphone.connect(rate)
            self._running[part] = open_stream(self._library, part, device, rate, self._microphone.copy)
            return
        self._loudspeaker.connect(rate)
        try:
            stream = open_stream(self._library, part, device, rate, self._loudspeaker.copy, self._wider)
        except BrokenMachine:
            self._loudspeaker.disconnect()
            raise
        self._loudspeaker.latency = stream.latency
        self._running[part] = stream

    def _missing(self) -> list[str]:
        return [part for part in self._wanted if part not in self._running]

    def _listen_for_zeros(self, now: float) -> None:
        """A microphone that is muted, or the wrong one, is lost until it brings sound; meanwhile another is looked for."""
        deaf = self._microphone.zeros_s > DEAF_AFTER
        if "microphone" in self._running and deaf != self._deaf:
            self._deaf = deaf
            self._tell("microphone", not deaf, DEAF if deaf else "")
            self._lost_at = now
        elif deaf and self._due(now):
            self._close("microphone")
            self._tried = 0.0

    def _count_losses(self, now: float) -> None:
        for part, count in (("microphone", self._microphone.overflowed), ("loudspeaker", self._loudspeaker.starved)):
            self._spells.look(part, count, now, now > self._begun[part] + STARTING)

    def _feed_better(self, now: float) -> None:
        """A loudspeaker that starves is opened again with more room, where there is more."""
        if now < self._counted + 1:
            return
        starved, self._starved, self._counted = self._loudspeaker.starved - self._starved, self._loudspeaker.starved, now
        settled = now > self._begun["loudspeaker"] + STARTING
        if settled and starved >= STARVED and self._wider + 1 < len(LATENCIES["loudspeaker"]):
            self._wider += 1
            self._close("loudspeaker")
            self._tried, self._lost_at, self._begun["loudspeaker"] = 0.0, now, now

    def _lose(self, part: str) -> None:
        self._tell(part, False, GONE)
        self._close(part)
        self._tried = self._lost_at = time.monotonic()

    def _find(self, now: float) -> None:
        self._tried = now
        if not self._running or self._due(now):
            self._start_afresh(now)
        for part in self._missing():
            try:
                self._open(part)
            except BrokenMachine:
                if part not in self._told_gone:  # it was well, but does not come back
                    self._tell(part, False, GONE)
                continue
            if part in self._told_gone:
                self._begun[part] = time.monotonic()
            if part != "microphone" or not self._deaf:
                self._tell(part, True)

    def _due(self, now: float) -> bool:
        """Whether PortAudio may be started afresh though a device runs; never in the middle of a word."""
        return now > max(self._fresh, self._lost_at) + AFRESH and not self._loudspeaker.sounding

    def _tell(self, part: str, there: bool, why: str = "") -> None:
        (self._told_gone.discard if there else self._told_gone.add)(part)
        self._notice(part, there, why)

    def _start_afresh(self, now: float) -> None:
        """Lets PortAudio see what was connected since. Where it cannot start, nothing can be opened, and it is tried again."""
        self._fresh = now
        self.close()
        for act in (self._library._terminate, self._library._initialize):
            with contextlib.suppress(self._library.PortAudioError):
                act()

    def _close(self, part: str) -> None:
        if part == "loudspeaker":
            self._loudspeaker.disconnect()
        stream = self._running.pop(part, None)
        if stream is not None:
            try:
                stream.abort(ignore_errors=True)
                stream.close(ignore_errors=True)
            except Exception:  # a device that has gone cannot always be closed; it is left behind
                pass
