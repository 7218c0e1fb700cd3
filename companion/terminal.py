"""Text fit for a terminal: one line, and nothing in it that could steer the screen it is shown on."""
from __future__ import annotations


def clean(text: str) -> str:
    """`text` on one line, with a mark in place of each character that has no shape of its own: controls, marks that
    turn the direction of writing, halves of characters, and the like. As long as before."""
    if text.isprintable():  # nearly always
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in text)


def clean_lines(text: str) -> str:
    """The same for text of several lines of our own, such as one fault a line."""
    return "\n".join(map(clean, text.split("\n")))
