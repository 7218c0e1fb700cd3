"""A paper set as a PDF: tagged, with its own fonts, the same bytes for the same log, without network or system fonts.

No text of a paper can become markup of the typesetter's: the whole paper goes to `sheet.typ` as JSON, in which it stays
text. What the built-in fonts cannot show is tried with the system's, and else stands as a mark, which the foot says.
"""
from __future__ import annotations

import json
import re
from dataclasses import fields, is_dataclass
from importlib.resources import files
from typing import Any, Callable

from companion.errors import BrokenMachine
from companion.office.record.markup import clean
from companion.office.record.paper.blocks import Fact, Grid, Label, Paper, Seal
from companion.office.record.paper.qr import squares

_LONGEST, _LONGEST_CODE, _LONGEST_IN_CELL = 40, 72, 24
"""Characters that stay together in the width they have; a longer word may break anywhere. A hash is copied whole."""
_BREAK = "\u200b"
Show = Callable[[str, int], str]
"""A text, and the longest word that stays whole, to what is printed."""
_COMMON = re.compile(r"[^\u0020-\u017e\u2010-\u2027\u2030-\u203a\u2126Ωμ\u200b\ufffd✂]")
"""Characters that the built-in fonts may lack."""
MARKED = " Characters that this machine's fonts lack stand as \ufffd; the page and the log have them."


def as_pdf(paper: Paper) -> bytes:
    """The sheets. Raises BrokenMachine where the typesetter fails."""
    import typst  # here, since it is large: no other command should wait for it

    def typeset(show: Show, more: str, system: bool) -> bytes:
        data = {**_plain(paper, show), "foot": show(paper.foot + more, _LONGEST)}
        return typst.compile(files(__package__).joinpath("sheet.typ").read_bytes(), format="pdf",
                             pdf_standards=["ua-1"], ignore_system_fonts=not system,
                             sys_inputs={"paper": json.dumps(data)})

    tries = ((printable, "", False), (printable, "", True), (_marked, MARKED, False))
    for show, more, system in tries:
        try:
            return typeset(show, more, system)
        except typst.TypstError as error:
            fault = str(error)
            if "could not be displayed" not in fault:
                break
    raise BrokenMachine("the typesetter", "must set every paper", clean(fault), "Use the page, without --pdf")


def printable(text: str, longest: int) -> str:
    """`text` on one line, without characters that have no shape, and with places at which long words may break."""
    return " ".join(word if len(word) <= longest else _BREAK.join(word) for word in clean(text).split(" "))


def _marked(text: str, longest: int) -> str:
    return _COMMON.sub("\ufffd", printable(text, longest))


def _plain(value: Any, show: Show, longest: int = _LONGEST) -> Any:
    """Blocks as data under their fields' names, each with its kind as `block`, and every text fit to be shown."""
    if is_dataclass(value):
        longest = _room(value, longest)
        made = {field.name: _plain(getattr(value, field.name), show, longest) for field in fields(value)}
        return {"block": type(value).__name__.lower(), **made, **_qr(value)}
    if isinstance(value, (tuple, frozenset)):
        return [_plain(one, show, longest) for one in value]
    return show(value, longest) if isinstance(value, str) else value


def _room(block: Any, longest: int) -> int:
    """The longest word that stays whole in a block, within one that has room for `longest`."""
    if isinstance(block, (Grid, Label)):
        return _LONGEST_IN_CELL
    return _LONGEST_CODE if isinstance(block, Fact) and block.code else longest


def _qr(block: Any) -> dict[str, str]:
    """A seal's QR code as a drawing."""
    if not isinstance(block, Seal):
        return {}
    found = squares(block.encoded)
    box = f'xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {found.size} {found.size}"'
    return {"qr": f'<svg {box}><path d="{found.path}"/></svg>'}
