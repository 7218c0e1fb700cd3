"""The sidecar of a log: what is personal, beside the chain that holds only its salted hashes, so that it can be erased.

One canonical object a line: {"salt": hex, "sha256": hex, "text": the words}, in the order it was said.
"""
from __future__ import annotations

import re
from typing import Any, Iterable

from companion.core.log.codec import personal_hash
from companion.core.log.journal import canonical, parse

_SALT = re.compile("(?:[0-9a-f]{2}){16,64}")
MOST_BAD = 100
"""Bad lines that are kept: who has that many does not want the rest."""


class Sidecar:
    """What a sidecar file tells."""

    def __init__(self) -> None:
        self.texts: dict[str, str] = {}
        """Hash to text, of every line that holds."""
        self.bad: list[tuple[int, str]] = []
        """The first bad lines, at most `MOST_BAD`: line, counted from 1, and what must hold there."""
        self.size = 0
        """Bytes of all whole lines."""
        self.torn = b""
        """An unfinished last line; of a very long one, the beginning."""


def read_sidecar(pieces: Iterable[bytes]) -> Sidecar:
    """The sidecar of a log, from its lines with their newlines. A bad line leaves the others readable."""
    found = Sidecar()
    for number, piece in enumerate(pieces, 1):
        if not piece.endswith(b"\n"):
            found.torn = piece
            break
        found.size += len(piece)
        try:
            entry = _entry(piece)
        except ValueError as error:
            if len(found.bad) < MOST_BAD:
                found.bad.append((number, str(error)))
        else:
            found.texts[entry["sha256"]] = entry["text"]
    return found


def dump_sidecar(entries: Iterable[dict[str, str]]) -> bytes:
    """The lines of sidecar entries."""
    return b"".join(canonical(entry) + b"\n" for entry in entries)


def _entry(piece: bytes) -> dict[str, Any]:
    entry = parse(piece)
    if entry.keys() != {"salt", "sha256", "text"} or not all(type(value) is str for value in entry.values()):
        raise ValueError("must hold salt, sha256 and text, and no more")
    if not _SALT.fullmatch(entry["salt"]):
        raise ValueError("salt must be 16 to 64 bytes in lower-case hex")
    if personal_hash(bytes.fromhex(entry["salt"]), entry["text"]) != entry["sha256"]:
        raise ValueError("sha256 must be the hash of salt and text")
    return entry
