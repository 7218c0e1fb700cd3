"""Taking words and sound off the disk for good, as far as a program can.

What a file held is overwritten with zeros once its name is gone, and every step is on the disk before the next. What
a program cannot reach is left: flash disks and copy-on-write file systems write elsewhere and keep old blocks for a
while, and so do snapshots and backups. On Windows an open file cannot lose its name, and nothing is overwritten.
"""
from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Optional

from companion.edge.durable import settle_folder

_PIECE = 2**20
_AT_ONCE = os.name != "nt"
_MODE = getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


def erase(path: Path) -> None:
    """The file and what it held are gone. Raises OSError, also for a link; harmless where there is none."""
    _must_be_no_link(path)
    old = _held(path)
    path.unlink(missing_ok=True)
    settle_folder(path.parent)
    _overwrite(old)


def keep_only(path: Path, data: bytes) -> None:
    """The file holds `data`, and what else it held is gone. Raises OSError: then it is as it was, or done."""
    _must_be_no_link(path)
    new = draft_of(path)
    new.unlink(missing_ok=True)
    with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _MODE, 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    old = _held(path)
    os.replace(new, path)
    settle_folder(path.parent)
    _overwrite(old)


def draft_of(path: Path) -> Path:
    """Where the new file lies until it takes its place; one may be left there by a power cut."""
    return path.with_name(path.name + ".new")


def _must_be_no_link(path: Path) -> None:
    """Whoever sent a folder does not choose what goes, not even in it."""
    if path.is_symlink():
        raise OSError(errno.ELOOP, "it is a link to another file; erase that one, then the link", str(path))


def _held(path: Path) -> Optional[int]:
    """The file, kept open while it loses its name."""
    return os.open(path, os.O_RDWR | _MODE) if _AT_ONCE and path.exists() else None


def _overwrite(fd: Optional[int]) -> None:
    """Zeros over what a nameless file held; one that still has a name elsewhere is somebody's copy, and is left alone."""
    if fd is None:
        return
    try:
        found = os.fstat(fd)
        for start in range(0, 0 if found.st_nlink else found.st_size, _PIECE):
            os.pwrite(fd, bytes(min(_PIECE, found.st_size - start)), start)
        os.fsync(fd)
    finally:
        os.close(fd)
