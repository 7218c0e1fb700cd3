"""A file that is only ever appended, where `append` returns when the bytes are on the disk and not before.

It is `fsync`, not `fdatasync`: a growing file needs its size on the disk too, so there is nothing to save. Every call on
the disk is `os.…` in this module, so that a test can put a failing disk under it.
"""
from __future__ import annotations

import errno
import os
import stat
from functools import partial
from pathlib import Path
from typing import Iterator

from companion.core.journal import LONGEST
from companion.edge.lock import lock
from companion.errors import BadInput

_MODE = os.O_RDWR | os.O_APPEND | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


class DurableFile:
    """One open, locked file. After any OSError from `append` it is good for `cut_back` and `close` only."""

    def __init__(self, path: Path, *, new: bool, mode: int = 0o644) -> None:
        """Open `path`, which must (`new`) or must not be there yet. Raises BadInput, also where another program holds it."""
        self.path = path
        try:
            self._fd = os.open(path, _MODE | (os.O_CREAT | os.O_EXCL if new else 0), mode)
        except FileExistsError:
            raise BadInput(str(path), "must be a new file, and it is there already") from None
        except (OSError, ValueError) as error:
            raise BadInput(str(path), "must be a file that can be written", _reason(error)) from None
        try:
            if not stat.S_ISREG(os.fstat(self._fd).st_mode):
                raise BadInput(str(path), "must be a plain file")
            lock(self._fd, str(path))
            if new:
                os.fsync(self._fd)
                settle_folder(path.parent)
        except BaseException:
            self.close()
            raise
        self.size = os.fstat(self._fd).st_size
        """Bytes that are acknowledged. What lies beyond is cut before the next bytes are written."""

    def lines(self) -> Iterator[bytes]:
        """Every line from the start, newlines kept, none longer than `LONGEST` and one byte."""
        with open(self._fd, "rb", closefd=False) as file:
            file.seek(0)
            yield from iter(partial(file.readline, LONGEST + 1), b"")

    def acknowledge(self, size: int) -> bytes:
        """Say that only the first `size` bytes count; the bytes beyond them, which the next append will cut."""
        with open(self._fd, "rb", closefd=False) as file:
            file.seek(size)
            beyond = file.read()
        self.size, self._beyond = size, len(beyond)
        return beyond

    _beyond = 0

    def append(self, data: bytes) -> None:
        """Write `data` and wait until it is on the disk. Raises OSError: then nothing of it counts."""
        self._must_be_ours()
        if self._beyond:
            os.ftruncate(self._fd, self.size)
            os.fsync(self._fd)
            self._beyond = 0
        rest = memoryview(data)
        while rest:
            written = os.write(self._fd, rest)
            if not written:
                raise OSError(errno.EIO, "nothing could be written")
            rest = rest[written:]
        os.fsync(self._fd)
        self.size += len(data)

    def cut_back(self, size: int) -> None:
        """After a failure: open the file anew and cut it to its first `size` bytes, durably. Raises OSError."""
        fd = os.open(self.path, _MODE)
        try:
            os.ftruncate(fd, min(size, os.fstat(fd).st_size))
            os.fsync(fd)
        finally:
            os.close(fd)
        self.size = size

    def close(self) -> None:
        """Let the file and its lock go. Harmless when done twice."""
        if self._fd >= 0:
            os.close(self._fd)
        self._fd = -1

    def _must_be_ours(self) -> None:
        """Bytes written into a file that was deleted or changed by another program would be as good as lost."""
        found = os.fstat(self._fd)
        if found.st_nlink == 0:
            raise OSError(errno.ENOENT, "the file was deleted while in use")
        if found.st_size != self.size + self._beyond:
            raise OSError(errno.EBUSY, "another program changed the file")


def settle_folder(folder: Path) -> None:
    """Make a new name in `folder` durable. Windows has no such call and needs none."""
    if os.name == "nt":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
