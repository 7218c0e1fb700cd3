"""What works and what does not: told by devices, ear, voice, player and threads, from any thread, and passed on to the job."""
from __future__ import annotations

import threading
from collections.abc import Callable

from companion.core.job.inputs import Faltered, Input, SoundFound, SoundLost, SpokenToEnd, Stuttered
from companion.edge.player import Ended
from companion.edge.threads import cause, printed_fault
from companion.errors import BrokenMachine

WORDS_A_SECOND = 2.5
"""So fast words on the screen are taken to be read, not faster than they are spoken: own choice."""


def _after(seconds: float, act: Callable[[], None]) -> None:
    timer = threading.Timer(seconds, act)
    timer.daemon, timer.name = True, "shown"
    timer.start()


class Parts:
    """`put` takes inputs of the job; `changed` is told which part is lost (False) or there again (True)."""

    def __init__(self, put: Callable[[Input], None], changed: Callable[[str, bool], None],
                 after: Callable[[float, Callable[[], None]], None] = _after) -> None:
        """`after` calls something so many seconds later."""
        self._put, self._changed, self._after = put, changed, after
        self._hook = threading.excepthook
        self.lost: dict[str, str] = {}
        """Part to why."""

    def watch_threads(self) -> None:
        """From now on until `close` a thread that meets a fault it does not know is told of, whatever it was for."""
        threading.excepthook = self._thread_failed

    def close(self) -> None:
        """Threads are no longer watched."""
        threading.excepthook = self._hook

    def noticed(self, part: str, there: bool, why: str = "") -> None:
        """A part was lost, or is there again."""
        if there:
            self.lost.pop(part, None)
        else:
            self.lost[part] = why
        self._changed(part, there)
        self._put(SoundFound(part) if there else SoundLost(part, why))

    def faltered(self, part: str, why: str) -> None:
        """A part failed, and goes on."""
        self._put(Faltered(part, why))

    def stuttered(self, part: str, times: int, ms: int) -> None:
        """A spell of lost sound is over."""
        self._put(Stuttered(part, times, ms))

    def unspoken(self, ended: Ended, read: bool) -> None:
        """Words that failed to sound. Where somebody can `read` the screen, having been shown there counts in their stead,
        once there was time to read them."""
        part = _part(ended.fault)
        if part not in self.lost:
            self.noticed(part, False, ended.fault.found)
        if read and ended.tag and part != "loudspeaker":
            self._after(len(ended.text.split()) / WORDS_A_SECOND, lambda: self._put(SpokenToEnd(ended.tag, shown=True)))

    def spoken(self, ended: Ended) -> None:
        """A sound file has taken words again; no other part is known to be well by that: what is kept sounds without a voice."""
        if ended.whole and ended.text and "sound file" in self.lost:
            self.noticed("sound file", True)

    def _thread_failed(self, failed: threading.ExceptHookArgs) -> None:
        if failed.exc_type is SystemExit or failed.exc_value is None:
            return
        name = failed.thread.name if failed.thread is not None else ""
        part = name if name.replace(" ", "").isalpha() else "program"
        printed_fault(part, failed.exc_value)
        self.faltered("memory" if isinstance(failed.exc_value, MemoryError) else part, cause(failed.exc_value))


def _part(fault: BrokenMachine) -> str:
    if fault.where == "loudspeaker":
        return fault.where
    return "voice" if fault.where.endswith("voice") else "sound file"
