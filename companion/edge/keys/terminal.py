"""The terminal, key by key: what is typed reaches the program at once and is not echoed by the system.

POSIX: the terminal's canonical mode and echo are switched off (termios), and set back by `close`, also when the program
ends. Ctrl-C still interrupts. Windows: the console is asked fifty times a second; untested there.
"""
from __future__ import annotations

import atexit
import codecs
import os
import sys
import time
from contextlib import suppress
from typing import Optional, Protocol, TextIO

_LOOK_S = 0.02
_AT_ONCE = 1024
_INTERRUPT = "\x03"


class Terminal(Protocol):
    """Characters in and out."""

    def read(self, timeout: float) -> str:
        """What was typed, as soon as anything was; "" after `timeout` seconds. EOFError when the terminal has gone."""

    def write(self, text: str) -> None:
        """Show this where the cursor is."""

    def close(self) -> None:
        """Leave the terminal as it was."""


def terminal_of(stream: TextIO) -> Optional[Terminal]:
    """The terminal that a stream is; None for a file, a pipe or nothing."""
    if stream is None or stream.closed or not stream.isatty():
        return None
    return WindowsConsole() if os.name == "nt" else PosixTerminal(stream.fileno(), stream.encoding or "utf-8")


class PosixTerminal:
    """`fd` is a terminal; nobody else may read it until `close`."""

    def __init__(self, fd: int, encoding: str = "utf-8") -> None:
        import termios

        self._fd, self._encoding = fd, encoding
        self._decoder = codecs.getincrementaldecoder(encoding)("replace")
        self._before = termios.tcgetattr(fd)
        mode = termios.tcgetattr(fd)
        mode[3] &= ~(termios.ICANON | termios.ECHO)
        mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
        termios.tcsetattr(fd, termios.TCSANOW, mode)
        atexit.register(self.close)

    def read(self, timeout: float) -> str:
        """See `Terminal`."""
        import select

        try:
            if not select.select([self._fd], [], [], timeout)[0]:
                return ""
            found = os.read(self._fd, _AT_ONCE)
        except OSError as error:
            raise EOFError("the terminal has gone") from error
        if not found:
            raise EOFError("the terminal has gone")
        return self._decoder.decode(found)

    def write(self, text: str) -> None:
        """See `Terminal`. A terminal that was opened for reading alone shows nothing."""
        with suppress(OSError):
            os.write(self._fd, text.encode(self._encoding, "replace"))

    def close(self) -> None:
        """See `Terminal`."""
        import termios

        atexit.unregister(self.close)
        with suppress(termios.error, OSError):  # it has gone: nothing is left to set back
            termios.tcsetattr(self._fd, termios.TCSANOW, self._before)


class WindowsConsole:
    """The console of this process. A special key comes as two characters, written here as NUL and the second."""

    def __init__(self) -> None:
        import msvcrt

        self._console = msvcrt

    def read(self, timeout: float) -> str:
        """See `Terminal`."""
        end = time.monotonic() + timeout
        while not self._console.kbhit():
            if time.monotonic() >= end:
                return ""
            time.sleep(_LOOK_S)
        first = self._console.getwch()
        if first == _INTERRUPT:
            import _thread

            _thread.interrupt_main()
            return ""
        if first == "\x00" or first == "\xe0" and self._console.kbhit():  # alone it is the letter à
            return "\x00" + self._console.getwch()
        return first

    def write(self, text: str) -> None:
        """See `Terminal`."""
        sys.stdout.write(text)
        sys.stdout.flush()

    def close(self) -> None:
        """See `Terminal`."""
