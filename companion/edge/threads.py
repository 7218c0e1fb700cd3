"""Threads that outlive faults, and calls that may take only so long.

A fault that a thread does not know is told to `threading.excepthook`, where a live job says and logs it, and the thread
goes on. A call into a native library cannot be ended: one that does not come back is left behind on its thread.
"""
from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from queue import SimpleQueue
from typing import Generic, Optional, TypeVar

from companion.errors import BrokenMachine, CompanionError

MOST_LEFT = 3
"""So many calls at once may be left behind: each keeps what it works with, a recogniser some 150 MB."""
_FIRST_S, _MOST_S = 1.0, 60.0
Given = TypeVar("Given")


def pauses() -> Iterator[float]:
    """Seconds between one attempt and the next: 1, 2, 4 … 60, 60 …"""
    seconds = _FIRST_S
    while True:
        yield seconds
        seconds = min(2 * seconds, _MOST_S)


def going_on(act: Callable[[], None], wait: Callable[[float], bool]) -> None:
    """Calls `act` until it returns. A fault is told, and after `wait(seconds)` it is called again, unless that is true.

    The pauses grow where it fails again and again, and begin anew after it went well for longer than the longest."""
    waits, over = pauses(), False
    while not over:
        begun = time.monotonic()
        try:
            return act()
        except Exception as fault:
            tell(fault)
        waits = pauses() if time.monotonic() > begun + _MOST_S else waits
        over = wait(next(waits))


def tell(fault: BaseException) -> None:
    """Tells whoever set `threading.excepthook` that this thread failed, though it goes on."""
    threading.excepthook(threading.ExceptHookArgs((type(fault), fault, fault.__traceback__, threading.current_thread())))


def cause(fault: Optional[BaseException]) -> str:
    """A fault in a few words fit for a log: never what was said, which a foreign library's message may hold."""
    if isinstance(fault, CompanionError):
        return str(fault)[:300]
    if isinstance(fault, MemoryError):
        return "memory ran out"
    return f"{type(fault).__name__}{_place(fault)}"


def _place(fault: Optional[BaseException]) -> str:
    trace = fault.__traceback__ if fault is not None else None
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return ""
    name = trace.tb_frame.f_code.co_filename.replace("\\", "/").rpartition("/")[2]
    return f" at {name}:{trace.tb_lineno}"


class Stalled(BrokenMachine):
    """A call took too long, and was left behind."""


class Helper:
    """A thread that does what it is asked, one call after the other; it starts with the first one."""

    def __init__(self, name: str) -> None:
        self._name, self._change = name, threading.Lock()
        self._line: Optional["SimpleQueue[Optional[_Call]]"] = None
        self._closed = False
        self.left = 0
        """Calls left behind that have not come back."""

    def do(self, act: Callable[[], Given], seconds: float) -> Given:
        """What `act` gives or raises. Raises Stalled where that takes longer, too many calls were left behind, or it is closed:
        a call that comes late must not start a thread that nobody ends."""
        call = _Call(act)
        with self._change:
            if self._closed:
                raise Stalled(self._name, "must not be closed")
            if self.left >= MOST_LEFT:
                raise Stalled(self._name, "must answer", f"{self.left} calls that never ended", "Start the program again")
            if self._line is None:
                self._line = SimpleQueue()
                threading.Thread(target=self._work, args=(self._line,), name=self._name, daemon=True).start()
            self._line.put(call)
        if not call.done.wait(seconds):
            self._leave(call, seconds)
        return call.outcome()

    def close(self) -> None:
        """Ends the thread after the call it is at."""
        with self._change:
            line, self._line, self._closed = self._line, None, True
        if line is not None:
            line.put(None)

    def _leave(self, call: "_Call", seconds: float) -> None:
        with self._change:
            if call.done.is_set():
                return
            call.late, self._line = True, None
            self.left += 1
        raise Stalled(self._name, f"must answer within {seconds:.0f} s")

    def _work(self, line: "SimpleQueue[Optional[_Call]]") -> None:
        while (call := line.get()) is not None:
            call.make()
            with self._change:
                call.done.set()
                if call.late:
                    self.left -= 1
                    return
            del call  # and with it what it holds


class _Call(Generic[Given]):
    """One call and what came of it."""

    def __init__(self, act: Callable[[], Given]) -> None:
        self._act: Optional[Callable[[], Given]] = act
        self._given: Optional[Given] = None
        self._fault: Optional[BaseException] = None
        self.done, self.late = threading.Event(), False

    def make(self) -> None:
        try:
            self._given = self._act()  # type: ignore[misc]
        except BaseException as fault:  # raised where the call was asked for
            self._fault = fault
        self._act = None

    def outcome(self) -> Given:
        if self._fault is not None:
            raise self._fault
        return self._given  # type: ignore[return-value]


def printed_fault(name: str, fault: BaseException) -> None:
    """One line for whoever looks after the machine; a traceback would tear the screen."""
    print(f"companion: {name} failed ({cause(fault)}), and goes on", file=sys.stderr, flush=True)
