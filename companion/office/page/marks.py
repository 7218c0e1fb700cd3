"""What the office's log says of each job, beside the index: tables for filters, and the same for one job."""
from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Iterator, Optional

from companion.core.log.closing import closing_seal
from companion.office.place import Place, lines_in
from companion.office.review.overlay import DAMAGED
from companion.office.review.query import ORDERS, Index
from companion.office.review_log import Reviewed, Signed


@dataclass(frozen=True)
class SignOff:
    """The sign-off that counts for a job."""

    entry: Signed
    """The line of the office's log."""
    fits: bool
    """Whether the log is still the one that was signed."""


def mark(index: Index, reviewed: Reviewed, place: Place) -> dict[str, SignOff]:
    """Make the tables `signed` (log, fits) and `unanswered` (log); the sign-offs by log."""
    found = dict(_sign_offs(index, reviewed, place))
    replies = [(log, entry.fact) for log, entries in reviewed.replies.items() for entry in entries]
    index.db.execute("CREATE OR REPLACE TABLE signed AS SELECT unnest($logs::VARCHAR[]) AS log, "
                     "unnest($fit::BOOLEAN[]) AS fits",
                     {"logs": list(found), "fit": [one.fits for one in found.values()]})
    index.db.execute(
        "CREATE OR REPLACE TABLE unanswered AS SELECT DISTINCT log FROM findings ANTI JOIN (SELECT "
        "unnest($logs::VARCHAR[]) AS log, unnest($names::VARCHAR[]) AS name, unnest($lines::INTEGER[][]) AS lines, "
        "unnest($seals::VARCHAR[]) AS seal) AS r ON findings.log = r.log AND findings.name = r.name "
        "AND coalesce(findings.lines, []) = r.lines AND r.seal IN ('', findings.mark) WHERE severity <> 'note'",
        {"logs": [log for log, _ in replies], "names": [fact.finding for _, fact in replies],
         "lines": [list(fact.lines) for _, fact in replies], "seals": [fact.seal for _, fact in replies]})
    return found


def _sign_offs(index: Index, reviewed: Reviewed, place: Place) -> Iterator[tuple[str, SignOff]]:
    """Only logs of the index; of an unfinished log the last line is read."""
    ends = {row["log"]: row["last"] for row in index.rows(
        "SELECT log, last FROM facts WHERE list_contains($logs, log)", {"logs": list(reviewed.sign_offs)})}
    for log, last in ends.items():
        entry = reviewed.signed_off(log, *seals_of(last or last_hash(place, log)))
        yield log, SignOff(entry or reviewed.sign_offs[log][-1], entry is not None)


def next_due(index: Index, after: str = "") -> str:
    """The log of the worst job that can be signed off and is not, "" where there is none. `after`: a log whose place in
    the list, worst first, is gone on from; from the end it begins anew."""
    found = index.rows(
        f"WITH placed AS (SELECT log, findings, row_number() OVER (ORDER BY {ORDERS['worst']}) AS place FROM jobs) "
        "SELECT log FROM placed WHERE log <> $after AND log NOT IN (SELECT log FROM signed WHERE fits) "
        "AND NOT list_has_any(findings, $damaged) "
        "ORDER BY place < coalesce((SELECT place FROM placed WHERE log = $after), 0), place LIMIT 1",
        {"damaged": list(DAMAGED), "after": after})
    return found[0]["log"] if found else ""


def last_hash(place: Place, log: str) -> str:
    """SHA-256, hex, of a log's last whole line without its newline; "" where there is none or it cannot be read."""
    last = b""
    try:
        for piece in lines_in(place, log):
            last = piece if piece.endswith(b"\n") else last
    except OSError:
        return ""
    return hashlib.sha256(last[:-1]).hexdigest() if last else ""


def seals_of(last: str) -> tuple[str, ...]:
    """What a sign-off of the log whose last line has that SHA-256 may bind to: now that hash, at first a closing seal of
    twelve characters."""
    return last, closing_seal(last, 1)
