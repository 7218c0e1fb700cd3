"""Fault codes: their structure, spelled speech and raw bytes, what they say, and lists before against after.

A code is a letter (P powertrain, C chassis, B body, U network), a digit 0 to 3 and three hexadecimal digits; in raw
form two bytes, whose top two bits are the letter, the next two the digit, the other twelve the rest (SAE J2012 and
ISO 15031-6; recomputed against a public library). Always upper case here: that library writes "P020a" for 02 0A.
"""
from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from companion.errors import BadInput
from companion.trade.code_words import CIRCUIT_FAMILIES, ENTRIES, MOST_CYLINDERS

SYSTEMS = {"P": "powertrain", "C": "chassis", "B": "body", "U": "network"}
_LETTERS = "PCBU"
_CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
_LENGTH = 5
_NO_MEANING = "no meaning known here"

# Letters said or seen for a digit. O, Q, I and L are no code digit anywhere, so they are certain in places 2 to 5.
_ANY_DIGIT = str.maketrans("OQIL", "0011")
# Z may be a misread 2 or a misheard C, and C may stand in places 3 to 5: certain in place 2 only. S is never certain:
# a misread 5, which place 2 cannot hold, or a misheard F, which places 3 to 5 can.
_SECOND_PLACE = str.maketrans("Z", "2")

# Who gives codes their meaning, by how they begin. From memory.
_CONTROL = (
    ("ISO/SAE", re.compile(r"P[02]|P3[4-9]|[BCU]0")),
    ("maker", re.compile(r"P1|P3[0-3]|[BCU][12]")),
)


@dataclass(frozen=True)
class Meaning:
    """What a code says."""

    code: str
    """Five characters, upper case."""
    system: str
    """"powertrain", "chassis", "body" or "network"."""
    control: str
    """Who gives it its meaning: "ISO/SAE", "maker" or "reserved" (from memory)."""
    family: str
    """A name shared by codes that say the same of other cylinders; "" where the code is not known here."""
    cylinder: int | None
    """1 to 12; None where it names no cylinder."""
    words: str
    """Short English without the code itself, ready to be spoken; numbers are digits."""


@dataclass(frozen=True)
class Compared:
    """Codes before the work against codes after it; each code once, in the order read."""

    gone: tuple[str, ...]
    """Before, but not after."""
    still_there: tuple[str, ...]
    """Before and after, and never seen gone between."""
    new: tuple[str, ...]
    """After, but not before."""
    came_back: tuple[str, ...]
    """Before and after, but gone when read right after clearing."""


def parse(text: str) -> str:
    """The code in `text`, upper case, without spaces. Raises BadInput for anything that is no code."""
    code = _squeeze(text)
    if not _CODE.fullmatch(code):
        raise BadInput("fault code", "must be P, C, B or U, a digit 0 to 3, and three of 0 to 9 or A to F",
                       repr(text[:40]), "Read it again")
    return code


def repair(text: str) -> str:
    """The code that spelled `text` must mean: O and Q as zero, I and L as one, Z second as two; to be read back.

    Letters A to F are never touched in places 3 to 5, where they are digits. Raises BadInput where it is still no code.
    """
    code = _squeeze(text)
    second = code[1:2].translate(_ANY_DIGIT).translate(_SECOND_PLACE)
    repaired = code[:1] + second + code[2:].translate(_ANY_DIGIT)
    return parse(repaired if _CODE.fullmatch(repaired) else text)


def from_bytes(raw: bytes) -> str:
    """The code in two raw bytes. Raises BadInput for any other number of bytes."""
    if len(raw) != 2:
        raise BadInput("fault code", "must be two bytes", f"{len(raw)}")
    letter, digit = raw[0] >> 6, raw[0] >> 4 & 3
    return f"{_LETTERS[letter]}{digit}{raw[0] & 15:X}{raw[1]:02X}"


def to_bytes(code: str) -> bytes:
    """The two raw bytes of a code: the inverse of `from_bytes`. Raises BadInput for anything that is no code."""
    code = parse(code)
    return bytes((_LETTERS.index(code[0]) << 6 | int(code[1]) << 4 | int(code[2], 16), int(code[3:], 16)))


def explain(code: str) -> Meaning:
    """What the code says, as far as known here. Raises BadInput for anything that is no code."""
    code = parse(code)
    control = next((name for name, begins in _CONTROL if begins.match(code)), "reserved")
    entry = ENTRIES.get(code)
    family, cylinder, words = (entry.family, entry.cylinder, entry.words) if entry else ("", None, _NO_MEANING)
    return Meaning(code, SYSTEMS[code[0]], control, family, cylinder, words)


def cylinder_of(code: str) -> int | None:
    """The cylinder that the code names, or None. Raises BadInput for anything that is no code."""
    return explain(code).cylinder


def circuit_codes(cylinder: int) -> frozenset[str]:
    """The codes that pulling this injector's plug may store (circuit open, low, high, out of range).

    Raises BadInput for a cylinder that the families do not reach (1 to 12).
    """
    if not 1 <= cylinder <= MOST_CYLINDERS:
        raise BadInput("cylinder", f"must be 1 to {MOST_CYLINDERS}", f"{cylinder}")
    return frozenset(code for code, entry in ENTRIES.items()
                     if entry.cylinder == cylinder and entry.family in CIRCUIT_FAMILIES)


def compare(before: Iterable[str], after: Iterable[str], cleared: Iterable[str] | None = None) -> Compared:
    """Sort the codes of two readings; `cleared` is the list read right after clearing, None where none was read.

    Without that list nothing can be said to have come back, so it counts as still there. Raises BadInput for anything
    that is no code.
    """
    old, now = _each_once(before), _each_once(after)
    between = old if cleared is None else _each_once(cleared)
    kept = tuple(code for code in old if code in now)
    return Compared(gone=tuple(code for code in old if code not in now),
                    still_there=tuple(code for code in kept if code in between),
                    new=tuple(code for code in now if code not in old),
                    came_back=tuple(code for code in kept if code not in between))


def _each_once(codes: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(parse(code) for code in codes))


def _squeeze(text: str) -> str:
    return "".join(text.split()).upper()
