"""The screen of a live job: a mouth that shows, and a picture of the job that a thread of its own keeps up to date.

The thread is there so that a slow line, or one that is held (Ctrl-S), never holds up the job: the next picture written
is the newest, and those in between are left out.
"""
from __future__ import annotations

import os
import sys
import threading
from typing import Callable, Optional, TextIO, Union

from rich.color import ColorSystem
from rich.console import Console

from companion.core.events import Event, Hearing, NotUnderstood, Refused
from companion.core.grammar import Listen
from companion.core.job.effects import Effect, Hush, Say, Tone
from companion.core.job.inputs import Heard, Input, Unheard
from companion.edge.mouth import PrintedMouth, Report
from companion.edge.screen.board import Board, board
from companion.edge.screen.layout import Look, lay_out
from companion.edge.screen.letters import BLOCKS
from companion.edge.screen.terminal import Frame, changes, frame, leaving, whole
from companion.edge.threads import going_on

LEAST_S = 0.25
"""Seconds between two writes: four a second at most."""
LOOK_S = 1.0
"""Seconds after which the terminal's size is looked at again, when nothing else happens."""
KEPT = 4
"""So many utterances at most are shown of what was said since the last `Hush`."""


class Lines(PrintedMouth):
    """Where there is no terminal: one line for each thing said, and nothing else."""

    def show(self, worker) -> None:
        """See `Screen`."""

    def took(self, worker, what: Input, made: tuple[Event, ...]) -> None:
        """See `Screen`."""

    def heard(self, hearing: Hearing, accepted: bool) -> None:
        """See `Screen`."""

    def state(self, text: str) -> None:
        """See `Screen`."""


class Painter:
    """What has to be written to turn what the terminal shows into a board. Writes nothing itself."""

    def __init__(self, encoding: str, blocks: bool, colours: Optional[ColorSystem]) -> None:
        self._encoding, self._blocks, self._colours = encoding, blocks, colours
        self._shown: Optional[Frame] = None
        self._size = (0, 0)

    def paint(self, picture: Board, size: tuple[int, int]) -> str:
        """The text to write on a terminal of `size` (columns, rows); "" where nothing has changed."""
        look = Look(*size, blocks=self._blocks)
        before, self._shown = self._shown, frame(lay_out(picture, look), look.columns, self._encoding)
        fresh, same = before is None, size == self._size
        self._size = size
        if same:
            return changes(before, self._shown, self._colours)
        return whole(self._shown, look.rows, self._colours, fresh)

    def leave(self) -> str:
        """The text to write at the end."""
        return leaving(self._size[1]) if self._shown is not None else ""


