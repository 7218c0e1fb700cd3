"""The log of a running job on the disk. Nothing is acknowledged before it is durable.

One decision is one write and one `fsync`. What is personal goes to the sidecar file, which is durable before the log's
line refers to it. A failure ends the handle: the file is cut back to what was acknowledged and read again, and the job
goes on only through `LogFile.resume`.
"""
from __future__ import annotations

import secrets
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Optional, Sequence, Union

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import Chain, replay
from companion.core.events import Event
from companion.core.log.journal import Entry, beside_name, closing_seal, public_hex
from companion.core.log.sidecar import dump_sidecar, read_sidecar
from companion.edge.durable import DurableFile
from companion.errors import BadEvidence, BadInput, BrokenMachine, CompanionError

SALT_BYTES = 16


class LogFile:
    """One log, held by this program alone. Made by `create` or `resume`; use it in a `with`, or `close` it."""

    def __init__(self, file: DurableFile, beside: Optional[DurableFile], key: Ed25519PrivateKey, chain: Chain) -> None:
        self.path = file.path
        self._file, self._beside, self._key, self._chain = file, beside, key, chain
        self._why_dead = ""

    @classmethod
    def create(cls, path: Union[str, Path], key: Ed25519PrivateKey) -> LogFile:
        """A new, empty log; its first event must be `JobOpened`. Raises BadInput where the file is there already."""
        path = Path(path)
        if not path.name.endswith(".jsonl"):
            raise BadInput(str(path), "the name of a log must end in .jsonl")
        if _beside(path).exists():
            raise BadInput(str(_beside(path)), "must not be there before its log", do="Choose another name")
        return cls(DurableFile(path, new=True), None, key, Chain(str(path)))

    @classmethod
    def resume(cls, path: Union[str, Path], key: Ed25519PrivateKey) -> tuple[LogFile, list[Entry], bytes]:
        """An unfinished log, its entries, and the bytes at its end that were never acknowledged.

        Those bytes are cut off, durably, by the first `append`; until then the log is untouched. A log that broke off
        before its first line was whole has no entries: it is opened as a new one. Raises BadEvidence where the chain or
        its last seal does not hold; BadInput where the job is finished, the log is another device's or held by another
        program.
        """
        path = Path(path)
        file = DurableFile(path, new=False)
        beside = None
        try:
            if _beside(path).exists():
                beside = DurableFile(_beside(path), new=False)
            chain, entries = _read(file, beside)
            _must_go_on(chain, public_hex(key))
            if beside:  # an unfinished line there was never referred to
                beside.append(b"", after=beside.size)
            return cls(file, beside, key, chain), entries, file.beyond(chain.size)
        except BaseException as error:
            file.close()
            if beside:
                beside.close()
            if isinstance(error, OSError):
                raise BrokenMachine(str(path), f"cannot be read again: {error.strerror}") from None
            raise

    def append(self, events: Sequence[Event], at: str, up: int) -> list[Entry]:
        """Write the events of one decision, and the seals they call for; the entries, once they are durable.

        `at` is RFC 3339, UTC, milliseconds; `up` milliseconds since the boot that the log names last. Raises BadInput
        or BadLine where an event cannot be logged: nothing is written and the log goes on. Raises BrokenMachine where
        the disk fails: then none of `events` is logged and this handle is dead.
        """
        if self._why_dead:
            raise BrokenMachine(str(self.path), f"takes no more entries: {self._why_dead}", do="Resume the job")
        chain = self._chain.copy()
        lines, beside, entries = self._composed(chain, events, at, up)
        before = self._beside.size if self._beside else 0
        try:
            if beside:
                self._append_beside(beside)
            self._file.append(lines, after=self._chain.size)
        except (OSError, CompanionError) as error:
            raise self._given_up(error, before) from error
        self._chain = chain
        return entries

    @property
    def closing_seal(self) -> str:
        """The words for the customer's sheet; "" while the job is unfinished."""
        return closing_seal(self._chain.prev) if self._chain.finished else ""

    def close(self) -> None:
        """Let the log go; what was acknowledged stays. Harmless when done twice."""
        self._why_dead = self._why_dead or "it is closed"
        self._file.close()
        if self._beside:
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

    def _append_beside(self, data: bytes) -> None:
        if self._beside is None:
            self._beside = DurableFile(_beside(self.path), new=True, mode=0o600)
        self._beside.append(data, after=self._beside.size)

    def _given_up(self, error: Exception, beside: int) -> BrokenMachine:
        """End this handle and leave on the disk what was acknowledged, read again to be sure. What to raise."""
        self._why_dead = getattr(error, "strerror", None) or str(error)
        try:
            self._file.cut_back(self._chain.size)
            if self._beside:
                self._beside.cut_back(beside)
            safe = self._read_again()
        except OSError as second:
            safe = f"Whether all {self._chain.n} entries before are safe could not be checked ({second.strerror})"
        self.close()
        return BrokenMachine(str(self.path), f"cannot be written: {self._why_dead}",
                             do=f"{safe}. What was just said is not logged. Make room, then resume the job")

    def _read_again(self) -> str:
        again = Chain(str(self.path))
        with open(self.path, "rb") as file, suppress(BadEvidence):
            for piece in file:
                again.take(piece)
        if (again.n, again.prev) == (self._chain.n, self._chain.prev):
            return f"All {again.n} entries before are safe"
        return f"Only {again.n} of the {self._chain.n} entries before can still be read"


def _read(file: DurableFile, beside: Optional[DurableFile]) -> tuple[Chain, list[Entry]]:
    """The chain and the entries of what was acknowledged.

    An event that calls for a seal shares its write with it. Where the seal is missing the event was never acknowledged,
    and it goes with the unfinished tail.
    """
    texts = _texts(beside)
    chain = Chain(str(file.path))
    entries = list(replay(file.lines(), texts, chain))
    if entries and entries[-1].event.seals:
        chain = Chain(str(file.path))
        entries = list(replay(islice(file.lines(), len(entries) - 1), texts, chain))
    return chain, entries


def _texts(beside: Optional[DurableFile]) -> dict[str, str]:
    if beside is None:
        return {}
    sidecar = read_sidecar(beside.lines())
    beside.size = sidecar.size
    return sidecar.texts


def _must_go_on(chain: Chain, key: str) -> None:
    """Whether the device with public key `key` may add to the log."""
    if not chain.seal_holds():
        raise BadEvidence(chain.where, "the last seal must hold; the log was changed", do="Look at it with verify")
    if chain.finished:
        raise BadInput(chain.where, "the job is finished and its log is closed")
    if chain.opened and chain.opened["key"] != key:
        raise BadInput(chain.where, "was begun on another device, and only that one can seal it", do="Go on there")


def _beside(path: Path) -> Path:
    return path.with_name(beside_name(path.name))
