"""A simulated disk under the real `companion.edge.durable`: it stands where that module's `os` stands.

The files lie on the real file system, as a program sees them while the machine runs. What of them is on the disk is known
here: bytes count only after `fsync`, block by block. A power cut leaves any of the blocks that were waiting, zeros for the
others, and any length between the old and the new. A failed `fsync` forgets what was waiting, as Linux does: the file goes on
showing it, a second `fsync` says all is well, and the bytes never come.
"""
from __future__ import annotations

import errno
import os
import stat
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Callable, Iterator, Optional

from companion.edge import durable

class PowerCut(BaseException):
    """The machine stops, here and now."""


class _File:
    """One file: what is on the disk, and which of its blocks wait to be written there."""

    def __init__(self, path: Path) -> None:
        self.path, self.named = path, path.exists()
        self.held = bytearray(path.read_bytes() if self.named else b"")
        self.waiting: set[int] = set()


class Disk:
    """The `os` module on a simulated disk."""

    def __init__(self, rng: Random, block: int = 512) -> None:
        self.rng, self.block = rng, block
        self.cut_in: Optional[int] = None
        """Calls until the power is cut; None for never."""
        self.fault: Callable[[str], int] = lambda call: 0
        """Whether a call fails: its errno, or 0."""
        self.room: Optional[int] = None
        """Bytes that can still be written; None for enough."""
        self.longest: Optional[int] = None
        """Bytes that one write takes at most; None for all."""
        self._files: dict[int, _File] = {}
        self._open: dict[int, Path] = {}

    def __getattr__(self, name):
        return getattr(os, name)

    @contextmanager
    def under(self) -> Iterator[None]:
        """The real module writes to this disk."""
        durable.os = self
        try:
            yield
        finally:
            durable.os = os

    # -- the calls -----------------------------------------------------------------------------------------------------

    def open(self, path, flags, mode=0o777) -> int:
        """As `os.open`."""
        path = Path(path)
        known = path.exists()
        self._call("open", bool(flags & os.O_RDWR))
        fd = os.open(path, flags, mode)
        self._open[fd] = path
        if stat.S_ISREG(os.fstat(fd).st_mode):
            file = self._files.setdefault(os.fstat(fd).st_ino, _File(path))
            file.named = file.named and known
        return fd

    def close(self, fd: int) -> None:
        """As `os.close`."""
        self._open.pop(fd, None)
        os.close(fd)

    def write(self, fd: int, data) -> int:
        """As `os.write`: perhaps not all of it. A power cut comes in the middle of it."""
        cut = self._is_cut("write")
        size = len(data) if self.longest is None else self.rng.randint(1, self.longest)
        size = self.rng.randint(0, min(size, len(data))) if cut else min(size, len(data))
        if self.room is not None:
            size = min(size, self.room)
            self.room -= size
            if not size:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        start = os.fstat(fd).st_size
        written = os.write(fd, data[:size])
        if written:
            self._file(fd).waiting.update(range(start // self.block, (start + written - 1) // self.block + 1))
        if cut:
            raise PowerCut
        return written

    def ftruncate(self, fd: int, size: int) -> None:
        """As `os.ftruncate`: it waits for `fsync` like any other."""
        self._call("ftruncate")
        before = os.fstat(fd).st_size
        os.ftruncate(fd, size)
        file = self._file(fd)
        file.waiting = {number for number in file.waiting if number * self.block < size}
        if before != size and size:
            file.waiting.add((size - 1) // self.block)
        if self.room is not None:
            self.room += max(0, before - size)

    def fsync(self, fd: int) -> None:
        """What waits is on the disk when it returns. Where it fails, only some of it is, and nothing waits any more."""
        self._call("fsync")
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            for file in self._files.values():
                file.named = True
            return
        self._bring(self._file(fd), lambda number: True, os.fstat(fd).st_size)

    def unlink(self, path) -> None:
        """As `os.unlink`."""
        self._call("unlink")
        self._files.pop(os.stat(path).st_ino, None)
        os.unlink(path)

    def posix_fadvise(self, fd: int, start: int, size: int, advice: int) -> None:
        """What does not wait is forgotten, and read from the disk again."""
        file, seen = self._file(fd), bytearray(os.fstat(fd).st_size)
        shown = Path(file.path).read_bytes()
        for place in range(0, len(seen), self.block):
            source = shown if place // self.block in file.waiting else file.held
            part = source[place:place + self.block]
            seen[place:place + len(part)] = part
        os.truncate(file.path, 0)
        with open(file.path, "r+b") as again:
            again.write(seen)

    # -- what goes wrong -----------------------------------------------------------------------------------------------

    def _call(self, call: str, changes: bool = True) -> None:
        """Cut the power or fail, where it is time to."""
        if self._is_cut(call, changes):
            raise PowerCut

    def _is_cut(self, call: str, changes: bool = True) -> bool:
        """Count a call that changes something; whether the power goes with it. Raises OSError where the call fails."""
        if self.cut_in is not None and changes:
            self.cut_in -= 1
            if self.cut_in < 0:
                return True
        number = self.fault(call) if changes else 0
        if number:
            if call == "fsync":
                self._forget()
            raise OSError(number, os.strerror(number))
        return False

    def _forget(self) -> None:
        """A failed `fsync`: some blocks came, and the others never will."""
        for file in self._files.values():
            if file.waiting:
                self._bring(file, lambda number: self.rng.random() < 0.5, file.path.stat().st_size)

    def _bring(self, file: _File, comes: Callable[[int], bool], size: int) -> None:
        """Blocks that wait come to the disk, each where it `comes`; its length there becomes `size`."""
        shown = file.path.read_bytes()
        file.held = file.held[:size].ljust(size, b"\0")
        for number in file.waiting:
            if comes(number):
                part = shown[number * self.block:(number + 1) * self.block][:max(0, size - number * self.block)]
                file.held[number * self.block:number * self.block + len(part)] = part
        file.waiting = set()

    def _file(self, fd: int) -> _File:
        return self._files[os.fstat(fd).st_ino]

    # -- the power cut -------------------------------------------------------------------------------------------------

    def reboot(self, way: str) -> None:
        """Every file as the disk may hold it after a power cut, in one of the ways of `KINDS`; no program has it open then."""
        for fd in tuple(self._open):
            self.close(fd)
        for file in self._files.values():
            if not file.path.exists():
                continue
            self._leave(file, way)
            if not file.named and self.rng.random() < 0.5:
                file.path.unlink()
            else:
                file.path.write_bytes(bytes(file.held))
        self._files = {}

    def _leave(self, file: _File, way: str) -> None:
        shown, old = file.path.read_bytes(), len(file.held)
        if way == "torn":  # in order, to any byte
            new = self.rng.randint(min(old, len(shown)), max(old, len(shown)))
            self._bring(file, lambda number: True, new)
        elif way == "lost":
            self._bring(file, lambda number: False, old)
        elif way == "came":
            self._bring(file, lambda number: True, len(shown))
        else:  # in any order
            share = self.rng.random()
            size = self.rng.choice((old, len(shown), len(shown), self.rng.randint(min(old, len(shown)), max(old, len(shown)))))
            self._bring(file, lambda number: self.rng.random() < share, size)


def whole(disk: Disk, rng: Random) -> None:
    """The disk works until the power is cut."""


def slow(disk: Disk, rng: Random) -> None:
    """It takes a few bytes at a time."""
    disk.longest = rng.choice((1, 7, 100, 600))


def _full(disk: Disk, rng: Random) -> None:
    """There is room for little more."""
    disk.room = rng.randint(0, 3000)


def _failing(number: int, *calls: str) -> Callable[[Disk, Random], None]:
    """From some call on, and for a while, these calls fail."""
    def set_up(disk: Disk, rng: Random) -> None:
        begin, length, count = rng.randint(0, 12), rng.choice((1, 1, 3, 12)), [0]

        def fault(call: str) -> int:
            count[0] += call in calls
            return number if call in calls and begin < count[0] <= begin + length else 0
        disk.fault = fault
    return set_up


KINDS: dict[str, tuple[str, Callable[[Disk, Random], None]]] = {
    "torn at any byte": ("torn", whole),
    "nothing came that was waiting": ("lost", whole),
    "all came that was waiting": ("came", whole),
    "blocks in any order": ("any order", whole),
    "short writes, then torn": ("torn", slow),
    "disk full, then blocks in any order": ("any order", _full),
    "fsync fails, then blocks in any order": ("any order", _failing(errno.EIO, "fsync")),
    "fsync fails, then nothing came": ("lost", _failing(errno.EIO, "fsync")),
    "write fails, then torn": ("torn", _failing(errno.EIO, "write")),
    "read-only, then torn": ("torn", _failing(errno.EROFS, "write", "ftruncate", "open")),
}
"""Kind to the way of the power cut, and what the disk does before."""
