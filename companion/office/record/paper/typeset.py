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
from companion.office.record.paper.blocks import Paper, Seal
from companion.office.record.paper.qr import squares

_LONGEST = 24
"""Characters that stay together; a longer word may break anywhere."""
_BREAK = "\u200b"
_COMMON = re.compile(r"[^\u0020-\u017e\u2010-\u2027\u2030-\u203a\u2126Ωμ\u200b\ufffd✂]")
"""Characters that the built-in fonts may lack."""
MARKED = " Characters that this machine's fonts lack stand as \ufffd; the page and the log have them."


def as_pdf(paper: Paper) -> bytes:
    """The sheets. Raises BrokenMachine where the typesetter fails."""
    import typst  # here, since it is large: no other command should wait for it

    def typeset(show: Callable[[str], str], more: str, system: bool) -> bytes:
        data = {**_plain(paper, show), "foot": show(paper.foot + more)}
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


def printable(text: str) -> str:
    """`text` on one line, without characters that have no shape, and with places at which long words may break."""
    return " ".join(_breakable(word) for word in clean(text).split(" "))


def _breakable(word: str) -> str:
    return word if len(word) <= _LONGEST else _BREAK.join(word)


def _marked(text: str) -> str:
    return _COMMON.sub("\ufffd", printable(text))


def _plain(value: Any, show: Callable[[str], str]) -> Any:
    """Blocks as data under their fields' names, each with its `kind`, and every text fit to be shown."""
    if is_dataclass(value):
        made = {field.name: _plain(getattr(value, field.name), show) for field in fields(value)}
        return {"block": type(value).__name__.lower(), **made, **_qr(value)}
    if isinstance(value, (tuple, frozenset)):
        return [_plain(one, show) for one in value]
    return show(value) if isinstance(value, str) else value


def _qr(block: Any) -> dict[str, str]:
    """A seal's QR code as a drawing."""
    if not isinstance(block, Seal):
        return {}
    found = squares(block.encoded)
    box = f'xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {found.size} {found.size}"'
    return {"qr": f'<svg {box}><path d="{found.path}"/></svg>'}
