"""What a depot hands out over its finished logs, as JSON: heads, receipts and later heads. Pure.

An entry of the list names a log and the SHA-256 of its last line, which stands for every byte of it. A head is the Merkle
tree head (RFC 9162) of the list at one moment, signed with Ed25519 by the office's machine, over its own canonical form
(RFC 8785) without `sig`. A receipt is an entry with its path to a head. A later head shows by its path that the list still
begins with all of an earlier one.
"""
from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from companion.core.log.closing import closing_seal
from companion.core.log.journal import canonical, public_hex, sign, vouched
from companion.core.log.merkle import consistent, included, leaf_hash
from companion.core.log.rfc3339 import is_stamp
from companion.errors import BadInput
from companion.office.place import open_plain
from companion.terminal import clean

MOST_BYTES = 100_000
"""Of a receipt's file; a list of 2^63 logs makes a tenth of it."""


def _stamp(text: str) -> str:
    if not is_stamp(text):
        raise ValueError("must be a UTC time with milliseconds (RFC 3339)")
    return text


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("must be printable characters")
    return text


Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Stamp = Annotated[str, AfterValidator(_stamp)]
Steps = Annotated[tuple[Hash, ...], Field(max_length=200)]
LogName = Annotated[str, Field(pattern=r"^[^/\\:]{1,200}\.jsonl$"), AfterValidator(_printable)]
Size = Annotated[int, Field(ge=0, le=2**53 - 1)]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Entry(_Form):
    """One finished log."""

    at: Stamp
    """When it was put on the list, by the office's clock."""
    last: Hash
    """SHA-256 of its last line without the newline."""
    log: LogName

    def line(self) -> bytes:
        """As it stands in the list, without a newline."""
        return canonical(self.model_dump())

    def leaf(self) -> bytes:
        """Its leaf hash."""
        return leaf_hash(self.line())


class Head(_Form):
    """The list at one moment."""

    at: Stamp
    key: Hash
    """Public key of the machine that signed it."""
    root: Hash
    sig: Annotated[str, Field(pattern=r"^[0-9a-f]{128}$")] = Field(repr=False)
    size: Size
    """Entries."""

    @classmethod
    def signed(cls, size: int, root: bytes, at: str, key: Ed25519PrivateKey) -> Head:
        """The head of a list, signed with `key` at `at`."""
        said = {"at": at, "key": public_hex(key), "root": root.hex(), "size": size}
        return cls(**said, sig=sign(said, key))

    def line(self) -> bytes:
        """As it stands in the list of heads, without a newline."""
        return canonical(self.model_dump())

    def holds(self) -> bool:
        """Whether the machine it names has signed it."""
        return vouched(self.model_dump(exclude={"sig"}), self.sig, self.key)


class Receipt(_Form):
    """A log stood on the list."""

    receipt: Literal[1] = 1
    entry: Entry
    index: Size
    """Its place on the list, from 0."""
    path: Steps
    head: Head

    def holds(self) -> bool:
        """Whether the path leads from the entry to the head."""
        return included(self.entry.leaf(), self.index, self.head.size, _bytes(self.path), bytes.fromhex(self.head.root))


class Later(_Form):
    """A head, and the path that shows that its list begins with an earlier one of `since` entries."""

    later: Literal[1] = 1
    since: Size
    path: Steps
    head: Head

    def continues(self, before: Head) -> bool:
        """Whether nothing of the list that `before` is the head of was taken out or rewritten."""
        return self.since == before.size and consistent(
            before.size, self.head.size, _bytes(self.path), bytes.fromhex(before.root), bytes.fromhex(self.head.root))


def letters(size: int, root: str) -> str:
    """A head in twenty letters, to be written down or said: size and root (hex), drawn as a closing seal is."""
    return closing_seal(sha256(canonical({"root": root, "size": size})).hexdigest())


Form = TypeVar("Form", Receipt, Later)


def read_form(kind: type[Form], path: Path) -> Form:
    """A file that was handed out. Raises BadInput."""
    where, what = clean(str(path)), kind.__name__.lower().replace("later", "later head")
    try:
        with open_plain(path) as file:
            data = file.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise BadInput(where, f"must be a {what} of at most {MOST_BYTES:,} bytes")
        return kind.model_validate_json(data)
    except (OSError, ValueError) as error:
        raise BadInput(where, f"must be a {what}: {why_not(error)}") from None


def why_not(error: Exception) -> str:
    """What a form must hold that was not found, in a few words."""
    if isinstance(error, ValidationError):
        first = error.errors(include_url=False, include_input=False)[0]
        return clean(f"{'.'.join(map(str, first['loc']))}: {first['msg']}".lstrip(": "))[:200]
    return getattr(error, "strerror", None) or clean(str(error))[:200]


def _bytes(path: tuple[str, ...]) -> list[bytes]:
    return [bytes.fromhex(one) for one in path]
