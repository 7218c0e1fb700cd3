"""Where logs lie, with their sidecars and memos: one flat folder, on this machine or anywhere that serves files by name."""
from __future__ import annotations

from pathlib import Path
from typing import BinaryIO, Iterator, Protocol

from companion.core.log.journal import pieces


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
        return open(self.path / name, "rb")

    def has(self, name: str) -> bool:
        """See `Place`."""
        return (self.path / name).is_file()


def lines_in(place: Place, name: str) -> Iterator[bytes]:
    """The lines of a file, newlines kept. Raises OSError."""
    with place.open(name) as file:
        yield from pieces(file)
