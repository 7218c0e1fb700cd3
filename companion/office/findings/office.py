"""Findings that need what the office keeps: how the card stood in the register when the job began, hold points that
nobody has signed off, and keys that are not on the list of trusted keys.

They take plain facts, not a log, since the index keeps those facts and asks again whenever the office's log grows."""
from __future__ import annotations

from typing import Iterator, Mapping, Optional

from companion.office.findings.finding import Finding
from companion.office.review_log.register import standing
from companion.office.review_log.reviewed import CardMark, Reviewed
from companion.office.trusted import NOT_YET, REVOKED, REVOKED_LATER, UNKNOWN, Trusted

_CARD_LINE = (1,)
"""The log's first line holds the card, and the device's key."""
_KEY_KINDS = {UNKNOWN: "key-unknown", NOT_YET: "key-unknown", REVOKED: "key-revoked", REVOKED_LATER: "key-revoked-later"}


def office_findings(log: str, card: str, version: str, sha256: str, began: str, passed_holds: Mapping[str, str],
                    found: Reviewed, key: str = "", ended: str = "") -> tuple[Finding, ...]:
    """All of them for one job: its log's name, card (id, version, SHA-256 of its text; "" where it cannot be read), when
    it began (RFC 3339, as in the log), the hold points it passed (`holds.holds_passed`), the device's key and the time of
    the log's last line. Those of the key come first, then those of the card."""
    return (*key_findings(key, began, ended, found.trusted),
            *card_findings(card, version, sha256, began, found),
            *hold_findings(log, passed_holds, found))


def key_findings(key: str, began: str, ended: str, trusted: Optional[Trusted]) -> Iterator[Finding]:
    """What the list of trusted keys has against the key that sealed a log. Nothing where the office keeps no list, or
    the log tells no key because it cannot be read: that is found elsewhere."""
    standing = trusted.standing(key, began, ended) if trusted and key else None
    if standing and standing.state in _KEY_KINDS:
        yield Finding(_KEY_KINDS[standing.state], _CARD_LINE, f"The key that sealed this log is {standing.said}.")


def card_findings(card: str, version: str, sha256: str, began: str, office: Reviewed) -> Iterator[Finding]:
    """How the card stood in the register at `began`; one that the register does not know, under whatever name, was never
    approved. Nothing where the office keeps no register at all, or the card cannot be read, which is found elsewhere."""
    if not office.register or not sha256:
        return
    marks = office.register.get(card, ())
    then = standing(marks, began)
    this, called = then.get(sha256), f"card {card}, version {version}," if version else f"card {card}"
    same_version = {mark.sha256 for mark in marks if mark.approved and mark.at <= began and mark.version == version}
    if same_version and sha256 not in same_version:
        yield Finding("card-changed", _CARD_LINE, f"The text of the {called} is not the one that was approved: its "
                      f"SHA-256 begins {sha256[:8]}, not {' or '.join(sha[:8] for sha in sorted(same_version))}.")
    if this is None and not same_version:
        yield Finding("card-unapproved", _CARD_LINE, f"The {called} had not been approved when the job began.")
    if this is not None and not this.approved:
        yield Finding("card-withdrawn", _CARD_LINE,
                      f"The {called} had been withdrawn on {this.at[:10]} by {this.by}: {this.reason}")
    if this is not None and this.approved:
        yield from _out_of_date(called, this, list(then.values()))


def _out_of_date(called: str, this: CardMark, then: list[CardMark]) -> Iterator[Finding]:
    """A newer version that had itself been withdrawn is no better."""
    newer = [mark for mark in then[then.index(this) + 1:] if mark.approved]
    if newer:
        yield Finding("card-out-of-date", _CARD_LINE, f"The {called} was not the newest: version {newer[-1].version} "
                      f"had been approved on {newer[-1].at[:10]}.")


def hold_findings(log: str, passed_holds: Mapping[str, str], found: Reviewed) -> Iterator[Finding]:
    """One for each hold point that was passed and stands unsigned in the office's log."""
    for step, mark in passed_holds.items():
        if found.hold_signed(log, step, mark) is None:
            other = ": what it signed was another release, or another log of this name" if (log, step) in found.holds else ""
            said = f'The hold point "{step}" was passed, and the office has not signed it off{other}.'
            yield Finding("hold-unsigned", (), said)
