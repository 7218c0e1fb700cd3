"""Hostile receipts: a depot's list of logs with its heads, and what was handed out of it."""
from __future__ import annotations

from functools import lru_cache
from typing import Any

from hostile import Target
from hostile.changing import jsonwise, objects_of
from hostile.files import folder
from hostile.logs import HEX
from logmaker import KEY

from companion.core.log.journal import canonical, sign
from companion.errors import CompanionError
from companion.office.receipts.forms import Entry, Head, Later, Receipt, letters, read_form
from companion.office.receipts.ledger import Ledger, _ledger

AT = "2026-01-31T08:15:00.250Z"


def feed_receipts(data: bytes) -> None:
    """A case holds lines of a list and of its heads, and receipts; the heads are signed anew by a key of our own."""
    for case in (data, b"\n".join(map(_signed, data.split(b"\n")))):
        lines = [(line + b"\n", objects_of(line)) for line in case.split(b"\n")]
        try:
            found = _ledger(iter([line for line, made in lines if "last" in made]),
                            iter([line for line, made in lines if "root" in made]), "office/receipts")
            assert len(found.heads) <= len(lines)
        except CompanionError:
            pass
        for line, made in lines:
            _handed_out(line, Receipt if "receipt" in made else Later)


def _handed_out(line: bytes, kind: Any) -> None:
    path = folder() / "held.receipt"
    path.write_bytes(line)
    try:
        form = read_form(kind, path)
    except CompanionError as error:
        assert len(str(error)) < 1_000
        return
    form.head.holds()
    form.holds() if kind is Receipt else form.continues(form.head)
    assert letters(form.head.size, form.head.root)


def _signed(line: bytes) -> bytes:
    made = objects_of(line)
    if "root" not in made:
        return line
    said = {name: value for name, value in made.items() if name != "sig"} | {"key": HEX}
    try:
        return canonical({**said, "sig": sign(said, KEY)})
    except (ValueError, TypeError):
        return b"{}"


@lru_cache(maxsize=None)
def _cases() -> tuple[bytes, ...]:
    entries = tuple(Entry(at=AT, last=f"{place:064x}", log=f"van-{place}.jsonl") for place in range(5))
    heads = [Head.signed(size, Ledger(entries[:size]).tree.root(), AT, KEY) for size in (2, 5)]
    whole = Ledger(entries, tuple(heads))
    handed = [canonical(form.model_dump(mode="json")) for form in (whole.receipt(3), whole.later(2))]
    return (b"\n".join([*(one.line() for one in (*entries, *heads)), *handed]) + b"\n",
            b"\n".join(one.line() for one in (*entries[:2], heads[0])) + b"\n", handed[0] + b"\n", handed[1] + b"\n")


TARGETS = (Target("receipt", _cases, jsonwise, feed_receipts),)
