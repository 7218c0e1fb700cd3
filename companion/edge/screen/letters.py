"""Large letters, drawn for this program: capitals and figures five dots high, as narrow as they stay legible.

How large is large: text is read with ease where a capital fills 16 minutes of arc or more (ISO 9241-303, from memory),
which is 9 mm at two metres. A capital is five dots of half a row, or more: where a terminal fills a laptop's 170 mm of
height, that is 9.4 mm at 45 rows, and 18 mm at 24 rows.
"""
from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Iterator, Optional

from companion.edge.screen.wrapping import wrapped

_DRAWN = {
    "A": ".#. #.# ### #.# #.#", "B": "##. #.# ##. #.# ##.", "C": ".## #.. #.. #.. .##", "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###", "F": "### #.. ##. #.. #..", "G": ".### #... #.## #..# .###",
    "H": "#.# #.# ### #.# #.#", "I": "# # # # #", "J": "..# ..# ..# #.# .#.", "K": "#.# #.# ##. #.# #.#",
    "L": "#.. #.. #.. #.. ###", "M": "#...# ##.## #.#.# #...# #...#", "N": "#..# ##.# #.## #..# #..#",
    "O": ".##. #..# #..# #..# .##.", "P": "##. #.# ##. #.. #..", "Q": ".##. #..# #..# #.#. .#.#",
    "R": "##. #.# ##. #.# #.#", "S": ".### #... .##. ...# ###.", "T": "### .#. .#. .#. .#.",
    "U": "#..# #..# #..# #..# .##.", "V": "#...# #...# .#.#. .#.#. ..#..", "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#", "Y": "#.# #.# .#. .#. .#.", "Z": "### ..# .#. #.. ###", "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###", "2": "### ..# ### #.. ###", "3": "### ..# .## ..# ###", "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###", "6": "### #.. ### #.# ###", "7": "### ..# ..# .#. .#.", "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###", " ": ".. .. .. .. ..", ".": ". . . . #", ",": ".. .. .. .# #.", ":": ". # . # .",
    ";": ".. .# .. .# #.", "?": "##. ..# .#. ... .#.", "!": "# # # . #", "'": "# # . . .", '"': "#.# #.# ... ... ...",
    "-": "... ... ### ... ...", "/": "..# ..# .#. #.. #..", "+": "... .#. ### .#. ...", "=": "... ### ... ### ...",
    "%": "#.# ..# .#. #.. #.#", "(": ".# #. #. #. .#", ")": "#. .# .# .# #.", "°": "### #.# ### ... ...",
    "·": ". . # . .", "&": ".#.. #.#. .#.. #.#. .#.#", "…": "..... ..... ..... ..... #.#.#",
}
GLYPHS = {letter: tuple(rows.split(" ")) for letter, rows in _DRAWN.items()}
DOTS_HIGH = 5
_SAME = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-"})


@dataclass(frozen=True)
class Size:
    """How a dot is drawn."""

    across: int
    """Columns a dot, from 1."""
    down: int
    """Rows a dot, from 1; half rows where `halves`."""
    halves: bool
    """Whether half blocks are drawn, two dots to a row; else "#"."""

    @property
    def rows(self) -> int:
        """Rows a line of letters takes, the gap below it among them."""
        return (DOTS_HIGH + 1) * self.down // (2 if self.halves else 1)


def sizes(halves: bool) -> tuple[Size, ...]:
    """All sizes, the largest first. A row is about twice as high as a column is wide, and "#" fills it."""
    if halves:
        return tuple(Size(scale, scale, True) for scale in range(6, 0, -1))
    return tuple(Size(across, max(1, across // 2), False) for across in (6, 4, 2, 1))


def spelled(text: str) -> Optional[str]:
    """`text` in the letters there are: capitals, accents dropped. None where a character has none, as "²"."""
    plain = unicodedata.normalize("NFD", text.translate(_SAME)).upper()
    kept = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return kept if all(letter in GLYPHS for letter in kept) else None


def dots(line: str) -> int:
    """How many dots wide a line of letters is, one dot between letters."""
    return sum(len(GLYPHS[letter][0]) + 1 for letter in line) - 1 if line else 0


def large(text: str, columns: int, rows: int, size: Size) -> Optional[list[str]]:
    """`text` as at most `rows` rows of large letters, broken between words.

    None where it does not fit, where a word is wider than `columns`, or where a character cannot be drawn.
    """
    letters = spelled(text)
    wide = columns // size.across
    if letters is None or any(dots(word) > wide for word in letters.split()):
        return None
    lines = wrapped(letters, wide, dots)
    return [row for line in lines for row in drawn(line, size)] if len(lines) * size.rows <= rows else None


def drawn(line: str, size: Size) -> Iterator[str]:
    """One line of letters as rows of characters, the gap below it among them."""
    lines = [".".join(GLYPHS[letter][row] for letter in line) for row in range(DOTS_HIGH)] + [""]
    tall = ["".join(dot * size.across for dot in row).ljust(dots(line) * size.across, ".") for row in lines
            for _ in range(size.down)]
    if not size.halves:
        return (row.replace(".", " ").rstrip() for row in tall)
    pairs = (zip(upper, lower) for upper, lower in zip(tall[::2], tall[1::2]))
    return ("".join(map(_HALVES.__getitem__, pair)).rstrip() for pair in pairs)


_HALVES = {("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄", (".", "."): " "}
BLOCKS = "█▀▄"
