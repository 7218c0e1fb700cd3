"""The office's log on the disk: read whole, appended one durable line at a time, by one program at a time."""
from __future__ import annotations

import errno
import time
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Callable, Iterator

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import BadLine
from companion.core.log.journal import pieces, public_hex
from companion.edge.durable import DurableFile, settle_folder
from companion.edge.lock import Held
from companion.errors import BadEvidence, BrokenMachine
from companion.office.place import OFFICE
from companion.office.review_log.facts import Fact
from companion.office.review_log.lines import Lines, Signed
from companion.office.review_log.register import must_fit
from companion.office.review_log.reviewed import Reviewed, read_into, reviewed
from companion.office.trusted import trusted_in

NAME = "review.jsonl"
PATIENCE_S = 10.0
"""How long an entry waits for another program's to be on the disk."""
_PAUSE_S = 0.02


def review_path(folder: Path) -> Path:
    """Where the office's log of a folder of job logs lies."""
    return folder / OFFICE / NAME


def read_review(folder: Path) -> Reviewed:
    """What the office's log of a folder of job logs says, with its list of trusted keys; nothing where there is none.

    Raises BrokenMachine; TrustErrors (a BadInput) where the list has faults."""
    path = review_path(folder)
    try:
        trusted = trusted_in(path.parent)
        if not path.exists():
            return Reviewed(trusted=trusted)
        with open(path, "rb") as file:
            return replace(reviewed(pieces(file), str(path)), trusted=trusted)
    except OSError as error:
        raise BrokenMachine(str(error.filename or path), f"cannot be read: {error.strerror}") from None


def append(folder: Path, fact: Fact, key: Ed25519PrivateKey, at: str,
           wait: Callable[[float], None] = time.sleep) -> Reviewed:
    """Write `fact`, said at `at` and signed with `key`, after what others wrote meanwhile; what the log then says.

    It returns when the line is on the disk. Raises BadEvidence where a line of the log does not hold, BadInput
    where the fact does not fit what stands there or another program keeps the log, BrokenMachine where the disk fails.
    """
    path = review_path(folder)
    try:
        _make(path)
        file = _held(path, wait)
    except OSError as error:
        raise BrokenMachine(str(path), f"cannot be written: {error.strerror}") from None
    try:
        return _append(file, fact, key, at)
    except OSError as error:
        raise BrokenMachine(str(path), f"cannot be written: {error.strerror}",
                            do="What was just said is not logged. Make room, then say it again") from None
    finally:
        file.close()


def _append(file: DurableFile, fact: Fact, key: Ed25519PrivateKey, at: str) -> Reviewed:
    lines = Lines(str(file.path))
    found = replace(read_into(lines, file.lines()), trusted=trusted_in(file.path.parent))
    if found.broken:
        raise BadEvidence(f"{file.path}:{found.broken}", found.why, do="Nothing is added until somebody has looked at "
                          "it. Restore the file from a copy, or move it away and begin a new one")
    must_fit(found, fact)
    before, there = lines.size, (lines.n, lines.prev)
    entry = Signed(lines.n, at, fact, public_hex(key))
    written = lines.add(fact, at, key)
    try:
        file.append(written, after=before)
    except OSError:
        file.reopen(lambda pieces: _still(pieces, *there))
        raise
    return found.grown(entry, lines.prev)


def _still(pieces: Iterator[bytes], n: int, prev: str) -> int:
    """How many bytes the `n` lines have that had been read; nothing beyond them counts. Raises OSError where they are not
    what they were."""
    lines = Lines()
    try:
        for piece in islice(pieces, n):
            lines.take(piece)
    except BadLine:
        pass
    if (lines.n, lines.prev) != (n, prev):
        raise OSError(errno.EIO, "the lines before it are no longer what they were")
    return lines.size


def _make(path: Path) -> None:
    """An empty log, durably, where there is none; who comes second finds the first one's."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(exist_ok=True)
    settle_folder(path.parent)
    settle_folder(path.parent.parent)


def _held(path: Path, wait: Callable[[float], None]) -> DurableFile:
    """The file with its lock, once no other program has it."""
    for _ in range(round(PATIENCE_S / _PAUSE_S)):
        try:
            return DurableFile(path, new=False)
        except Held:
            wait(_PAUSE_S)
    return DurableFile(path, new=False)
