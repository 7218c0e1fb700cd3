"""The log, byte by byte: lines, their chain, their seals. Pure: bytes in, bytes out.

A log is one JSON object a line, in the form of RFC 8785, UTF-8, each ended by a newline:

    {"at":"2026-01-31T08:15:00.250Z","data":{…},"event":"count_logged","n":7,"prev":"<64 hex>","step":"caps","up":81250}

`prev` is the SHA-256 of the line before without its newline, 64 zeros at n = 0. `data` is flat: text, whole numbers,
true and false, lists of text, and {"sha256": …} for what is personal; there are no floats. A `sealed` line carries in
`data.sig` the Ed25519 signature, in hex, of its own canonical form without `sig`. As that form holds `prev`, one seal
that holds vouches for every byte before it.
"""
from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any, BinaryIO, Iterator, Mapping, NamedTuple

import orjson
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from companion.core.events import Event
from companion.errors import BadInput

FORMAT = 2
"""The format of log written here; line 0 names it."""
FORMATS = (1, 2)
"""Those that are read. Their lines are alike; the first had a shorter closing seal."""
LONGEST = 4 * 2**20
"""Bytes of the longest line that is read; a card of 1 MB fits."""
FIRST = "0" * 64
"""`prev` of line 0."""
SAFE_WHOLE = 2**53 - 1
"""RFC 8785 holds whole numbers up to this size exactly."""


_P = 2**255 - 19
_Y8 = 0x05fc536d880238b13933c6d305acdfd5f098eff289f4c345b027b2c28f95e826
_WEAK = {0, 1, _P - 1, _Y8, _P - _Y8}
"""The y of the eight points of small order on the curve of Ed25519 (RFC 8032)."""


@dataclass(frozen=True, kw_only=True)
class Sealed(Event):
    """The device vouches for every line up to this one."""

    sig: str
    """Ed25519 signature of the line's canonical form without `sig`, 128 lower-case hex digits."""


class Entry(NamedTuple):
    """One line of a log, read or written."""

    n: int
    at: str
    """RFC 3339, UTC, milliseconds."""
    up: int
    """Milliseconds since the boot named last in the log."""
    event: Event


