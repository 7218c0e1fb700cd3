"""The sidecar of a running log on the disk: made when the first personal words come, and durable before the log's line
that refers to them."""
from __future__ import annotations

import hashlib
from itertools import islice, takewhile
from pathlib import Path
from typing import Iterator, Optional

from companion.core.log.journal import beside_name
from companion.core.log.sidecar import read_sidecar
from companion.edge.durable import DurableFile
from companion.edge.torn import hashes
from companion.errors import BadEvidence


class BesideFile:
    """What is personal in one log. Its bytes count only once the log's line is on the disk too: then call `count`."""

    def __init__(self, log: Path) -> None:
        """Beside the new log `log`; nothing is made yet."""
        self.path = beside_of(log)
        self.texts: dict[str, str] = {}
        """Hash to text, of every line that was there when the log was resumed."""
        self._file: Optional[DurableFile] = None
        self._size, self._hash = 0, hashlib.sha256()

    @classmethod
    def resume(cls, log: Path) -> BesideFile:
        """Beside a log that is there already. Raises OSError, BadInput."""
        made = cls(log)
        if made.path.exists():
            made._file = DurableFile(made.path, new=False)
            sidecar = read_sidecar(made._file.lines())
            made.texts, made._size = sidecar.texts, sidecar.size
        return made

    def settle(self, referred: set[bytes]) -> None:
        """Cut the end that a power cut left, where the log refers to nothing in it (`referred`: the hashes it refers to).
        Raises OSError."""
        if self._file is None:
            return
        whole = takewhile(lambda line: b"\0" not in line and line.endswith(b"\n"), self._file.lines())
        kept, size = 0, 0
        for kept, line in enumerate(whole, 1):
            size += len(line)
        if not any(hashes(line) & referred for line in islice(self._file.lines(), kept, None)):
            self._size = size
        self._hash = _hash_of(self._file.lines(), self._size)
        self._file.append(b"", after=self._size)

    def append(self, data: bytes) -> None:
        """Write after what counts, and wait until it is on the disk. Raises OSError, CompanionError."""
        if self._file is None:
            self._file = DurableFile(self.path, new=True, mode=0o600)
        self._file.append(data, after=self._size)

    def count(self, data: bytes) -> None:
        """`data` was appended, and so was the log's line that refers to it."""
        self._size += len(data)
        self._hash.update(data)

    def reopen(self) -> None:
        """See `DurableFile.reopen`. Raises BadEvidence where what counts is not on the disk as it was written."""
        if self._file is not None:
            self._file.reopen(self._check)

    def _check(self, lines: Iterator[bytes]) -> int:
        if _hash_of(lines, self._size).digest() != self._hash.digest():
            raise BadEvidence(str(self.path), f"the {self._size} bytes that were written must be there, unchanged")
        return self._size

    def close(self) -> None:
        """Let the file go. Harmless when done twice."""
        if self._file is not None:
            self._file.close()


def beside_of(log: Path) -> Path:
    """Where the sidecar of a log lies."""
    return log.with_name(beside_name(log.name))


def _hash_of(lines: Iterator[bytes], size: int) -> "hashlib._Hash":
    """Of the first `size` bytes."""
    made = hashlib.sha256()
    for line in lines:
        made.update(line[:size])
        size -= len(line[:size])
    return made
