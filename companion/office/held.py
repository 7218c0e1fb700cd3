"""What is held apart from a log, and what it shows of it: the closing seal, the device's key, the list of trusted keys."""
from __future__ import annotations

from dataclasses import dataclass, field
from typing import Optional

from companion.core.log.closing import LENGTH, is_short
from companion.core.log.evidence import Report
from companion.office.trusted import REVOKED_LATER, Standing, Trusted


@dataclass(frozen=True)
class Held:
    """What somebody holds; each may be missing."""

    seal: str = ""
    """The closing seal on the customer's sheet, as `read_closing_seal` gives it."""
    key: str = ""
    """The device's public key, 64 lower-case hex digits."""
    trusted: Optional[Trusted] = None


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
    _by_seal(report, held.seal, found)
    _by_key(report, held.key, standing(report, held), found)
    return found


def _by_seal(report: Report, seal: str, found: Shown) -> None:
    if seal and report.bad is None and not report.torn and seal != report.closing_seal:
        found.wrong.append(f"the closing seal must be {seal}, not {report.closing_seal or 'missing'}: "
                           "the end was cut off, or the whole log was written anew")
    elif seal and is_short(seal) and report.finished:
        found.not_checked.append(
            f"the closing seal of this old log is short ({len(seal.replace(' ', ''))} characters, now {LENGTH}): whoever has "
            "the device's key can make two logs that share it")
    elif report.holds and not seal:
        found.not_checked.append("without the closing seal (--seal) an end cut off at a line, or a whole log written anew on "
                                 "the same device, does not show")


def _by_key(report: Report, key: str, stands: Optional[Standing], found: Shown) -> None:
    if not report.key:
        return
    if key and key != report.key:
        found.wrong.append(f"line 1: the device's key must be {key}, not {report.key}: another device wrote this log")
    if stands and not stands.fine:
        found.wrong.append(f"the key {report.key} is {stands.said}")
    elif stands:
        (found.not_checked if stands.state == REVOKED_LATER else found.notes).append(f"the key is {stands.said}")
    elif not key:
        found.not_checked.append(f"whose key {report.key} is, without a list of trusted keys (--trusted) or the key (--key)")
    if not report.seals and report.holds:
        found.not_checked.append("that the device of that key wrote it: no line is sealed yet")
