"""The whole program on a terminal of 80 by 24, as over a serial line."""
from __future__ import annotations

import os
import select
import signal
import struct
import sys
from pathlib import Path

import pyte
import pytest

from companion.edge.screen import Lines, Screen, screen_for

fcntl = pytest.importorskip("fcntl", reason="terminals in memory are a part of POSIX systems")
pty = pytest.importorskip("pty", reason="terminals in memory are a part of POSIX systems")
termios = pytest.importorskip("termios", reason="terminals in memory are a part of POSIX systems")


@pytest.mark.parametrize("kind, asked, expected", [
    ("dumb", False, Lines), ("xterm", True, Lines), ("xterm", False, Screen), ("vt100", False, Screen),
    ("linux", False, Screen)])
def test_which_terminals_get_the_screen(monkeypatch, kind, asked, expected):
    """A terminal that cannot be drawn on, or a wish for lines, gets lines."""
    monkeypatch.setenv("TERM", kind)
    lead, end = pty.openpty()
    with os.fdopen(end, "w", encoding="utf-8") as out:
        made = screen_for(lambda tag: None, out, lines=asked)
        assert type(made) is expected
        made.close()
    os.close(lead)


class Session:
    """`companion job learning --typed` on a terminal of 80 by 24."""

    def __init__(self, home: Path, kind: str) -> None:
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self.pid, self.line = pty.fork()
        if self.pid == 0:
            fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
            os.environ.update(TERM=kind, PYTHONIOENCODING="utf-8", COMPANION_HOME=str(home))
            os.execv(sys.executable, [sys.executable, "-m", "companion", "job", "learning", "--typed"])

    def until(self, holds, seconds: float = 30) -> bool:
        """Feed the terminal with what comes until `holds(lines)`; False when nothing more comes."""
        while not holds(self.screen.display):
            if not select.select([self.line], [], [], seconds)[0]:
                return False
            try:
                data = os.read(self.line, 65536)
            except OSError:
                return holds(self.screen.display)
            self._stream.feed(data.decode("utf-8", "replace").encode())
        return True

    def type(self, text: str) -> None:
        os.write(self.line, text.encode())

    def end(self) -> int:
        self.until(lambda lines: False)
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def test_a_job_on_a_serial_terminal(tmp_path):
    """The real program on a VT100: plain letters only, the step legible, typing kept, the last picture left behind."""
    session = Session(tmp_path, "vt100")
    try:
        assert session.until(lambda lines: "step 1 of 5" in lines[0] and "PRACTICE" in lines[0])
        session.type("next\n")
        assert session.until(lambda lines: "step 2 of 5" in lines[0] and lines[22].startswith("next"))
        lines = session.screen.display
        assert all(line.isascii() for line in lines)
        assert any("Put four tools in front of you, and count them. How many?" in line for line in lines)
        session.type("stop job\n")
        assert session.until(lambda lines: any("Leave the job" in line or "Typed: stop job" in line for line in lines))
        session.type("affirm\n")
        assert session.end() == 0
    finally:
        try:
            os.kill(session.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        os.close(session.line)
