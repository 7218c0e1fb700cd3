"""Whether the log itself can be trusted: its lines, its seals, its end, and what lies beside it."""
from __future__ import annotations

from typing import Iterator

from companion.office.account import Account
from companion.office.findings.figures import sentence
from companion.office.findings.finding import Finding
from companion.office.memos import WRONG

_SEAL, _TORN = "the seal must hold", "unfinished:"
"""How `verify` begins what it says of a seal that does not hold, and of an unfinished last line."""


def damaged(account: Account) -> bool:
    """Whether lines may be missing or wrong, so that nothing follows from what is not in the log."""
    return not account.found["holds"] or bool(account.unread) or not account.entries


def unreadable(why: str) -> Finding:
    """The finding on a file that could not even be read."""
    return Finding("log-unreadable", (), sentence(f"The log cannot be read: {why}"))


def log_unreadable(account: Account) -> Iterator[Finding]:
    """No first line that holds, an event that is not known here, or a card that cannot be read: then the rules that
    need it say nothing, and that must not look like a clean job."""
    why = _why_bad(account)
    if not account.entries and not account.unread and not why.startswith(_SEAL):
        yield unreadable(why or "it holds no line")
    if account.unread:
        line = len(account.entries) + 1
        yield Finding("log-unreadable", (line,), sentence(f"The log cannot be read on: {account.unread}"))
    if account.card_fault:
        yield Finding("log-unreadable", (1,), sentence(f"The card in the log cannot be read: {account.card_fault}"))


def line_broken(account: Account) -> Iterator[Finding]:
    """The first line that is not as it was written."""
    why, bad = _why_bad(account), account.found["first_bad"]
    if not bad or why.startswith(_TORN) or not account.entries and not why.startswith(_SEAL):
        return
    name = "seal-broken" if why.startswith(_SEAL) else "chain-broken"
    yield Finding(name, (bad["line"],), sentence(f"Line {bad['line']} is not as it was written: {why}"))


def line_torn(account: Account) -> Iterator[Finding]:
    """The last line was being written when the program or its machine stopped."""
    bad = account.found["first_bad"]
    if bad and account.entries and _why_bad(account).startswith(_TORN):
        yield Finding("log-torn", (bad["line"],), sentence(f"Line {bad['line']} is {bad['why']}"))


def beside_wrong(account: Account) -> Iterator[Finding]:
    """The sidecar of personal texts, and the memos."""
    memos = {f"line {memo['line']}: {memo['why']}": memo["line"] for memo in account.found["memos"]
             if memo["state"] == WRONG}
    first = account.found["first_bad"]
    for wrong in account.found["wrong"][1 if first else 0:]:
        lines = (memos[wrong],) if wrong in memos else ()
        yield Finding("chain-broken", lines, sentence(f"What lies beside the log is not as it was written: {wrong}"))


def _why_bad(account: Account) -> str:
    bad = account.found["first_bad"]
    return bad["why"] if bad else ""
