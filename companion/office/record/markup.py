"""HTML that cannot be broken by what stands in it: text becomes markup only by way of `tag`, which escapes it."""
from __future__ import annotations

from html import escape
from typing import Iterable, Union

from companion.terminal import clean


class Markup(str):
    """Text that is already HTML."""


Inside = Union[str, Iterable["Inside"]]
_ALONE = {"meta", "br", "link", "input"}


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
