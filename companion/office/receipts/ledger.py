"""The depot's list of finished logs on the disk: FOLDER/office/receipts/list.jsonl, only ever appended, and heads.jsonl, the
signed heads of it. An entry counts once a head counts it; what lies beyond was never handed out and is cut by the next."""
from __future__ import annotations

import time
from contextlib import closing
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import Callable, Iterator, Type, TypeVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import parse, pieces
from companion.core.log.merkle import Tree
from companion.edge.durable import DurableFile, in_turn, settle_folder
from companion.errors import BadEvidence, BrokenMachine
from companion.office.place import OFFICE
from companion.office.receipts.forms import Entry, Head, Later, Receipt, why_not
from companion.terminal import clean

RECEIPTS = "receipts"
LIST, HEADS = "list.jsonl", "heads.jsonl"

Line = TypeVar("Line", Entry, Head)


def receipts_folder(folder: Path) -> Path:
    """Where the list of a folder of job logs lies."""
    return folder / OFFICE / RECEIPTS


@dataclass(frozen=True)
class Ledger:
    """The list as far as its last head signs it, and its heads."""

    entries: tuple[Entry, ...] = ()
    heads: tuple[Head, ...] = ()
    sizes: tuple[int, int] = (0, 0)
    """Bytes of either file that count."""

    @cached_property
    def tree(self) -> Tree:
        """The tree over the entries."""
        return Tree(entry.leaf() for entry in self.entries)

    def receipt(self, index: int) -> Receipt:
        """The receipt of an entry under the last head."""
        return Receipt(entry=self.entries[index], index=index, head=self.heads[-1],
                       path=tuple(one.hex() for one in self.tree.inclusion(index)))

    def later(self, since: int) -> Later:
        """The last head, shown to continue that of the first `since` entries."""
        return Later(since=since, head=self.heads[-1], path=tuple(one.hex() for one in self.tree.consistency(since)))

    def agrees(self, head: Head) -> bool:
        """Whether a head that was handed out is one of this very list."""
        return head.size <= len(self.entries) and self.tree.root(head.size).hex() == head.root


def read_ledger(folder: Path) -> Ledger:
    """The list of a folder of job logs; an empty one where there is none.

    Raises BadEvidence where a line is not as it was written or the list is not the one that was signed, BrokenMachine."""
    place = receipts_folder(folder)
    try:
        return _ledger(_lines(place / LIST), _lines(place / HEADS), clean(str(place)))
    except OSError as error:
        raise BrokenMachine(clean(str(error.filename or place)), f"cannot be read: {error.strerror}") from None


def extend(folder: Path, found: Callable[[Ledger], tuple[Entry, ...]], key: Ed25519PrivateKey, at: str,
           wait: Callable[[float], None] = time.sleep) -> tuple[Ledger, int]:
    """Put on the list what `found` names, sign its head, and return when both are on the disk: the list, and how many
    entries are new. Where none is, nothing is signed. Raises as `read_ledger` does."""
    place = receipts_folder(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
        with closing(in_turn(_made(place / LIST), wait)) as entries, closing(in_turn(_made(place / HEADS), wait)) as heads:
            before = _ledger(entries.lines(), heads.lines(), clean(str(place)))
            new = found(before)
            return (_grown(before, new, entries, heads, key, at) if new else before), len(new)
    except OSError as error:
        raise BrokenMachine(clean(str(error.filename or place)), f"cannot be written: {error.strerror}",
                            do="No receipt was given. Make room, then do it again") from None


def _grown(before: Ledger, new: tuple[Entry, ...], list_file: DurableFile, heads_file: DurableFile,
           key: Ed25519PrivateKey, at: str) -> Ledger:
    after = Ledger((*before.entries, *new))
    head = Head.signed(len(after.entries), after.tree.root(), at, key)
    list_file.append(b"".join(entry.line() + b"\n" for entry in new), after=before.sizes[0])
    heads_file.append(head.line() + b"\n", after=before.sizes[1])
    return replace(after, heads=(*before.heads, head), sizes=(list_file.size, heads_file.size))


def _made(path: Path) -> Path:
    """The file, made where it is not there yet."""
    if not path.exists():
        path.touch(exist_ok=True)
        settle_folder(path.parent)
    return path


def _lines(path: Path) -> Iterator[bytes]:
    if path.exists():
        with open(path, "rb") as file:
            yield from pieces(file)


def _ledger(listed: Iterator[bytes], signed: Iterator[bytes], where: str) -> Ledger:
    heads, heads_size = _heads(signed, f"{where}/{HEADS}")
    entries, size = _read(Entry, islice(listed, heads[-1].size if heads else 0), f"{where}/{LIST}")
    found = Ledger(tuple(entries), tuple(heads), (size, heads_size))
    for number, head in enumerate(heads, 1):
        if not found.agrees(head):
            raise BadEvidence(f"{where}/{LIST}", f"must begin with the {head.size} entries that line {number} of {HEADS} "
                              "signed, and does not", do="An entry was taken out or changed. Restore it from a copy")
    return found


def _heads(lines: Iterator[bytes], where: str) -> tuple[list[Head], int]:
    heads, size = _read(Head, lines, where)
    for number, head in enumerate(heads, 1):
        if not head.holds():
            raise BadEvidence(f"{where}:{number}", "sig must be the signature of the machine named by key")
        if number > 1 and head.size <= heads[number - 2].size:
            raise BadEvidence(f"{where}:{number}", "size must be more than in the line before", str(head.size))
    return heads, size


def _read(kind: Type[Line], lines: Iterator[bytes], where: str) -> tuple[list[Line], int]:
    """What the whole lines say, and their bytes; an unfinished last line does not count."""
    found, size = [], 0
    for number, line in enumerate(lines, 1):
        if not line.endswith(b"\n"):
            break
        try:
            one = kind.model_validate(parse(line))
        except ValueError as error:  # a ValidationError is one
            raise BadEvidence(f"{where}:{number}", f"must be a line as it was written: {why_not(error)}") from None
        found.append(one)
        size += len(line)
    return found, size
