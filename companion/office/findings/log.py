"""Whether the log itself can be trusted: its lines, its seals, its end, and what lies beside it."""
from __future__ import annotations

from typing import Iterator

from companion.office.account import Account
from companion.office.findings.figures import sentence
from companion.office.findings.finding import Finding
from companion.office.memos import WRONG

_SEAL, _TORN = "the seal must hold", "unfinished:"
"""How `verify` begins what it says of a seal that does not hold, and of an unfinished last line."""
_CHAIN = ("Line {line} is not as it was written: the log was changed there, so neither that line nor what follows can "
          "be relied on.")
_BROKEN_SEAL = ("The seal on line {line} does not hold: what stands just before it was changed, or another device "
                "wrote it, so it cannot be relied on.")
_BREAKS_OFF = "The log breaks off in the middle of line {line}; whatever came after is not there."
_BESIDE = "The sound of a memo or a clip, or the file of personal texts, that lies beside the log is not as it was written."


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
    name, said = ("seal-broken", _BROKEN_SEAL) if why.startswith(_SEAL) else ("chain-broken", _CHAIN)
    yield Finding(name, (bad["line"],), _told(said.format(line=bad["line"]), why))


def line_torn(account: Account) -> Iterator[Finding]:
    """The last line was being written when the program or its machine stopped."""
    bad = account.found["first_bad"]
    if bad and account.entries and _why_bad(account).startswith(_TORN):
        yield Finding("log-torn", (bad["line"],), _told(_BREAKS_OFF.format(line=bad["line"]), bad["why"]))


def beside_wrong(account: Account) -> Iterator[Finding]:
    """The sidecar of personal texts, and the memos."""
    memos = {f"line {memo['line']}: {memo['why']}": memo["line"] for memo in account.found["memos"]
             if memo["state"] == WRONG}
    first = account.found["first_bad"]
    for wrong in account.found["wrong"][1 if first else 0:]:
        lines = (memos[wrong],) if wrong in memos else ()
        yield Finding("chain-broken", lines, _told(_BESIDE, wrong))


def _told(said: str, why: str) -> str:
    """What it means for a supervisor, and what `verify` says, for whoever looks into it."""
    return f"{said} For the technician: {sentence(why)}"


def _why_bad(account: Account) -> str:
    bad = account.found["first_bad"]
    return bad["why"] if bad else ""
