"""Microphone and loudspeaker, both at once, lost and found again. One thread of its own owns the streams."""
from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import Future

from companion.edge.sound.loudspeaker import Loudspeaker
from companion.edge.sound.microphone import Frame, Microphone, Reference
from companion.edge.sound.spells import Stutter
from companion.edge.sound.streams import LOOK, Notice, Streams
from companion.edge.threads import going_on


class SoundDevices:
    """Both devices. Raises BrokenMachine if one cannot be opened at the start; what is lost later is told to `notice`.

    `sink` is the loudspeaker for a `Player`; `frames()` gives the microphone, with what the loudspeaker was given.
    `notice` is called on the owner's thread and must be quick; that a part is there it is also told of one that never was
    lost, but was opened again.
    """

    def __init__(self, microphone: int | str | None = None, loudspeaker: int | str | None = None,
                 notice: Notice = lambda part, there, why: None) -> None:
        self.sink, self.microphone = Loudspeaker(), Microphone()
        self.stuttered: Stutter = lambda part, times, ms: None
        """Told of each spell of lost sound; quick, like `notice`."""
        self._reference = Reference(self.sink)
        wanted = {"microphone": microphone, "loudspeaker": loudspeaker}
        self._streams = Streams(wanted, self.microphone, self.sink, notice, lambda *spell: self.stuttered(*spell))
        self._closing, opened = threading.Event(), Future()  # type: ignore[var-annotated]
        self._owner = threading.Thread(target=self._own, args=(opened,), name="sound devices", daemon=True)
        self._owner.start()
        opened.result()

    def frames(self) -> Iterator[Frame]:
        """20 ms at a time, for ever; waits while there is no microphone. Ends on `close`."""
        return self.microphone.frames(self._reference)

    def forget(self) -> None:
        """What the microphone has brought and nobody has taken is dropped: whoever listens again must not hear what is long past."""
        self.microphone.forget()

    def doubt(self, part: str) -> None:
        """Somebody found `part`, "microphone" or "loudspeaker", failing: it is opened afresh."""
        self._streams.doubt(part)

    def close(self) -> None:
        """Closes both and ends `frames`."""
        self._closing.set()
        self._owner.join()
        self.microphone.end()

    def _own(self, opened: "Future[None]") -> None:
        try:
            self._streams.open()
            opened.set_result(None)
        except BaseException as fault:  # handed to whoever asked for the devices
            self._streams.close()
            opened.set_exception(fault)
            return
        going_on(self._watch, self._closing.wait)
        self._streams.close()

    def _watch(self) -> None:
        while not self._closing.wait(LOOK):
            self._streams.look()
