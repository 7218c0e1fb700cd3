"""The office's log on the disk: read whole, appended one durable line at a time, by one program at a time."""
from __future__ import annotations

import errno
import sys
import time
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Callable, Iterator, Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import BadLine
from companion.core.log.journal import pieces, public_hex
from companion.edge.device import wall
from companion.edge.durable import DurableFile, in_turn, settle_folder
from companion.errors import BrokenMachine
from companion.office.place import OFFICE
from companion.office.review_log.facts import Fact
from companion.office.review_log.lines import Lines, Signed
from companion.office.review_log.register import must_fit
from companion.office.review_log.reviewed import Reviewed, read_into, reviewed
from companion.office.review_log.seen import Memory
from companion.office.review_log.taking import must_take
from companion.office.trusted import Trusted, trusted_in
from companion.terminal import clean

NAME = "review.jsonl"


def review_path(folder: Path) -> Path:
    """Where the office's log of a folder of job logs lies."""
    return folder / OFFICE / NAME


def read_review(folder: Path) -> Reviewed:
    """What the office's log of a folder of job logs says, by its list of trusted keys and beside what this machine had seen
    of it; nothing where there is none.

    Raises BrokenMachine; TrustErrors (a BadInput) where the list has faults."""
    path = review_path(folder)
    try:
        return looked_at(_read(path, trusted_in(path.parent)), Memory("", folder))
    except OSError as error:
        raise BrokenMachine(str(error.filename or path), f"cannot be read: {error.strerror}") from None


def remember(folder: Path) -> None:
    """What is there now is what this machine has seen: it has just changed the list of trusted keys itself. Raises OSError."""
    path = review_path(folder)
    _keep(_read(path, trusted_in(path.parent)), Memory("", folder))


def looked_at(found: Reviewed, memory: Memory) -> Reviewed:
    """The log beside what had been seen of it; what is seen now is remembered. Raises OSError."""
    compared = memory.compared(found)
    _keep(compared, memory)
    return compared


def _keep(found: Reviewed, memory: Memory) -> None:
    try:
        memory.keep(found, wall())
    except OSError as error:  # it can be read all the same
        print(f"companion: {clean(str(error.filename or memory.own))}: cannot be written: {error.strerror}. That the office's "
              "log is shortened later would not be noticed here", file=sys.stderr)


def _read(path: Path, trusted: Optional[Trusted]) -> Reviewed:
    if not path.exists():
        return Reviewed(trusted=trusted)
    with open(path, "rb") as file:
        return reviewed(pieces(file), str(path)).judged_by(trusted)


def append(folder: Path, fact: Fact, key: Ed25519PrivateKey, at: str,
           wait: Callable[[float], None] = time.sleep) -> Reviewed:
    """Write `fact`, said at `at` and signed with `key`, after what others wrote meanwhile; what the log then says.

    It returns when the line is on the disk. Raises BadEvidence where a line of the log does not hold or the log is not what
    this machine had seen, unless just that is answered; BadInput where the fact does not fit what stands there, the key would
    not count or another program keeps the log; BrokenMachine where the disk fails.
    """
    path = review_path(folder)
    try:
        _make(path)
        file = in_turn(path, wait)
    except OSError as error:
        raise BrokenMachine(str(path), f"cannot be written: {error.strerror}") from None
    try:
        return _append(file, Memory("", folder), fact, key, at)
    except OSError as error:
        raise BrokenMachine(str(path), f"cannot be written: {error.strerror}",
                            do="What was just said is not logged. Make room, then say it again") from None
    finally:
        file.close()


def _append(file: DurableFile, memory: Memory, fact: Fact, key: Ed25519PrivateKey, at: str) -> Reviewed:
    lines = Lines(str(file.path))
    found = memory.compared(read_into(lines, file.lines()).judged_by(trusted_in(file.path.parent)))
    must_take(found, str(file.path), fact, public_hex(key), at)
    must_fit(found, fact)
    before, there = lines.size, (lines.n, lines.prev)
    entry = Signed(lines.n, at, fact, public_hex(key))
    written = lines.add(fact, at, key)
    try:
        file.append(written, after=before)
    except OSError:
        file.reopen(lambda pieces: _still(pieces, *there))
        raise
    grown = replace(found.grown(entry, lines.prev), doubts=())  # where there were any, they have just been answered
    _keep(grown, memory)
    return grown


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
