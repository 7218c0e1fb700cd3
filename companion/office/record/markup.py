"""HTML that cannot be broken by what stands in it: text becomes markup only by way of `tag`, which escapes it."""
from __future__ import annotations

from html import escape
from typing import Iterable, Union


class Markup(str):
    """Text that is already HTML."""


Inside = Union[str, Iterable["Inside"]]
_ALONE = {"meta", "br", "link", "input"}


def clean(text: str) -> str:
    """`text` on one line, with a mark in place of each character that has no shape of its own: controls, marks that
    turn the direction of writing, and the like."""
    if text.isprintable():  # nearly always
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in text)


def tag(name: str, /, *inside: Inside, **attributes: Union[str, int]) -> Markup:
    """An element. Attribute names: a trailing "_" falls away, the others become "-"; those
    of no value are left out."""
    given = "".join(_attribute(key.rstrip("_").replace("_", "-"), value) for key, value in attributes.items())
    return Markup(f"<{name}{given}>" + ("" if name in _ALONE else f"{join(*inside)}</{name}>"))


def join(*inside: Inside) -> Markup:
    """Several pieces one after the other; text is escaped, markup is not."""
    return Markup("".join(_piece(part) for part in inside))


def _piece(part: Inside) -> str:
    if isinstance(part, Markup):
        return part
    return escape(clean(part)) if isinstance(part, str) else join(*part)


def _attribute(name: str, value: Union[str, int]) -> str:
    return "" if value == "" else f' {name}="{escape(clean(str(value)))}"'
