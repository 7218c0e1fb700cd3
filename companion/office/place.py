"""Where logs lie, with their sidecars and memos: one flat folder, on this machine or anywhere that serves files by name."""
from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO, Iterator, Protocol

from companion.core.log.journal import pieces
from companion.errors import BadInput
from companion.terminal import clean

OFFICE = "office"
"""The folder of the office's own files, inside the folder of the job logs."""


class Place(Protocol):
    """A folder of files. Names have no folder in them."""

    def open(self, name: str) -> BinaryIO:
        """The file's bytes. Raises OSError."""

    def has(self, name: str) -> bool:
        """Whether there is a plain file of that name."""


class Folder:
    """A folder of this machine."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def open(self, name: str) -> BinaryIO:
        """See `Place`."""
        return open_plain(self.path / name)

    def has(self, name: str) -> bool:
        """See `Place`."""
        return (self.path / name).is_file()


def open_plain(path: Path | str) -> BinaryIO:
    """A plain file's bytes. Raises OSError; for a pipe or a device too, which might never come to an end."""
    fd = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        os.close(fd)
        raise OSError(errno.EINVAL, "it is no plain file", str(path))
    return open(fd, "rb")


def lines_in(place: Place, name: str, most: int = 2**63) -> Iterator[bytes]:
    """The lines of a file, newlines kept. Raises OSError; BadInput beyond `most` bytes."""
    with place.open(name) as file:
        for piece in pieces(file):
            most -= len(piece)
            if most < 0:
                raise BadInput(clean(name), "is too long to be the file it should be", do="Look at it by hand")
            yield piece
