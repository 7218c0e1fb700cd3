"""The log of a running job on the disk. Nothing is acknowledged before it is durable.

One decision is one write and one `fsync`. What is personal goes to the sidecar file, which is durable before the log's
line refers to it. After a failure the file is opened anew, read again, compared with what was acknowledged and cut to it;
before that nothing more is written.
"""
from __future__ import annotations

import errno
import secrets
from itertools import islice
from pathlib import Path
from typing import Iterator, Sequence, Union

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import BadLine, Chain, replay
from companion.core.events import Event
from companion.core.events.disk import CHANGED
from companion.core.log.closing import closing_seal
from companion.core.log.journal import LONGEST, Entry, public_hex
from companion.core.log.sidecar import dump_sidecar
from companion.edge.beside import BesideFile, beside_of
from companion.edge.durable import DurableFile
from companion.edge.torn import hashes, is_leftover
from companion.errors import BadEvidence, BadInput, BrokenMachine, CompanionError

SALT_BYTES = 16
_WHY = {errno.ENOSPC: "the disk is full", errno.EDQUOT: "the disk is full", errno.EFBIG: "the disk is full",
        errno.EROFS: "the disk cannot be written to", errno.ENOENT: "the log is gone from the disk",
        errno.EBUSY: "another program changed the log"}


class NotWritten(BrokenMachine):
    """The disk did not take a decision: nothing of it is logged. It may be given again later, unless `for_good`."""

    def __init__(self, where: str, must: str, why: str, do: str = "", for_good: bool = False) -> None:
        super().__init__(where, must, do=do)
        self.why, self.for_good = why, for_good
        """`why`: for the ear."""


