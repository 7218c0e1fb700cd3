"""A QR code as a path of squares, for page and paper alike."""
from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

QUIET = 4
"""Modules of white around it, as ISO/IEC 18004 asks (from memory)."""


@dataclass(frozen=True)
class Squares:
    """A drawing of black on white."""

    size: int
    """Modules along each side, the white around it included."""
    path: str
    """An SVG path in modules."""


def squares(text: str) -> Squares:
    """The code of `text`, bearing a quarter of it lost to dirt (level Q)."""
    import segno  # here, since only a sheet needs it: nothing else should take its time

    matrix = segno.make(text, error="q", micro=False).matrix
    rows = "".join(_row(y + QUIET, row) for y, row in enumerate(matrix))
    return Squares(len(matrix) + 2 * QUIET, rows)


def _row(y: int, row: bytearray) -> str:
    """Each stretch of black as one rectangle."""
    drawn, x = "", QUIET
    for black, stretch in groupby(row, key=bool):
        length = len(list(stretch))
        drawn += f"M{x} {y}h{length}v1h-{length}z" if black else ""
        x += length
    return drawn
