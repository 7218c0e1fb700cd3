"""Watches keys by name, in the terminal and, on Linux, on every keyboard and pedal that may be read.

The terminal serves everywhere, but only while it is in front, and cannot tell when a key comes up (`line`). An input
device tells both, from any window; on most systems only members of a group may read it.
"""
from __future__ import annotations

import sys
import threading
import time
from pathlib import Path
from typing import Callable, Iterable, Optional

from companion.edge.keys.devices import FOLDER, Change, Devices
from companion.edge.keys.held import TERMINAL, Held
from companion.edge.keys.line import Act, Echoed, Ended, Line, Pressed, Released, Typed
from companion.edge.keys.names import name_of_code, writes
from companion.edge.keys.terminal import Terminal, terminal_of
from companion.edge.threads import going_on
from companion.errors import BrokenMachine

_WAIT_S = 0.2
_JOIN_S = 2.0
_JOIN_GROUP = "To let pedals count at any time, run: sudo usermod -aG input $USER, and log in again"

Told = Callable[[str], None]


def _nobody(text: str = "") -> None:
    """For what nobody wants to know."""


class Keys:
    """Calls `on_press` and `on_release` with a key's name, from threads of its own, one at a time; both must be brief.

    `keys` are the names watched, from `names.check_key`; None watches every key, and then no lines are typed. A key
    that is held is pressed once. `on_line` gets each line typed in the terminal, without its Enter; `on_end` is called
    when no more will come; `notice` gets a sentence for whoever sets it up. `terminal` is by default that of standard
    input. Raises BrokenMachine where there is neither a terminal nor a device to read keys from.
    """

    def __init__(self, on_press: Told, on_release: Told = _nobody, keys: Optional[Iterable[str]] = None, *,
                 on_line: Told = _nobody, on_end: Callable[[], None] = _nobody, notice: Told = _nobody,
                 terminal: Optional[Terminal] = None, folder: Path = FOLDER) -> None:
        self._keys = None if keys is None else frozenset(keys)
        self._on_press, self._on_release, self._on_line, self._on_end = on_press, on_release, on_line, on_end
        self._line, self._held = Line(self._keys), Held()
        self._lock, self._closing = threading.Lock(), threading.Event()
        self._devices = Devices(folder) if sys.platform == "linux" else None
        _check_devices(self._devices, terminal is not None or sys.stdin.isatty(), notice)
        self._terminal = terminal or terminal_of(sys.stdin)
        readers = ((self._read_terminal, self._terminal), (self._read_devices, self._devices))
        self._threads = [threading.Thread(target=going_on, args=(read, self._closing.wait), name="keys", daemon=True)
                         for read, part in readers if part]
        for thread in self._threads:
            thread.start()

    @property
    def line(self) -> str:
        """What has been typed of a line."""
        return self._line.text

    @property
    def gives_lines(self) -> bool:
        """Whether there is a terminal, whose lines nobody else may read then."""
        return self._terminal is not None

    def close(self) -> None:
        """Watch no longer, and leave the terminal as it was. Not to be called from a callback."""
        self._closing.set()
        for thread in self._threads:
            thread.join(_JOIN_S)
        if self._terminal is not None:
            self._terminal.close()
        if self._devices is not None:
            self._devices.close()

    # -- the terminal --------------------------------------------------------------------------------------------------

    def _read_terminal(self) -> None:
        while not self._closing.is_set():
            try:
                text = self._terminal.read(_WAIT_S)
            except EOFError:
                return self._terminal_gone()
            with self._lock:
                now = time.monotonic()
                for act in self._line.feed(text, now) if text else self._line.idle(now):
                    self._do(act)

    def _terminal_gone(self) -> None:
        with self._lock:
            for key in self._held.gone(TERMINAL):
                self._on_release(key)
            self._on_end()

    def _do(self, act: Act) -> None:
        if isinstance(act, Pressed):
            self._press(act.key, TERMINAL)
        elif isinstance(act, Released):
            self._release(act.key, TERMINAL)
        elif isinstance(act, Typed):
            self._on_line(act.line)
        elif isinstance(act, Echoed):
            self._terminal.write(act.text)
        elif isinstance(act, Ended):
            self._on_end()

    # -- input devices -------------------------------------------------------------------------------------------------

    def _read_devices(self) -> None:
        while not self._closing.is_set():
            for change in self._devices.changes(_WAIT_S):
                with self._lock:
                    self._changed(change)

    def _changed(self, change: Change) -> None:
        if change.code is None:
            for key in (self._held.gone if change.gone else self._held.let_go)(change.source):
                self._on_release(key)
            return
        key = name_of_code(change.code)
        if self._keys is not None and key not in self._keys:
            return
        if not change.down:
            self._release(key, change.source)
        elif not (self._line.text and writes(key)):  # a letter of the line that is being typed
            self._press(key, change.source)

    # -- both ----------------------------------------------------------------------------------------------------------

    def _press(self, key: str, source: str) -> None:
        if self._held.press(key, source):
            self._on_press(key)

    def _release(self, key: str, source: str) -> None:
        if self._held.release(key, source):
            self._on_release(key)


def _check_devices(devices: Optional[Devices], terminal: bool, notice: Told) -> None:
    """Something to read keys from there must be; where it is the terminal alone, that is said."""
    if devices is not None and devices.open:
        return
    denied = devices is not None and bool(devices.denied)
    if not terminal:
        raise BrokenMachine("keys", "must come from a terminal or an input device that may be read; there is none",
                            do=_JOIN_GROUP if denied else "Start the job in a terminal, or connect a keyboard or pedal")
    notice("Keys and pedals count while this terminal is in front." + (f" {_JOIN_GROUP}." if denied else ""))