class LogFile:
    """One log, held by this program alone. Made by `create` or `resume`; use it in a `with`, or `close` it."""

    def __init__(self, file: DurableFile, beside: BesideFile, key: Ed25519PrivateKey, chain: Chain) -> None:
        self.path = file.path
        self._file, self._beside, self._key, self._chain = file, beside, key, chain
        self._why_dead = ""
        """Why nothing more is ever written; "" while it may be."""
        self._doubted = False
        """After a failure, until what is on the disk has been compared with what was acknowledged."""

    @classmethod
    def create(cls, path: Union[str, Path], key: Ed25519PrivateKey) -> LogFile:
        """A new, empty log; its first event must be `JobOpened`. Raises BadInput where the file is there already."""
        path = Path(path)
        if not path.name.endswith(".jsonl"):
            raise BadInput(str(path), "the name of a log must end in .jsonl")
        if beside_of(path).exists():
            raise BadInput(str(beside_of(path)), "must not be there before its log", do="Choose another name")
        return cls(DurableFile(path, new=True), BesideFile(path), key, Chain(str(path)))

    @classmethod
    def resume(cls, path: Union[str, Path], key: Ed25519PrivateKey) -> tuple[LogFile, list[Entry], bytes]:
        """An unfinished log, its entries, and the bytes at its end that were never acknowledged.

        Those bytes are cut off, durably, by the first `append`; until then the log is untouched. A log that broke off
        before its first line was whole has no entries: it is opened as a new one. Raises BadEvidence where the chain or
        its last seal does not hold; BadInput where the job is finished, the log is another device's or held by another
        program.
        """
        path = Path(path)
        file, beside = DurableFile(path, new=False), BesideFile(path)
        try:
            beside = BesideFile.resume(path)
            chain, entries, referred = _read(file, beside.texts)
            _must_go_on(chain, public_hex(key))
            beside.settle(referred)
            return cls(file, beside, key, chain), entries, file.beyond(chain.size)
        except BaseException as error:
            file.close()
            beside.close()
            if isinstance(error, OSError):
                raise BrokenMachine(str(path), f"cannot be read again: {error.strerror}") from None
            raise

    def append(self, events: Sequence[Event], at: str, up: int) -> list[Entry]:
        """Write the events of one decision, and the seals they call for; the entries, once they are durable.

        `at` is RFC 3339, UTC, milliseconds; `up` milliseconds since the boot that the log names last. Raises BadInput
        or BadLine where an event cannot be logged: nothing is written and the log goes on. Raises NotWritten where the
        disk fails: then none of `events` is logged.
        """
        if self._why_dead:
            raise NotWritten(str(self.path), f"takes no more entries: {self._why_dead}", CHANGED, "Resume the job", True)
        chain = self._chain.copy()
        lines, beside, entries = self._composed(chain, events, at, up)
        try:
            if self._doubted:
                self._take_up_again()
            if beside:
                self._beside.append(beside)
            self._file.append(lines, after=self._chain.size)
        except (OSError, CompanionError) as error:
            raise self._failed(error) from error
        self._chain = chain
        self._beside.count(beside)
        return entries

    @property
    def closing_seal(self) -> str:
        """The words for the customer's sheet; "" while the job is unfinished."""
        return closing_seal(self._chain.prev, self._chain.opened["format"]) if self._chain.finished else ""

    def close(self) -> None:
        """Let the log go; what was acknowledged stays. Harmless when done twice."""
        self._why_dead = self._why_dead or "it is closed"
        self._file.close()
        self._beside.close()

    def __enter__(self) -> LogFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _composed(self, chain: Chain, events: Sequence[Event], at: str, up: int) -> tuple[bytes, bytes, list[Entry]]:
        """The decision's lines and sidecar lines as bytes, and its entries; `chain` takes them up."""
        lines, beside, entries = [], [], []
        for event in events:
            line, hidden = chain.add(event, at, up, lambda: secrets.token_bytes(SALT_BYTES))
            lines.append(line)
            beside += hidden
            entries.append(Entry(chain.n - 1, at, up, event))
            if event.seals:
                line, sealed = chain.seal(self._key)
                lines.append(line)
                entries.append(Entry(chain.n - 1, at, up, sealed))
        return b"".join(lines), dump_sidecar(beside), entries

    # -- after a failure -----------------------------------------------------------------------------------------------

    def _failed(self, error: Exception) -> NotWritten:
        """Leave on the disk what was acknowledged, read again to be sure; what to raise."""
        self._doubted = True
        what = getattr(error, "strerror", None) or str(error)
        why = _WHY.get(getattr(error, "errno", None), "the disk has failed")
        try:
            self._take_up_again()
            safe = f"All {self._chain.n} entries before are safe"
        except BadEvidence as changed:
            self._why_dead, why = str(changed), CHANGED
            safe = f"The {self._chain.n} entries before are no longer there as they were written ({changed})"
        except (OSError, CompanionError) as second:
            second = getattr(second, "strerror", None) or str(second)
            safe = f"Whether all {self._chain.n} entries before are safe could not be checked ({second})"
        return NotWritten(str(self.path), f"cannot be written: {what}", why,
                          f"{safe}. What was just said is not logged. Make room, then resume the job", bool(self._why_dead))

    def _take_up_again(self) -> None:
        """Fresh handles on what was acknowledged, and on nothing else. Raises OSError, CompanionError; BadEvidence where
        the disk holds something else, which is then left alone."""
        self._file.reopen(self._check)
        self._beside.reopen()
        self._doubted = False

    def _check(self, lines: Iterator[bytes]) -> int:
        """Bytes of what was acknowledged, which must be on the disk."""
        again, n = Chain(str(self.path)), self._chain.n
        for line in islice(lines, n):
            again.take(line)
        if (again.n, again.prev) != (n, self._chain.prev):
            raise BadEvidence(str(self.path), f"must hold the {n} entries that were acknowledged", f"{again.n} of them")
        return again.size


def _read(file: DurableFile, texts: dict[str, str]) -> tuple[Chain, list[Entry], set[bytes]]:
    """The chain and the entries of what was acknowledged, and the hashes of personal texts that they refer to.

    An event that calls for a seal shares its write with it. Where the seal is missing the event was never acknowledged,
    and it goes with the unfinished tail.
    """
    chain, entries, referred = _entries(file.lines(), texts, file)
    if entries and entries[-1].event.seals:
        chain, entries, referred = _entries(islice(file.lines(), len(entries) - 1), texts, file)
    return chain, entries, referred


def _entries(lines: Iterator[bytes], texts: dict[str, str], file: DurableFile) -> tuple[Chain, list[Entry], set[bytes]]:
    chain, entries, referred = Chain(str(file.path)), [], set()

    def noted() -> Iterator[bytes]:
        for line in lines:
            referred.update(hashes(line))
            yield line

    try:
        for entry in replay(noted(), texts, chain):
            entries.append(entry)
    except BadLine:
        if not is_leftover(file.beyond(chain.size, LONGEST + 1)):
            raise
    return chain, entries, referred


def _must_go_on(chain: Chain, key: str) -> None:
    """Whether the device with public key `key` may add to the log."""
    if not chain.seal_holds():
        raise BadEvidence(chain.where, "the last seal must hold; the log was changed", do="Look at it with verify")
    if chain.finished:
        raise BadInput(chain.where, "the job is finished and its log is closed")
    if chain.opened and chain.opened["key"] != key:
        raise BadInput(chain.where, "was begun on another device, and only that one can seal it", do="Go on there")

