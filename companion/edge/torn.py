"""What a power cut leaves at the end of a file that was being written: any part of the last write, and zeros for the rest.

A disk writes the blocks of one write in any order before `fsync` returns. A block that never came reads as zeros, and no
line of ours holds a zero byte. So such an end can be told from a line that was changed.
"""
from __future__ import annotations

import re

from companion.core.log.journal import LONGEST

MOST_LINES = 64
"""More than one decision ever makes."""
_AT = re.compile(rb'\{"at":"([^"\0]{24})"')
_UP = re.compile(rb'"up":([0-9]+)\}$')
_HASH = re.compile(rb'"sha256":"([0-9a-f]{64})"')


def is_leftover(tail: bytes) -> bool:
    """Whether `tail`, whose first line does not hold, can be what is left of one decision that was never acknowledged.
    (`LONGEST` bytes and one of a longer tail are enough.)

    All lines of a decision share their times. Where a line of another time stands in `tail`, it was acknowledged, and so
    the first line was changed, not cut off.
    """
    lines = tail.split(b"\n")
    ats = {found[1] for found in map(_AT.match, lines) if found}
    ups = {found[1] for found in map(_UP.search, lines) if found}
    return b"\0" in lines[0] and len(tail) <= LONGEST and len(lines) <= MOST_LINES and len(ats) <= 1 and len(ups) <= 1


def hashes(line: bytes) -> set[bytes]:
    """The hashes of personal texts that a line of a log refers to, or a sidecar holds the texts of."""
    return set(_HASH.findall(line))
