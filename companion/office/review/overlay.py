"""Findings that the office's own log and its list of trusted keys make: laid over the index, and laid anew whenever one of
them changes."""
from __future__ import annotations

from functools import lru_cache
from typing import Iterator

from companion.office.findings.finding import Finding
from companion.office.findings.office import card_findings, hold_findings, key_findings
from companion.office.review.query import Index
from companion.office.review_log import Reviewed

OFFICE_KINDS = ("key-unknown", "key-revoked", "key-revoked-later", "card-changed", "card-withdrawn", "card-out-of-date",
                "card-unapproved", "hold-unsigned")
"""The kinds that no log alone can show; see `findings.office`."""


def apply_register(index: Index, reviewed: Reviewed) -> None:
    """Put the findings of keys, register and hold points on the index, in place of those put there before.

    Whoever reads meanwhile sees the old findings or the new ones, never a part."""
    index.db.begin()
    try:
        index.db.execute("DELETE FROM findings WHERE list_contains($kinds, name)", {"kinds": list(OFFICE_KINDS)})
        _add(index, list(_found(index, reviewed)))
        index.weigh()
        index.db.commit()
    except BaseException:
        index.db.rollback()
        raise


def _add(index: Index, found: list[tuple[str, Finding]]) -> None:
    if found:
        index.db.execute(
            "INSERT INTO findings SELECT unnest($logs), unnest($names), unnest($weights), "
            "unnest($lines::INTEGER[][]), unnest($said)",
            {"logs": [log for log, _ in found], "names": [one.name for _, one in found],
             "weights": [one.severity for _, one in found], "lines": [list(one.lines) for _, one in found],
             "said": [one.said for _, one in found]})


def _found(index: Index, reviewed: Reviewed) -> Iterator[tuple[str, Finding]]:
    @lru_cache(maxsize=None)  # jobs of one text, begun between the same two marks of the register, share the answer
    def of_card(card: str, version: str, sha256: str, moment: str) -> tuple[Finding, ...]:
        return tuple(card_findings(card, version, sha256, moment, reviewed.register[card]))

    @lru_cache(maxsize=None)  # one device's jobs of one day share the answer
    def of_key(key: str, began: str, ended: str) -> tuple[Finding, ...]:
        return tuple(key_findings(key, began, ended, reviewed.trusted))

    moments = {card: [mark.at for mark in marks] for card, marks in reviewed.register.items()}
    for job in index.rows("SELECT log, card, card_version, card_sha256, began, ended, key, passed_holds FROM facts"):
        for found in of_key(job["key"], job["began"][:10], job["ended"][:10]):
            yield job["log"], found
        if job["card"] in moments:
            moment = max((at for at in moments[job["card"]] if at <= job["began"]), default="0")
            for found in of_card(job["card"], job["card_version"], job["card_sha256"], moment):
                yield job["log"], found
        for found in hold_findings(job["log"], job["passed_holds"] or (), reviewed.holds):
            yield job["log"], found
