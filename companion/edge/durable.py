"""A file that is only ever appended, where `append` returns when the bytes are on the disk and not before.

It is `fsync`, not `fdatasync`: a growing file needs its size on the disk too, so there is nothing to save. A failed
`fsync` is never called again as if nothing had happened, for the system tells of a lost write only once, and may go on
showing bytes that never reached the disk: the file is taken up again by `reopen`. Every call on the disk is `os.…` in
this module, so that a test can put a failing disk under it.
"""
from __future__ import annotations

import errno
import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import Callable, Iterator, Optional, TypeVar

from companion.core.log.journal import pieces
from companion.edge.lock import Held, lock
from companion.errors import BadInput, BrokenMachine

_MODE = os.O_RDWR | os.O_APPEND | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


class DurableFile:
    """One open, locked file. After any OSError from `append` it is good for `reopen` and `close` only."""

    def __init__(self, path: Path, *, new: bool, mode: int = 0o644) -> None:
        """Open `path`: a file that must not be there yet (`new`), or must be.

        Raises BadInput, also where another program holds it; BrokenMachine where the disk fails.
        """
        self.path = path
        try:
            self._fd = os.open(path, _MODE | (os.O_CREAT | os.O_EXCL if new else 0), mode)
        except FileExistsError:
            raise BadInput(str(path), "must be a new file, and it is there already") from None
        except (OSError, ValueError) as error:
            raise BadInput(str(path), f"cannot be opened: {getattr(error, 'strerror', None) or error}") from None
        try:
            self._take_hold(new)
        except BaseException:
            self.close()
            if new:  # else it would lie in the way of the next try
                with suppress(OSError):
                    os.unlink(path)
            raise
        self.size = os.fstat(self._fd).st_size
        """Bytes that count. What lies beyond is cut by the next `append`."""
        self._length: Optional[int] = self.size
        """What the file's length must be, if no other program meddles; None while bytes are being written."""

    def _take_hold(self, new: bool) -> None:
        if not stat.S_ISREG(os.fstat(self._fd).st_mode):
            raise BadInput(str(self.path), "must be a plain file")
        lock(self._fd, str(self.path))
        if new:
            try:
                os.fsync(self._fd)
                settle_folder(self.path.parent)
            except OSError as error:
                raise BrokenMachine(str(self.path), f"cannot be written: {error.strerror}") from None

    def lines(self) -> Iterator[bytes]:
        """Every line from the start, newlines kept. Raises OSError."""
        return _lines(self._fd)

    def beyond(self, size: int, most: int = -1) -> bytes:
        """The bytes after the first `size`, which alone count from now on; at most so many of them. Raises OSError."""
        self.size = size
        with open(self._fd, "rb", closefd=False) as file:
            file.seek(size)
            return file.read(most)

    def append(self, data: bytes, after: int) -> None:
        """Write `data` after the first `after` bytes, cut what lies beyond them, and wait until all is on the disk.

        Raises OSError: then nothing of `data` counts. Whoever is interrupted in it may just append again.
        """
        found = os.fstat(self._fd)
        if found.st_nlink == 0:
            raise OSError(errno.ENOENT, "the file was deleted while in use")
        if self._length not in (None, found.st_size):
            raise OSError(errno.EBUSY, "another program changed the file")
        self._length = None
        if found.st_size != after:
            os.ftruncate(self._fd, after)
            os.fsync(self._fd)
        self._write(data)
        os.fsync(self._fd)
        self.size = self._length = after + len(data)

    def _write(self, data: bytes) -> None:
        rest = memoryview(data)
        while rest:
            written = os.write(self._fd, rest)
            if not written:
                raise OSError(errno.EIO, "nothing could be written")
            rest = rest[written:]

    def reopen(self, check: Callable[[Iterator[bytes]], int]) -> None:
        """After a failure: take the file up again with a fresh handle, read from the disk itself.

        `check` gets its lines and says how many bytes count; what lies beyond is cut, durably. Until it has, the file is
        left as it is, and the old handle keeps the lock. Raises OSError, CompanionError and what `check` raises: then
        nothing may be appended, and `reopen` may be called again.
        """
        fd = os.open(self.path, _MODE)
        try:
            if hasattr(os, "posix_fadvise"):  # what the system still holds in memory may never have reached the disk
                os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
            size = check(_lines(fd))
            os.ftruncate(fd, size)
            os.fsync(fd)
        except BaseException:
            os.close(fd)
            raise
        self.close()
        self._fd = fd
        lock(fd, str(self.path))
        self.size = self._length = size

    def close(self) -> None:
        """Let the file and its lock go. Harmless when done twice."""
        fd, self._fd = self._fd, -1
        if fd >= 0:
            with suppress(OSError):  # what counts is on the disk already
                os.close(fd)


def _lines(fd: int) -> Iterator[bytes]:
    with open(fd, "rb", closefd=False) as file:
        file.seek(0)
        yield from pieces(file)


PATIENCE_S = 10.0
"""So long another program's hold is waited for by `in_turn`."""
_PAUSE_S = 0.02
Taken = TypeVar("Taken")


def in_turn(path: Path, wait: Callable[[float], None]) -> DurableFile:
    """The file with its lock, once no other program has it. Raises Held, a BadInput, where it is not let go in time."""
    return once_free(lambda: DurableFile(path, new=False), wait)


def once_free(take: Callable[[], Taken], wait: Callable[[float], None]) -> Taken:
    """What `take` gives, tried again while it raises Held. Raises Held where that goes on for too long."""
    for _ in range(round(PATIENCE_S / _PAUSE_S)):
        try:
            return take()
        except Held:
            wait(_PAUSE_S)
    return take()


def settle_folder(folder: Path) -> None:
    """Make a new name in `folder` durable. Windows has no such call and needs none."""
    if os.name == "nt":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
