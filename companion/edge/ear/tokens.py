"""The recogniser's word pieces: a length-prefixed list in merge order, a space written as U+2581."""
from __future__ import annotations

from pathlib import Path

from companion.errors import BrokenMachine

_SPECIAL = 3
_BYTES = 256


def read_pieces(path: Path) -> list[bytes]:
    """The pieces as bytes, by number; special ones (start, end, the unused tail) are empty.

    A length is one byte, or two (low seven bits with the top bit set, then the high part).
    Raises BrokenMachine when the file does not parse to its end.
    """
    raw, pieces, at = path.read_bytes(), [], 0
    while at < len(raw):
        size, at = raw[at], at + 1
        if size >= 128 and at < len(raw):
            size, at = raw[at] * 128 + size - 128, at + 1
        pieces.append(_plain(len(pieces), raw[at:at + size]))
        at += size
    if at != len(raw) or len(pieces) <= _SPECIAL + _BYTES:
        raise BrokenMachine(str(path), "the list of word pieces must be whole", f"{len(raw)} bytes",
                            "Install it again: pip install --force-reinstall moonshine-voice==0.0.73")
    return pieces


def _plain(number: int, piece: bytes) -> bytes:
    if number < _SPECIAL or (piece.startswith(b"<<ST_") and piece.endswith(b">>")):
        return b""
    return piece.replace("\u2581".encode(), b" ")
