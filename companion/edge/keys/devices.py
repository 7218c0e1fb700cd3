"""Keyboards and pedals as Linux gives them: input devices, read whether or not the terminal is in front.

Each `/dev/input/event*` gives `struct input_event` of the kernel's interface: a time of two longs, then type (16 bits),
code (16 bits) and value (32 bits, signed), in the machine's own order. Type 1 is a key: value 1 down, 0 up, 2 repeated.
Type 0, code 3 says that events were lost. (`linux/input.h`, `linux/input-event-codes.h`, seen.)

A pedal may be plugged in at any time: new devices are looked for once a second. Only the code of a key is looked at;
nothing is kept.
"""
from __future__ import annotations

import os
import select
import struct
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Callable, Iterator, Optional

FOLDER = Path("/dev/input")
LOOK_S = 1.0
EVENT = struct.Struct("@llHHi")
KEY, SYNCHRONISATION, LOST = 1, 0, 3
_AT_ONCE = 64


@dataclass(frozen=True)
class Change:
    """What became of a key of one device."""

    source: str
    """The device's file."""
    code: Optional[int]
    """None: of all its keys."""
    down: bool
    gone: bool = False
    """The device is no longer there."""


class Devices:
    """All input devices of a folder. Not for use by two threads at once."""

    def __init__(self, folder: Path = FOLDER, now: Callable[[], float] = time.monotonic) -> None:
        self._folder, self._now = folder, now
        self._open: dict[int, str] = {}
        self._rest: dict[int, bytes] = {}
        self.denied: tuple[str, ...] = ()
        """Devices that this user may not read."""
        self._look()

    @property
    def open(self) -> tuple[str, ...]:
        """The devices that are being read."""
        return tuple(self._open.values())

    def changes(self, timeout: float) -> list[Change]:
        """What happened within `timeout` seconds: returns as soon as anything did."""
        if self._now() >= self._next_look:
            self._look()
        if not self._open:
            time.sleep(timeout)
            return []
        ready, _, _ = select.select(list(self._open), [], [], timeout)
        return [change for device in ready for change in self._read(device)]

    def close(self) -> None:
        """Let go of every device."""
        for device in list(self._open):
            self._lose(device)

    def _look(self) -> None:
        """Open what is new. It may be denied until the system has set its rights, so it is tried again."""
        self._next_look = self._now() + LOOK_S
        denied = []
        for path in sorted(map(str, self._folder.glob("event*"))):
            if path not in self._open.values():
                try:
                    device = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
                except PermissionError:
                    denied.append(path)
                except OSError:  # it has gone again, or is on its way out
                    pass
                else:
                    self._open[device], self._rest[device] = path, b""
        self.denied = tuple(denied)

    def _read(self, device: int) -> Iterator[Change]:
        source = self._open[device]
        try:
            found = os.read(device, EVENT.size * _AT_ONCE)
        except BlockingIOError:
            return
        except OSError:  # unplugged
            found = b""
        if not found:
            self._lose(device)
            yield Change(source, None, False, gone=True)
            return
        found = self._rest[device] + found
        whole = len(found) - len(found) % EVENT.size
        self._rest[device] = found[whole:]
        for _, _, kind, code, value in EVENT.iter_unpack(found[:whole]):
            if kind == KEY and value in (0, 1):
                yield Change(source, code, value == 1)
            elif (kind, code) == (SYNCHRONISATION, LOST):
                yield Change(source, None, False)

    def _lose(self, device: int) -> None:
        os.close(device)
        del self._open[device], self._rest[device]
