"""Breaking text into lines of a given width, however width is measured."""
from __future__ import annotations

from typing import Callable, Iterator

Measure = Callable[[str], int]


def wrapped(text: str, width: int, measure: Measure) -> list[str]:
    """`text` in lines that measure at most `width`, broken between words; a word wider than a line is broken inside."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if measure(longer) <= width:
            line = longer
            continue
        *full, rest = _pieces(word, width, measure)
        lines += [line] * bool(line) + full
        line = rest
    return lines + [line] * bool(line)


def _pieces(word: str, width: int, measure: Measure) -> Iterator[str]:
    """The word in pieces of at most `width`; a single character is never broken, however wide."""
    piece = ""
    for character in word:
        if piece and measure(piece + character) > width:
            yield piece
            piece = ""
        piece += character
    yield piece