class Screen:
    """Shows a job on a terminal. Every method may be called from any thread, and none waits for the terminal."""

    def __init__(self, report: Report, out: TextIO, painter: Painter, size: Callable[[], tuple[int, int]],
                 pause: Optional[Callable[[float], object]] = None) -> None:
        self._report, self._out, self._painter, self._size = report, out, painter, size
        self._changed, self._closing = threading.Condition(), threading.Event()
        self._pause = pause or self._closing.wait
        self._worker_seen: tuple = (None, 0, Listen())
        self._hearing: tuple[Optional[Hearing], bool] = (None, False)
        self._spoken: tuple[str, ...] = ()
        self._alarm: Optional[str] = None
        """None: no alarm. "": its tone has sounded, and its words follow."""
        self._sound = ""
        self._wanted = False
        self._thread = threading.Thread(target=going_on, args=(self._keep_up, self._closing.wait), name="screen", daemon=True)

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """See `Mouth`: nothing to render."""

    def carry_out(self, effect: Effect) -> None:
        """See `Mouth`."""
        if isinstance(effect, Hush):
            self._change(_spoken=(), _alarm=None)
        elif isinstance(effect, Tone) and effect.kind.startswith("alarm"):
            self._change(_alarm="")
        elif isinstance(effect, Say):
            alarm = effect.text if self._alarm == "" else self._alarm
            self._change(_spoken=(*self._spoken, effect.text)[-KEPT:], _alarm=alarm)
            if effect.tag:
                self._report(effect.tag)

    def show(self, worker) -> None:
        """What stands now: a `Companion`, or anything that `drive` takes. On every change, and once a second."""
        job = getattr(worker, "job", None)
        self._change(_worker_seen=(job, worker.clock.now().up_ms if job else 0, worker.listening))

    def took(self, worker, what: Input, made: tuple[Event, ...]) -> None:
        """After an input, with the events it made: what was heard, whether it was taken, and what stands now."""
        if isinstance(what, (Heard, Unheard)) and what.hearing is not None:
            fits = not any(isinstance(event, (NotUnderstood, Refused)) for event in made)
            self.heard(what.hearing, isinstance(what, Heard) and fits)
        self.show(worker)

    def heard(self, hearing: Hearing, accepted: bool) -> None:
        """What was heard last, and whether it was taken."""
        self._change(_hearing=(hearing, accepted))

    def state(self, text: str) -> None:
        """The state of the sound: listening, speaking, microphone lost …"""
        if text != self._sound:
            self._change(_sound=text)

    def close(self) -> None:
        """See `Mouth`. The last picture is drawn, and stays."""
        with self._changed:
            self._closing.set()
            self._changed.notify()
        if self._thread.ident is not None:
            self._thread.join(timeout=LOOK_S * 5)

    def _change(self, **changes: object) -> None:
        with self._changed:
            for name, value in changes.items():
                setattr(self, name, value)
            self._wanted = True
            self._changed.notify()
            if self._thread.ident is None and not self._closing.is_set():
                self._thread.start()

    def _keep_up(self) -> None:
        try:
            while not self._closing.is_set():
                if self._paint():
                    self._pause(LEAST_S)
                with self._changed:
                    self._changed.wait_for(lambda: self._wanted or self._closing.is_set(), LOOK_S)
            self._paint()
            self._write(self._painter.leave())
        except (OSError, ValueError) as fault:  # ValueError: it was closed. The job itself goes on by voice.
            print(f"companion: the screen cannot be written on ({fault}); the job goes on by voice", file=sys.stderr)

    def _paint(self) -> bool:
        with self._changed:
            self._wanted = False
            (job, up_ms, live), (hearing, accepted) = self._worker_seen, self._hearing
            said = {"spoken": self._spoken, "alarm": self._alarm or "", "sound": self._sound}
        picture = board(job, up_ms, live, hearing=hearing, accepted=accepted, **said)
        return self._write(self._painter.paint(picture, self._size()))

    def _write(self, text: str) -> bool:
        if text:
            self._out.write(text)
            self._out.flush()
        return bool(text)


def screen_for(report: Report, out: Optional[TextIO], lines: bool = False) -> Union[Screen, Lines]:
    """The screen for `out`; plain lines where that is no terminal that can be drawn on, or `lines` asks for them."""
    out = out or sys.stdout
    console = Console(file=out)
    if lines or not out.isatty() or console.is_dumb_terminal or console.legacy_windows:
        return Lines(report, out)
    kind = os.environ.get("TERM", "")
    bare = kind.startswith("vt")  # no colours, and no letters but plain ones, whatever the locale says
    encoding = "ascii" if bare else out.encoding or "ascii"
    colours = None if bare or "NO_COLOR" in os.environ else ColorSystem.STANDARD
    return Screen(report, out, Painter(encoding, can_write(BLOCKS, encoding), colours), lambda: terminal_size(out))


def can_write(text: str, encoding: str) -> bool:
    """Whether `encoding` has every character of `text`."""
    try:
        return bool(text.encode(encoding))
    except UnicodeEncodeError:
        return False


def terminal_size(out: TextIO) -> tuple[int, int]:
    """Columns and rows; 80 by 24 where the terminal does not say, as over a serial line."""
    columns, rows = os.get_terminal_size(out.fileno())
    return columns or 80, rows or 24