def digest(line: bytes) -> str:
    """SHA-256 of a line without its newline, lower-case hex."""
    return hashlib.sha256(line[:-1]).hexdigest()


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public key as line 0 names it: 64 lower-case hex digits."""
    return key.public_key().public_bytes_raw().hex()


def sign(line: Mapping[str, Any], key: Ed25519PrivateKey) -> str:
    """The signature that belongs in a `sealed` line whose `data` is still empty."""
    return key.sign(canonical(line)).hex()


@lru_cache(maxsize=256)
def public_key(key: str) -> Ed25519PublicKey:
    """The key of 64 hex digits. Raises ValueError, also for one of small order: with such a key one signature fits many
    messages, so that whoever names it could have anything changed afterwards and nobody would see."""
    raw = bytes.fromhex(key)
    if (int.from_bytes(raw, "little") & 2**255 - 1) % _P in _WEAK:
        raise ValueError("a key of small order vouches for nothing")
    return Ed25519PublicKey.from_public_bytes(raw)


def seal_holds(line: Mapping[str, Any], key: str) -> bool:
    """Whether a `sealed` line, as `parse` gives it, was signed by the device with public key `key` (hex)."""
    try:
        return vouched({**line, "data": {}}, line["data"]["sig"], key)
    except (KeyError, TypeError):
        return False


def vouched(said: Mapping[str, Any], sig: str, key: str) -> bool:
    """Whether `sig` (hex) is the signature of the canonical form of `said` by the device with public key `key` (hex)."""
    try:
        public_key(key).verify(bytes.fromhex(sig), canonical(said))
    except (InvalidSignature, TypeError, ValueError):
        return False
    return True


def beside_name(log: str) -> str:
    """The sidecar of a log: "van.jsonl" has "van.personal"."""
    return re.sub(r"\.jsonl$", "", log) + ".personal"


def memo_name(log: str, memo: int, ending: str = "flac") -> str:
    """The sound file of a memo: "van.jsonl" has "van.memo-1.flac"; also "wav"."""
    return f"{re.sub(r'[.]jsonl$', '', log)}.memo-{memo}.{ending}"


def clip_name(log: str, clip: int) -> str:
    """The sound file of an evidence clip: "van.jsonl" has "van.clip-1.flac"."""
    return f"{re.sub(r'[.]jsonl$', '', log)}.clip-{clip}.flac"


_SOUND = re.compile(r"[^/\\:]{1,200}\.(memo|clip)-[0-9]{1,6}\.(flac|wav)")


def is_memo_name(name: object) -> bool:
    """Whether `name` can be that of a memo's file, or a clip's: a bare name, so that no log can point anywhere else."""
    return type(name) is str and name.isprintable() and bool(_SOUND.fullmatch(name))


# -- JSON --------------------------------------------------------------------------------------------------------------

_NO_FLOATS = {str, int, bool, type(None)}
_AS_WRITTEN = orjson.OPT_SORT_KEYS | orjson.OPT_APPEND_NEWLINE
_form = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True, check_circular=False).encode
if json.encoder.c_make_encoder is not None:  # `encode` makes one of these for every call, at a third of its cost
    _made = json.encoder.c_make_encoder(None, None, json.encoder.encode_basestring, None, ":", ",", True, False, False)

    def _form(value: Any) -> str:
        return "".join(_made(value, 0))


def canonical(value: Any) -> bytes:
    """RFC 8785 for what a log may hold: no floats, whole numbers to 2^53 - 1, ASCII names. Raises UnicodeError.

    Within these bounds the standard library's JSON is that form: names sort by code point as they do by UTF-16 unit,
    and the escapes are the RFC's. (`rfc8785` writes any JSON, at ten times the cost; the tests hold this against it.)
    """
    return _form(value).encode("utf-8")


def dump(line: Mapping[str, Any]) -> bytes:
    """A line's object as it is written, newline and all. Raises BadInput for text that no line can hold."""
    try:
        written = canonical(line) + b"\n"
    except UnicodeError:
        raise BadInput(str(line["event"]), "must be text that UTF-8 can hold") from None
    if len(written) > LONGEST:
        raise BadInput(line["event"], f"must fit a line of {LONGEST} bytes", f"{len(written)} bytes")
    return written


def pieces(file: BinaryIO) -> Iterator[bytes]:
    """The lines of an open log, newlines kept; never more in memory than the longest line allowed and one byte."""
    return iter(partial(file.readline, LONGEST + 1), b"")


def parse(line: bytes) -> dict[str, Any]:
    """The JSON object on a line that ends in a newline. Raises ValueError with what must hold."""
    found = as_written(line)
    if _has_float(found):
        raise ValueError("must be one object in its canonical form (RFC 8785) without floats, byte for byte")
    return found


def as_written(line: bytes) -> dict[str, Any]:
    """What `parse` gives, for whoever checks the type of every value, so that no float can pass.

    `orjson` reads and writes a line four times as fast as the standard library, and within a log's bounds both write
    the same bytes (the tests hold them against each other)."""
    try:
        found = orjson.loads(line)
        again = orjson.dumps(found, option=_AS_WRITTEN)
    except (ValueError, TypeError):
        raise ValueError("must be one line of JSON in UTF-8") from None
    if type(found) is not dict or again != line:
        raise ValueError("must be one object in its canonical form (RFC 8785) without floats, byte for byte")
    return found


def _has_float(holder: Any) -> bool:
    """Whether a float stands anywhere in an object or a list."""
    for value in holder.values() if type(holder) is dict else holder:
        kind = type(value)
        if kind not in _NO_FLOATS and (kind is float or _has_float(value)):
            return True
    return False
