"""Writing on a terminal without flicker: only what has changed, in one write, and the cursor back where it was.

Only what every terminal since the VT100 understands is used (ECMA-48; DECSC, DECRC and DECSTBM, from memory). The two
lowest rows are a scrolling region of their own: what is typed there, or printed by others, stays there.
"""
from __future__ import annotations

import unicodedata
from functools import lru_cache
from itertools import groupby
from typing import Iterator, Optional, Sequence

from rich.cells import get_character_cell_size
from rich.color import ColorSystem
from rich.style import Style
from rich.text import Text

Cell = tuple[str, str]
"""What stands in one column, and its style by name; "" where the character before it takes two columns."""
Frame = tuple[tuple[Cell, ...], ...]
"""Rows of cells."""

_BLANK: Cell = (" ", "")
_SAVE, _BACK, _TO_THE_END = "\x1b7", "\x1b8", "\x1b[K"


def frame(rows: Sequence[Text], columns: int, encoding: str) -> Frame:
    """Rows of text as cells, `columns` in each; what `encoding` cannot write is put in simpler letters."""
    return tuple(tuple(_cells(row, columns, encoding)) for row in rows)


def _cells(row: Text, columns: int, encoding: str) -> list[Cell]:
    styles = [str(row.style)] * len(row.plain)
    for span in row.spans:
        styles[span.start:span.end] = [str(span.style)] * (span.end - span.start)
    cells: list[Cell] = []
    for character, style in zip(row.plain, styles):
        width = get_character_cell_size(character)
        if width == 0:
            _put_on(cells, simpler(character, encoding, ""))
            continue
        written = simpler(character, encoding)
        cells.append((written, style))
        cells += [("" if written == character else " ", style)] * (width - 1)
    return cells + [_BLANK] * (columns - len(cells))


def _put_on(cells: list[Cell], accent: str) -> None:
    """An accent stands on the character before it; where there is none, it is left out."""
    place = next((place for place in range(len(cells) - 1, -1, -1) if cells[place][0]), None)
    if place is not None:
        text, style = cells[place]
        cells[place] = (text + accent, style)


@lru_cache(maxsize=512)
def simpler(character: str, encoding: str, otherwise: str = "?") -> str:
    """`character`, or its bare letter, whichever `encoding` can write; any other would change what is meant."""
    for choice in (character, {"…": "."}.get(character, unicodedata.normalize("NFD", character)[:1])):
        try:
            choice.encode(encoding)
            return choice
        except UnicodeEncodeError:
            pass
    return otherwise


def whole(after: Frame, rows: int, colours: Optional[ColorSystem], fresh: bool) -> str:
    """Everything, on a terminal of `rows` rows. What stood there is moved up out of sight if `fresh`, else cleared."""
    start = "\x1b[r" + (f"\x1b[{rows};1H" + "\n" * rows if fresh else "\x1b[2J")
    blank = tuple((_BLANK,) * len(row) for row in after)
    region = f"\x1b[{len(after) + 1};{rows}r" if rows > len(after) + 1 else ""
    return start + "".join(_pieces(blank, after, colours)) + region + f"\x1b[{rows};1H"


def changes(before: Frame, after: Frame, colours: Optional[ColorSystem]) -> str:
    """What turns `before` into `after`, frames of one size; "" where they are equal. The cursor ends where it was."""
    pieces = "".join(_pieces(before, after, colours))
    return f"{_SAVE}{pieces}{_BACK}" if pieces else ""


def leaving(rows: int) -> str:
    """Everything may be written on again, below what is to be seen."""
    return f"\x1b[r\x1b[{rows};1H\n"


def _pieces(before: Frame, after: Frame, colours: Optional[ColorSystem]) -> Iterator[str]:
    for number, (old, new) in enumerate(zip(before, after), start=1):
        if old != new:
            first, end = _changed(old, new)
            yield f"\x1b[{number};{first + 1}H{_written(new, first, end, colours)}"


def _changed(old: tuple[Cell, ...], new: tuple[Cell, ...]) -> tuple[int, int]:
    """From the first changed column to after the last, so that no character of two columns is cut."""
    differ = [place for place, (was, now) in enumerate(zip(old, new)) if was != now]
    first, end = differ[0], differ[-1] + 1
    while first > 0 and ("" in (old[first][0], new[first][0])):
        first -= 1
    while end < len(new) and ("" in (old[end][0], new[end][0])):
        end += 1
    return first, end


def _written(row: tuple[Cell, ...], first: int, end: int, colours: Optional[ColorSystem]) -> str:
    """The cells from `first` to `end`; where only blanks follow, the row is erased from there."""
    used = len(row)
    while used > 0 and row[used - 1] == _BLANK:
        used -= 1
    erased = _TO_THE_END if end > used else ""
    runs = groupby(row[first:max(first, min(end, used))], key=lambda cell: cell[1])
    texts = ((style, "".join(text for text, _ in run)) for style, run in runs)
    return "".join(Style.parse(style).render(text, color_system=colours) for style, text in texts) + erased
