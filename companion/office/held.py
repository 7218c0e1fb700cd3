"""What is held apart from a log, and what it shows of it: the closing seal, the device's key, the list of trusted keys, a
receipt and a later head of the depot's list."""
from __future__ import annotations

from dataclasses import dataclass, field
from typing import Optional

from companion.core.log.closing import LENGTH, is_short
from companion.core.log.evidence import Report
from companion.office.receipts.forms import Head, Later, Receipt
from companion.office.trusted import REVOKED_LATER, TRUSTED, Standing, Trusted
from companion.terminal import clean


@dataclass(frozen=True)
class Held:
    """What somebody holds; each may be missing."""

    seal: str = ""
    """The closing seal on the customer's sheet, as `read_closing_seal` gives it."""
    key: str = ""
    """The device's public key, 64 lower-case hex digits."""
    trusted: Optional[Trusted] = None
    receipt: Optional[Receipt] = None
    later: Optional[Later] = None
    """A head of the same list, given after the receipt."""


@dataclass
class Shown:
    """What the comparison shows."""

    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    not_checked: list[str] = field(default_factory=list)


def standing(report: Report, held: Held) -> Optional[Standing]:
    """How the log's key stands with the list of trusted keys; None without a list, or where the log tells no key."""
    return held.trusted.standing(report.key, report.began, report.ended) if held.trusted and report.key else None


def shown(report: Report, held: Held) -> Shown:
    """What all that is held shows of the log in `report`."""
    found = Shown()
    _by_seal(report, held.seal, held.receipt, found)
    if held.receipt:
        _by_receipt(report, held.receipt, held, found)
    _by_key(report, held, found)
    return found


def _received(report: Report, receipt: Optional[Receipt]) -> bool:
    """Whether a receipt that holds is of this very log: it shows what the closing seal would."""
    return bool(receipt and receipt.entry.last == report.last and receipt.head.holds() and receipt.holds())


def _by_seal(report: Report, seal: str, receipt: Optional[Receipt], found: Shown) -> None:
    if seal and report.bad is None and not report.torn and seal != report.closing_seal:
        found.wrong.append(f"the closing seal must be {seal}, not {report.closing_seal or 'missing'}: "
                           "the end was cut off, or the whole log was written anew")
    elif seal and is_short(seal) and report.finished:
        found.not_checked.append(
            f"the closing seal of this old log is short ({len(seal.replace(' ', ''))} characters, now {LENGTH}): whoever has "
            "the device's key can make two logs that share it")
    elif report.holds and not seal and not _received(report, receipt):
        found.not_checked.append("without the closing seal (--seal) an end cut off at a line, or a whole log written anew on "
                                 "the same device, does not show")


def _by_receipt(report: Report, receipt: Receipt, held: Held, found: Shown) -> None:
    entry, day = receipt.entry, receipt.head.at[:10]
    if not receipt.head.holds() or not receipt.holds():
        found.wrong.append("the receipt does not hold by itself: it is not as it was given")
    elif entry.last != report.last:
        found.wrong.append(f"the last line must have the SHA-256 {entry.last}, as the receipt of {day} says, not "
                           f"{report.last or 'the unfinished end it has now'}: {clean(entry.log)} was written anew since, or its end was cut off")
    else:
        found.notes.append(f"the receipt shows that this very log was there on {day}, as job {receipt.index + 1} of "
                           f"{receipt.head.size}")
    _by_signer("receipt", receipt.head, held.trusted, found)
    if held.later and not (held.later.head.holds() and held.later.continues(receipt.head)):
        found.wrong.append("the later head does not continue the receipt's list: jobs were taken out or rewritten since")
    elif held.later:
        found.notes.append(f"the list of {held.later.head.at[:10]}, {held.later.head.size} jobs, has this job and all before it")
        _by_signer("later head", held.later.head, held.trusted, found)


def _by_signer(what: str, head: Head, trusted: Optional[Trusted], found: Shown) -> None:
    stands = trusted.standing(head.key, head.at) if trusted else None
    if stands is None:
        found.not_checked.append(f"whose key {head.key}, which signed the {what}, is")
    else:
        said = found.notes if stands.state == TRUSTED else found.not_checked if stands.fine else found.wrong
        said.append(f"the key that signed the {what} is {stands.said}")


def _was_before(report: Report, held: Held) -> bool:
    """Whether a receipt by a trusted office shows that the log was there before its key was revoked."""
    receipt, entry = held.receipt, held.trusted.of(report.key) if held.trusted else None
    return bool(receipt and entry and _received(report, receipt) and receipt.head.at[:10] < entry.revoked
                and receipt.head.key != report.key and held.trusted.standing(receipt.head.key, receipt.head.at).state == TRUSTED)


def _by_key(report: Report, held: Held, found: Shown) -> None:
    if not report.key:
        return
    key, stands = held.key, standing(report, held)
    if key and key != report.key:
        found.wrong.append(f"line 1: the device's key must be {key}, not {report.key}: another device wrote this log")
    if stands and not stands.fine:
        found.wrong.append(f"the key {report.key} is {stands.said}")
    elif stands and stands.state == REVOKED_LATER and _was_before(report, held):
        found.notes.append(f"the key is {stands.name}'s and was revoked later; the receipt shows that the log is older")
    elif stands:
        (found.not_checked if stands.state == REVOKED_LATER else found.notes).append(f"the key is {stands.said}")
    elif not key:
        found.not_checked.append(f"whose key {report.key} is, without a list of trusted keys (--trusted) or the key (--key)")
    if not report.seals and report.holds:
        found.not_checked.append("that the device of that key wrote it: no line is sealed yet")
