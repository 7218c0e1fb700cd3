"""The office's own log as a page: who said what and when, on which line, the newest first."""
from __future__ import annotations

from companion.office.page.frame import Frame, count, job_address, job_name, moment, table
from companion.office.record.markup import Inside, Markup, join, tag
from companion.office.review_log import (
    CardApproved, DoubtAnswered, Fact, FindingAnswered, HoldSignedOff, JobSignedOff, PersonalErased, Signed)
from companion.office.review_log.telling import whose_keys

PER_PAGE = 100


def office_page(frame: Frame, page: int) -> str:
    """A page of the log, from 1."""
    entries = frame.sight.reviewed.entries
    shown = entries[::-1][(page - 1) * PER_PAGE:page * PER_PAGE]
    if shown:
        lines = table("The office's log", ["Line", "When (UTC)", "Who", "What", "Machine"],
                      [_row(one, frame.sight.reviewed.uncounted.get(one.n, "")) for one in shown], class_="office")
    else:
        lines = tag("p", "The log has no such page." if entries else "Nothing stands there.")
    return frame.page("Office log", _state(frame), lines, _paging(page, len(entries)), here="/office")


def _state(frame: Frame) -> Markup:
    reviewed = frame.sight.reviewed
    torn = f" {reviewed.torn} bytes of an unfinished line at the end were never acknowledged." if reviewed.torn else ""
    lines, machines = count(len(reviewed.entries), "line"), count(len(reviewed.keys), "machine")
    return tag("p", f"{lines} that {'holds' if len(reviewed.entries) == 1 else 'hold'}, signed by {machines}. The "
                    "log lies in office/review.jsonl; every line is signed, and holds the hash of the line before "
                    f"it.{torn}", f" {whose_keys(reviewed)}." if whose_keys(reviewed) else "")


def _paging(page: int, entries: int) -> Markup:
    ways = [tag("a", "Newer", href=f"/office?page={page - 1}", rel="prev") if page > 1 else "", " ",
            tag("a", "Older", href=f"/office?page={page + 1}", rel="next") if page * PER_PAGE < entries else ""]
    return tag("p", ways, class_="paging")


def _row(one: Signed, uncounted: str) -> list[Inside]:
    said = join(tag("strong", "Does not count: "), f"{uncounted}. ", _said(one.fact)) if uncounted else _said(one.fact)
    return [f"{one.n + 1:,}", moment(one.at), one.fact.by, said, tag("code", one.key[:8])]


def _said(fact: Fact) -> Markup:
    if isinstance(fact, (JobSignedOff, HoldSignedOff, FindingAnswered)):
        what = {JobSignedOff: "signed off", HoldSignedOff: f"signed off the hold point {getattr(fact, 'step', '')} of",
                FindingAnswered: f"replied to {getattr(fact, 'finding', '')} in"}[type(fact)]
        words = fact.text if isinstance(fact, FindingAnswered) else fact.reason
        return join(f"{what} ", tag("a", job_name(fact.log), href=job_address(fact.log)), f": {words}")
    if isinstance(fact, PersonalErased):
        return join("erased what was kept beside ", tag("a", job_name(fact.log), href=job_address(fact.log)),
                    f" about people: {fact.what}: {fact.reason}")
    if isinstance(fact, DoubtAnswered):
        return join(f"went on with what was found ({fact.text}): {fact.reason}")
    verb = "approved" if isinstance(fact, CardApproved) else "withdrew"
    return join(f"{verb} the card {fact.card}, version {fact.version} (SHA-256 {fact.sha256[:16]}…): {fact.reason}")
