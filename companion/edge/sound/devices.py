"""Microphone and loudspeaker through PortAudio, both at once, lost and found again. One thread owns the streams.

PortAudio sees no device that was connected after it started, so finding one means ending it and starting it afresh,
which closes every stream. `sounddevice` is imported only when devices are opened.
"""
from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from typing import Any

from companion.edge.sound.portaudio import LATENCIES, library, open_stream, own_rate
from companion.edge.sound.loudspeaker import STARTING, Loudspeaker
from companion.edge.sound.microphone import Frame, Microphone, Reference
from companion.errors import BrokenMachine

LOST_AFTER = 1.5
"""Seconds without a callback after which a device counts as lost; with the time to look, it is said within 2 s."""
DEAF_AFTER = 4.0
"""Seconds of plain zeros after which a microphone counts as lost: no real one is that quiet, a muted one is."""

_LOOK = 0.1
_AGAIN, _AFRESH = 1.0, 5.0
_STARVED = 5
"""So often within a second the loudspeaker must have found nothing; just after its start it always does."""
DEAF = "It gives no sound at all. It may be muted"
GONE = "It has stopped"

Notice = Callable[[str, bool, str], None]
"""Takes "microphone" or "loudspeaker", whether it is there, and why not."""


class SoundDevices:
    """Both devices, or one. Raises BrokenMachine if one cannot be opened at the start; later it is told to `notice`.

    `sink` is the loudspeaker for a `Player`; `frames()` gives the microphone, with what the loudspeaker was given.
    `notice` is called on the owner's thread and must be quick; it may be told of a part that is there, which never was lost.
    """

    def __init__(self, microphone: int | str | None = None, loudspeaker: int | str | None = None,
                 notice: Notice = lambda part, there, why: None) -> None:
        self._library, self._notice = library(), notice
        self._wanted = {"microphone": microphone, "loudspeaker": loudspeaker}
        self._streams: dict[str, Any] = {}
        self.sink, self.microphone = Loudspeaker(), Microphone()
        self._reference = Reference(self.sink)
        self._doubted: set[str] = set()
        self._wider, self._starved, self._counted = 0, 0, 0.0
        self._deaf = False
        self._started = self._tried = self._fresh = self._lost_at = time.monotonic()
        self._closing, first = threading.Event(), Future()  # type: ignore[var-annotated]
        self._owner = threading.Thread(target=self._own, args=(first,), name="sound devices", daemon=True)
        self._owner.start()
        first.result()

    def frames(self) -> Iterator[Frame]:
        """20 ms at a time, for ever; waits while there is no microphone. Ends on `close`."""
        return self.microphone.frames(self._reference)

    @property
    def delayed(self) -> float:
        """Seconds from the callbacks to the air and back, as the devices tell it."""
        return sum(stream.latency for stream in self._streams.values())

    def doubt(self, part: str) -> None:
        """Somebody found `part` failing: it is opened afresh."""
        self._doubted.add(part)

    def close(self) -> None:
        """Closes both and ends `frames`."""
        self._closing.set()
        self._owner.join()
        self.microphone.end()

    # -- on the owner's thread -----------------------------------------------------------------------------------------

    def _own(self, first: "Future[None]") -> None:
        try:
            for part in self._wanted:
                self._open(part)
            first.set_result(None)
        except BaseException as fault:
            self._close_all()
            first.set_exception(fault)
            return
        while not self._closing.wait(_LOOK):
            self._look()
        self._close_all()

    def _open(self, part: str) -> None:
        device = self._wanted[part]
        rate = own_rate(self._library, device, part)
        if part == "microphone":
            self.microphone.connect(rate)
            self._streams[part] = open_stream(self._library, part, device, rate, self.microphone.copy)
            return
        self.sink.connect(rate, 0.0)
        try:
            stream = open_stream(self._library, part, device, rate, self.sink.copy, self._wider)
        except BrokenMachine:
            self.sink.disconnect()
            raise
        self.sink.connect(rate, stream.latency)
        self._streams[part] = stream

    def _look(self) -> None:
        now = time.monotonic()
        for part, keeper in (("microphone", self.microphone), ("loudspeaker", self.sink)):
            patience = LOST_AFTER if now > self._started + STARTING else STARTING
            if part in self._streams and (part in self._doubted or now > keeper.called_at + patience):
                self._lose(part, GONE)
        self._doubted.clear()
        self._feed_better()
        self._listen_for_zeros(now)
        missing = [part for part in self._wanted if part not in self._streams]
        if missing and now > self._tried + _AGAIN:
            self._tried = now
            self._find(missing)

    def _listen_for_zeros(self, now: float) -> None:
        if "microphone" not in self._streams:
            return
        deaf = now > self.microphone.sounded_at + DEAF_AFTER
        if deaf != self._deaf:
            self._deaf = deaf
            self._notice("microphone", not deaf, DEAF if deaf else "")

    def _feed_better(self) -> None:
        """A loudspeaker that starves is opened again with more room, where there is more."""
        now = time.monotonic()
        if now < self._counted + 1:
            return
        starved, self._starved, self._counted = self.sink.starved - self._starved, self.sink.starved, now
        settled = now > self._started + STARTING
        if settled and starved >= _STARVED and self._wider + 1 < len(LATENCIES["loudspeaker"]):
            self._wider += 1
            self._close("loudspeaker")
            self._tried = 0.0

    def _lose(self, part: str, why: str) -> None:
        self._notice(part, False, why)
        self._close(part)
        self._tried = self._lost_at = time.monotonic()

    def _find(self, missing: list[str]) -> None:
        if not self._streams or time.monotonic() > max(self._fresh, self._lost_at) + _AFRESH:
            self._afresh()
            missing = [part for part in self._wanted if part not in self._streams]
        for part in missing:
            try:
                self._open(part)
            except BrokenMachine:
                continue
            self._started = time.monotonic()
            self._notice(part, True, "")

    def _afresh(self) -> None:
        """Lets PortAudio see what was connected since."""
        self._fresh = time.monotonic()
        self._close_all()
        self._library._terminate()
        self._library._initialize()

    def _close(self, part: str) -> None:
        if part == "loudspeaker":
            self.sink.disconnect()
        stream = self._streams.pop(part, None)
        if stream is not None:
            try:
                stream.abort(ignore_errors=True)
                stream.close(ignore_errors=True)
            except Exception:  # a device that has gone cannot always be closed; it is left behind
                pass

    def _close_all(self) -> None:
        for part in tuple(self._streams):
            self._close(part)
