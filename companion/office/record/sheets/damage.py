"""What the papers that leave the office say of a damaged log: in plain words, and that they must not leave it."""
from __future__ import annotations

from companion.office.findings import KINDS
from companion.office.record.page import state
from companion.office.record.rows import Row

_DAMAGED = "Not for handing out: the record is damaged."
_NO_CARD = "The job card in the record cannot be read, so its words are missing."
_DAMAGES = ("log-unreadable", "chain-broken", "seal-broken", "log-torn")
WHY = "the record is damaged"
"""Why there is no closing seal."""


def warning(data: Row) -> tuple[str, ...]:
    """What stands before all else; what exactly is wrong is told by the record, to whoever keeps the log."""
    if data["check"]["wrong"]:
        return (_DAMAGED,)
    return (_NO_CARD,) if data["check"]["card_fault"] else ()


def in_plain_words(data: Row) -> Row:
    """The record's data, its findings of damage told by what they mean."""
    means = {name: KINDS[name].says for name in _DAMAGES}
    told = [{**one, "said": f"{said[:1].upper()}{said[1:]}."} if (said := means.get(one["name"])) else one
            for one in data["findings"]]
    return {**data, "findings": told}


def sheet_state(data: Row, kind: str) -> str:
    """What kind of sheet it is, and whether it may be handed out."""
    return f"{kind} of a damaged record" if data["check"]["wrong"] else state(data, kind)
