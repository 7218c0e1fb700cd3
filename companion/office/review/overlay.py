"""Findings that the office's own log and its list of trusted keys make: laid over the index, and laid anew whenever one of
them changes."""
from __future__ import annotations

from functools import lru_cache
from typing import Callable, Iterator

from companion.office.findings.finding import Finding
from companion.office.findings.office import card_findings, hold_findings, key_findings
from companion.office.review.query import Index, Row
from companion.office.review_log import Reviewed

OFFICE_KINDS = ("key-unknown", "key-revoked", "key-revoked-later", "card-changed", "card-withdrawn", "card-out-of-date",
                "card-unapproved",
                "hold-unsigned", "log-missing", "log-shortened")
"""The kinds that no log alone can show; see `findings.office`."""

MISSING, SHORTENED = "log-missing", "log-shortened"
ANSWERED = (MISSING, SHORTENED)
"""The kinds that a reply ends."""
DAMAGED = ("log-unreadable", "chain-broken", "seal-broken")
"""A log with one of these is not what was written, so that a signature would vouch for nothing."""


def apply_register(index: Index, reviewed: Reviewed) -> None:
    """Put the findings of keys, register, hold points and missing or shortened logs on the index, in place of those put
    there before.

    Whoever reads meanwhile sees the old findings or the new ones, never a part."""
    gone = {row["log"]: row for row in index.rows("SELECT * FROM gone")}
    explained = [log for log, row in gone.items() if reviewed.replies_to(log, MISSING, (), row["tail"])]
    index.db.begin()
    try:
        index.db.execute("DELETE FROM findings WHERE list_contains($kinds, name)", {"kinds": list(OFFICE_KINDS)})
        index.db.execute("CREATE OR REPLACE TABLE explained AS SELECT unnest($logs::VARCHAR[]) AS log", {"logs": explained})
        _add(index, [*_found(index, reviewed), *_missing(gone),
                     *_shortened(index, reviewed)])
        index.weigh()
        index.db.commit()
    except BaseException:
        index.db.rollback()
        raise


def _add(index: Index, found: list[tuple[str, str, Finding]]) -> None:
    if found:
        index.db.execute(
            "INSERT INTO findings SELECT unnest($logs), unnest($names), unnest($weights), "
            "unnest($lines::INTEGER[][]), unnest($said), unnest($marks)",
            {"logs": [log for log, _, _ in found], "names": [one.name for _, _, one in found],
             "weights": [one.severity for _, _, one in found], "lines": [list(one.lines) for _, _, one in found],
             "said": [one.said for _, _, one in found], "marks": [mark for _, mark, _ in found]})


def _found(index: Index, reviewed: Reviewed) -> Iterator[tuple[str, str, Finding]]:
    """Log, the mark that a reply binds to (see `Account.mark`), and what was found."""
    of_key, of_card = _of_keys(reviewed), _of_cards(reviewed)
    for job in index.rows("SELECT log, card, card_version, card_sha256, began, ended, key, passed_holds, hold_marks, first, "
                          "tail FROM facts WHERE log NOT IN (SELECT log FROM gone)"):
        log = job["log"]
        for found in (*of_key(job["key"], job["began"][:10], job["ended"][:10]),
                      *of_card(job["card"], job["card_version"], job["card_sha256"], job["began"])):
            yield log, job["first"], found
        for found in hold_findings(log, dict(zip(job["passed_holds"] or (), job["hold_marks"] or ())), reviewed):
            yield log, job["tail"], found


def _of_keys(reviewed: Reviewed) -> Callable[[str, str, str], tuple[Finding, ...]]:
    @lru_cache(maxsize=None)  # one device's jobs of one day share the answer
    def of_key(key: str, began: str, ended: str) -> tuple[Finding, ...]:
        return tuple(key_findings(key, began, ended, reviewed.trusted))
    return of_key


def _of_cards(reviewed: Reviewed) -> Callable[[str, str, str, str], tuple[Finding, ...]]:
    moments = {card: [mark.at for mark in marks] for card, marks in reviewed.register.items()}

    @lru_cache(maxsize=None)  # jobs of one text, begun between the same two marks of the register, share the answer
    def of_text(card: str, version: str, sha256: str, moment: str) -> tuple[Finding, ...]:
        return tuple(card_findings(card, version, sha256, moment, reviewed))

    def of_card(card: str, version: str, sha256: str, began: str) -> tuple[Finding, ...]:
        return of_text(card, version, sha256, max((at for at in moments.get(card, ()) if at <= began), default="0"))
    return of_card


def _missing(gone: dict[str, Row]) -> Iterator[tuple[str, str, Finding]]:
    for log, row in gone.items():
        how = f"with {row['entries']} lines, {'finished' if row['finished'] else 'without an end'}" if row["entries"] else \
            "and could not be read"
        seen = f"was last seen on {row['seen'][:10]}" if row["seen"] else "had been here"
        yield log, row["tail"], Finding(MISSING, (), f"The log {seen}, {how}; on {row['missed'][:10]} it was gone. Reply why.")


def _shortened(index: Index, reviewed: Reviewed) -> Iterator[tuple[str, str, Finding]]:
    """Not of logs that are told for worse, nor of an end that lies here under another name."""
    there = "SELECT tail FROM facts WHERE log NOT IN (SELECT log FROM gone)"
    for end in index.rows(f"""
            SELECT * FROM cut WHERE log IN (SELECT log FROM facts) AND log NOT IN (SELECT log FROM gone)
            AND tail NOT IN ({there}) AND log NOT IN (SELECT log FROM findings WHERE list_contains($damaged, name))
            ORDER BY log, missed, tail""", {"damaged": list(DAMAGED)}):
        if not any(reviewed.replies_to(end["log"], kind, (), end["tail"]) for kind in ANSWERED):
            seen = f"On {end['seen'][:10]} the log had" if end["seen"] else "The log had"
            how = f"{end['entries']} lines{', finished' if end['finished'] else ''}"
            yield end["log"], end["tail"], Finding(
                SHORTENED, (), f"{seen} {how}; on {end['missed'][:10]} the last of them was no longer in it: it was shortened, "
                "or another text stands in its place. Restore it from a copy, or reply why.")
