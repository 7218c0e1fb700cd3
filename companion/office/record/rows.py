"""Rows of the record: plain values under plain names, as `companion record --json` gives them.

Every row has `line` (of the log, from 1), `at` and `step`; what was heard adds `words`, `score`, `ear` and `by`.
"""
from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, Optional

from companion.core.events import Personal, Words
from companion.core.log.journal import Entry

Row = dict[str, Any]


class Moment(str):
    """A time as the log has it: RFC 3339, UTC."""


class Span(int):
    """Milliseconds."""


def text(words: Optional[Words]) -> str:
    """Words as text; a personal text is "(erased)" where its sidecar entry is gone."""
    return words.text if isinstance(words, Personal) else words or ""


def row(entry: Entry, **more: Any) -> Row:
    """The row of an entry."""
    made = {"line": entry.n + 1, "at": Moment(entry.at), "step": entry.event.step, **more}
    return made | heard(entry)


def heard(entry: Entry) -> Row:
    """How the entry's event was heard; {} where it was not."""
    how = entry.event.heard
    if how is None:
        return {}
    return {"words": text(how.words), "score": None if how.score is None else str(how.score), "ear": how.ear,
            "by": how.by}


def digits(value: Optional[Decimal]) -> Optional[str]:
    """A number as the record has it: never in exponent form."""
    return None if value is None else format(value, "f")


def number(said: str) -> Optional[Decimal]:
    """The number that a text is; None for any other text, and for one that no instrument shows."""
    return Decimal(said) if re.fullmatch(r"-?[0-9]{1,15}(\.[0-9]{1,15})?", said) else None
