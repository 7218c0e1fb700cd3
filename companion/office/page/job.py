"""A job as its page needs it: the row and findings of the index, and its log as it is at this moment."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Optional

from companion.errors import BadInput
from companion.office.account import Account, read_account
from companion.office.holds import holds_passed
from companion.office.page.desk import Desk, Sight
from companion.office.page.marks import last_hash
from companion.office.review.overlay import DAMAGED

Row = dict[str, Any]


@dataclass(frozen=True)
class Job:
    """One job as the index has it, and its log as it is at this moment."""

    row: Row
    findings: tuple[Row, ...]
    account: Optional[Account]
    """None where the log cannot be read now."""
    seal: Optional[str]
    """SHA-256 of the log's last line, which a sign-off binds to; None where nothing can be read."""

    @property
    def log(self) -> str:
        """The log's name."""
        return self.row["log"]

    @property
    def changed(self) -> bool:
        """Whether the log is another than the one that was indexed."""
        return self.account is None or (len(self.account.entries), self.account.found["last"]) != (
            self.row["entries"], self.row["last"])

    @property
    def may_be_signed(self) -> bool:
        """Whether a sign-off would bind to something."""
        return self.account is not None and self.seal is not None and not set(DAMAGED) & set(self.row["findings"]) and (
            self.account.found["holds"] or "log-torn" in self.row["findings"])

    @property
    def passed_holds(self) -> dict[str, str]:
        """The hold points that its log passes at this moment; see `holds`."""
        return holds_passed(self.account) if self.account else {}

    def finding(self, name: str, lines: tuple[int, ...]) -> Optional[Row]:
        """The finding of that name and those lines."""
        return next((one for one in self.findings if (one["name"], lines_of(one)) == (name, lines)), None)


def job_of(desk: Desk, sight: Sight, log: str) -> Optional[Job]:
    """The job of that log; None where the index has none, whatever lies in the folder."""
    row = sight.index.job(log)
    if row is None:
        return None
    try:
        account: Optional[Account] = read_account(desk.folder / log)
    except BadInput:
        account = None
    seal = account.found["last"] or last_hash(desk.place, log) or None if account else None
    return Job(row, tuple(sight.index.findings_of(log)), account, seal)


def lines_of(finding: Row) -> tuple[int, ...]:
    """The lines of a finding as the index has it."""
    return tuple(finding["lines"] or ())
