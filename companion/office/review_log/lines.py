"""The office's log, byte by byte. Pure: bytes in, bytes out.

One JSON object a line, in the form and with the chain of the job log (`core.log.journal`), every line signed:

    {"at":"2026-01-31T08:15:00.250Z","by":"A. Example","data":{…},"event":"card_approved","key":"<64 hex>","n":7,
     "prev":"<64 hex>","sig":"<128 hex>"}

`prev` is the SHA-256 of the line before without its newline, 64 zeros at n = 0. `key` is the Ed25519 public key of the
machine that wrote the line; several machines may write one log. `sig` is its signature, over the canonical form of the
line without `sig`. Times come from the machines' own clocks, so they need not rise from line to line.
"""
from __future__ import annotations

import re
from dataclasses import MISSING, dataclass, fields
from functools import lru_cache
from typing import Any, Iterable, Optional

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import BadLine
from companion.core.log.journal import FIRST, LONGEST, canonical, digest, dump, parse, public_hex, public_key, sign
from companion.core.log.rfc3339 import is_stamp
from companion.errors import BadInput
from companion.office.review_log.facts import KINDS, Fact

_NAMES = ("at", "by", "data", "event", "key", "n", "prev", "sig")
_TYPES = (str, str, dict, str, str, int, str, str)
_EVENTS = {kind: name for name, kind in KINDS.items()}
_HEX = {"key": re.compile("[0-9a-f]{64}"), "sig": re.compile("[0-9a-f]{128}")}


@dataclass(frozen=True)
class Signed:
    """One line of the office's log: what was said, when, and by which machine."""

    n: int
    at: str
    """RFC 3339, UTC, milliseconds, by the clock of the machine that wrote it."""
    fact: Fact
    key: str
    """Ed25519 public key of that machine, lower-case hex."""


class Lines:
    """What the lines so far commit the next one to. They come in by `take` (read) or by `add` (written)."""

    def __init__(self, where: str = "the office's log") -> None:
        self.where = where
        self.n = 0
        """Lines so far, and so the `n` of the next."""
        self.prev = FIRST
        """Hash of the last line, and so the `prev` of the next."""
        self.size = 0
        """Bytes so far."""
        self.torn = b""
        """An unfinished last line: never acknowledged, no part of the log."""

    def take(self, piece: bytes) -> Optional[Signed]:
        """Check and append a line as read from a file, newline and all; None and `torn` set where that is missing.

        Raises BadLine."""
        if not piece.endswith(b"\n"):
            if len(piece) > LONGEST:
                raise self._bad(f"must be at most {LONGEST} bytes long")
            self.torn = piece
            return None
        try:
            line = parse(piece)
        except ValueError as error:
            raise self._bad(str(error)) from None
        self._check(line)
        entry = Signed(line["n"], line["at"], self._fact(line), line["key"])
        self._append(piece)
        return entry

    def add(self, fact: Fact, at: str, key: Ed25519PrivateKey) -> bytes:
        """Append `fact`, said at `at` (RFC 3339, UTC, milliseconds), signed with `key`; the line. Raises BadInput."""
        if not is_stamp(at):
            raise BadInput("at", "must be a UTC time with milliseconds (RFC 3339)", ascii(at)[:40])
        data = {field.name: _out(getattr(fact, field.name)) for field in fields(fact)
                if field.name != "by" and getattr(fact, field.name) != field.default}
        line: dict[str, Any] = {"at": at, "by": fact.by, "data": data, "event": _EVENTS[type(fact)],
                                "key": public_hex(key), "n": self.n, "prev": self.prev}
        written = dump({**line, "sig": sign(line, key)})
        self._append(written)
        return written

    def _append(self, piece: bytes) -> None:
        self.prev, self.n, self.size = digest(piece), self.n + 1, self.size + len(piece)

    def _check(self, line: dict[str, Any]) -> None:
        if tuple(line) != _NAMES or tuple(map(type, line.values())) != _TYPES:
            raise self._bad("must have at, by, event, key, prev and sig as text, n as whole number, data as object")
        if line["n"] != self.n:
            raise self._bad(f"n must be {self.n}", f"{line['n']}: a line was dropped, repeated, moved or put in")
        if line["prev"] != self.prev:
            must = "prev must be the SHA-256 of the line before" if self.n else "prev must be 64 zeros in line 1"
            raise self._bad(must)
        if not is_stamp(line["at"]):
            raise self._bad("at must be a UTC time with milliseconds (RFC 3339)", ascii(line["at"][:40]))
        for name, form in _HEX.items():
            if not form.fullmatch(line[name]):
                raise self._bad(f"{name} must be lower-case hex digits")
        if not _holds(canonical({name: line[name] for name in _NAMES if name != "sig"}), line["key"], line["sig"]):
            raise self._bad("sig must be the signature of the machine named by key")

    def _fact(self, line: dict[str, Any]) -> Fact:
        kind = KINDS.get(line["event"])
        if kind is None:
            must = "event must be one this program knows (a newer one may know more)"
            raise self._bad(must, ascii(line["event"][:40]))
        names = {field.name: field.default is MISSING for field in fields(kind) if field.name != "by"}
        if not {name for name, must in names.items() if must} <= line["data"].keys() <= names.keys():
            raise self._bad(f"data must hold {', '.join(sorted(names))}, and no more")
        try:
            return kind(by=line["by"], **{name: _in(value) for name, value in line["data"].items()})
        except BadInput as error:
            raise self._bad(str(error)) from None

    def _bad(self, must: str, found: str = "") -> BadLine:
        return BadLine(self.where, self.n + 1, must, found)


def review_bytes(said: Iterable[tuple[str, Fact]], key: Ed25519PrivateKey) -> bytes:
    """A whole log: each fact with the time at which it was said, all signed with one key. The same bytes every time."""
    lines = Lines()
    return b"".join(lines.add(fact, at, key) for at, fact in said)


def _out(value: Any) -> Any:
    return list(value) if type(value) is tuple else value


def _in(value: Any) -> Any:
    return tuple(value) if type(value) is list else value


@lru_cache(maxsize=2**16)
def _holds(message: bytes, key: str, signature: str) -> bool:
    """Whether the signature holds. Kept, since a log that grew by a line is read again from the start."""
    try:
        public_key(key).verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True
