"""Where everything stands: a board as rows of text that fit a terminal of any size.

From the top: how far the job is; in large type what is asked; what else was said; clocks; what was heard; what can be
said. The two lowest rows are for typing, and for whatever others print; they are never written on.
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Optional

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from companion.edge.screen.board import Board, Counting, Noticed
from companion.edge.screen.letters import large, sizes
from companion.edge.screen.wrapping import wrapped
from companion.terminal import clean

TYPING_ROWS = 2
"""A terminal scrolls no region of fewer rows."""


@dataclass(frozen=True)
class Look:
    """What the terminal can show."""

    columns: int = 80
    """From 1."""
    rows: int = 24
    """From 1."""
    blocks: bool = True
    """Whether it shows half blocks; else letters are made of "#"."""

    @property
    def shown_rows(self) -> int:
        """Rows that are drawn on."""
        return max(1, self.rows - TYPING_ROWS)


def lay_out(board: Board, look: Look) -> tuple[Text, ...]:
    """Exactly `look.shown_rows` rows, each at most `look.columns` wide."""
    room = look.shown_rows - 1
    below = _below(board, look, room // 2)
    asked = _asked(board, look, room - len(below))
    gap = [Text()] * (room - len(below) - len(asked))
    head = _head(board, look)
    if board.flash:
        head, *asked = (_inverted(row, look.columns) for row in (head, *asked))
    rows = [head, *gap[:1], *asked, *gap[1:], *below]
    return tuple(_cut(row, look.columns) for row in rows[:look.shown_rows])


def _inverted(row: Text, columns: int) -> Text:
    """`row` light for dark, over the whole width."""
    row = _cut(row, columns)
    row.append(" " * (columns - row.cell_len))
    row.stylize("reverse")
    return row


def _cut(row: Text, columns: int) -> Text:
    """`row` at most `columns` wide, without control characters; a long one ends in an ellipsis."""
    row = row.copy()
    row.plain = clean(row.plain)
    row.truncate(columns, overflow="ellipsis")
    return row


# -- the top -----------------------------------------------------------------------------------------------------------

_LOUD = {"emergency": "bold red", "alarm": "bold red", "caution": "bold yellow", "": "bold"}


def _head(board: Board, look: Look) -> Text:
    """Practice first, the title last, as that is what a narrow window cuts. The state of the sound stands right."""
    number = f"step {board.number} of {board.count}" if board.number else ""
    head = Text()
    if board.practice:
        head.append("PRACTICE", style="bold black on yellow")
    if board.urgent:
        head.append("  " * bool(head) + board.urgent.upper(), style=_LOUD[board.urgent])
    for part in filter(None, (number, board.stage, board.title)):
        head.append("  " * bool(head) + part)
    space = look.columns - cell_len(board.sound) - 2
    if not board.sound or space < 1:
        return head
    head = _cut(head, space)
    head.append(" " * (space - head.cell_len + 2))
    return head.append(board.sound, style="cyan")


# -- what is asked -----------------------------------------------------------------------------------------------------

def _asked(board: Board, look: Look, room: int) -> list[Text]:
    """The words in the largest type in which all of them fit; else their first sentences large and the rest plain; else
    the card's brief words large and all of them plain; else all plain."""
    sentences = re.split(r"(?<=[.?!])\s+", board.asks)
    whole = _largest(board.asks, look, room)
    if whole is not None:
        return _styled(whole, board)
    for count in range(len(sentences) - 1, 0, -1):
        rows = _under(" ".join(sentences[:count]), " ".join(sentences[count:]), board, look, room)
        if rows is not None:
            return rows
    rows = _under(board.short, board.asks, board, look, room) if board.short else None
    return rows or _plain(board.asks, look, room, _LOUD[board.urgent])


def _under(top: str, below: str, board: Board, look: Look, room: int) -> Optional[list[Text]]:
    """`top` large with `below` plain under it; None where both do not fit whole."""
    plain = _plain(below, look, len(below), _LOUD[board.urgent])
    big = _largest(top, look, room - len(plain))
    return None if big is None else _styled(big, board) + plain


def _largest(text: str, look: Look, room: int) -> Optional[list[str]]:
    fitting = (large(text, look.columns, room, size) for size in sizes(look.blocks))
    return next((rows for rows in fitting if rows is not None), None)


def _styled(rows: list[str], board: Board) -> list[Text]:
    return [Text(row, style=_LOUD[board.urgent]) for row in rows]


def _plain(text: str, look: Look, room: int, style: str = "") -> list[Text]:
    """`text` in at most `room` rows; what does not fit ends in an ellipsis."""
    lines = wrapped(text, look.columns, cell_len)
    if len(lines) > room > 0:
        lines[room - 1] = f"{set_cell_size(lines[room - 1], max(0, look.columns - 1)).rstrip()}…"
    return [Text(line, style=style) for line in lines[:max(0, room)]]


# -- what stands below -------------------------------------------------------------------------------------------------

def _below(board: Board, look: Look, room: int) -> list[Text]:
    """What is worth most takes its rows first while there is room; the order on the page is another."""
    few = max(1, look.shown_rows // 10)
    clocks = _clocks(board, look, room)
    heard = _heard(board.noticed)[:room - len(clocks)]
    room -= len(clocks) + len(heard)
    can_say = _marked("Say: ", " | ".join(board.can_say), look, min(room, few))
    room -= len(can_say)
    said = _marked("", board.said, look, min(room, few + 1))
    step = _marked("Step: ", board.step, look, min(room - len(said), few)) if board.step not in board.asks else []
    return [*step, *said, *clocks, *heard, *can_say]


def _marked(mark: str, text: str, look: Look, room: int) -> list[Text]:
    """`text` after `mark` in plain rows; none where there is no text."""
    return _plain(mark + text, look, room) if text else []


def _heard(noticed: Optional[Noticed]) -> list[Text]:
    if noticed is None:
        return []
    mark = noticed.how + f" {noticed.score}" * bool(noticed.score) + ", not taken" * (not noticed.accepted)
    return [Text.assemble(f"{mark}: ", (noticed.words or "...", "bold green" if noticed.accepted else "bold red"))]


def _clocks(board: Board, look: Look, room: int) -> list[Text]:
    """In large figures where the present step waits for one; else all in one row."""
    if board.timed and board.clocks:
        figures = large(minutes(board.clocks[0].left_ms), look.columns, room, sizes(look.blocks)[-1])
        if figures:
            return _beside(figures, board.clocks)
    each = [Text.assemble((minutes(clock.left_ms), "bold cyan"), f" {clock.name}") for clock in board.clocks]
    return [Text("   ").join(each)] if each and room > 0 else []


def _beside(figures: list[str], clocks: tuple[Counting, ...]) -> list[Text]:
    """The first clock in large figures, its name and the other clocks beside it."""
    across = max(map(len, figures)) + 3
    notes = [clocks[0].name] + [f"{minutes(clock.left_ms)} {clock.name}" for clock in clocks[1:]]
    notes += [""] * (len(figures) - len(notes))
    return [Text.assemble((row.ljust(across), "bold cyan"), note) for row, note in zip(figures, notes)]


def minutes(ms: int) -> str:
    """`ms` as "04:05", from one hour on "1:04:05"; begun seconds count whole, so that 00:00 means over."""
    whole, seconds = divmod(-(-ms // 1000), 60)
    hours, whole = divmod(whole, 60)
    return f"{hours}:{whole:02}:{seconds:02}" if hours else f"{whole:02}:{seconds:02}"
