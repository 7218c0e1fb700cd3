"""The list of jobs: what was found how often, the jobs wanted, worst first, and the filters."""
from __future__ import annotations

from typing import Any

from companion.office.findings.kinds import PLACES
from companion.office.page.asked import View, own_list
from companion.office.page.counts import counts
from companion.office.page.filters import chosen, filters
from companion.office.page.frame import (
    Frame, count, job_address, job_name, link, moment, practice, short, table, weight)
from companion.office.page.desk import Sight
from companion.office.record.markup import Inside, Markup, join, tag

Row = dict[str, Any]
PER_PAGE = 50
"""Jobs on a page."""
_NAMED = 6
"""Kinds of finding that a row names; the rest are counted."""


def jobs_page(frame: Frame, view: View) -> str:
    """The page of the list that `view` asks for."""
    index = frame.sight.index
    wanted = index.count(view.asked)
    rows = index.jobs(view.asked, PER_PAGE, (view.page - 1) * PER_PAGE, view.order)
    shown = _list(frame.sight, view, rows) if rows else _none(frame.sight, wanted)
    return frame.page(
        "Jobs", _summary(frame, view, wanted), chosen(view), counts(frame, view), tag("h2", "The jobs", id="jobs"),
        filters(frame, view), _paging(view, wanted, len(rows), "pn"), shown, _paging(view, wanted, len(rows), ""),
        here="/jobs")


def _summary(frame: Frame, view: View, wanted: int) -> Markup:
    orders = {"worst": "worst first", "newest": "newest first", "oldest": "oldest first"}
    of = f" of {count(frame.sight.logs, 'job')}" if wanted != frame.sight.logs else ""
    return tag("p", tag("strong", f"{wanted:,}{of}" if of else count(wanted, "job")), f", {orders[view.order]}. ",
               tag("a", "To the list", href="#jobs"), class_="summary")


def _none(sight: Sight, wanted: int) -> Markup:
    if wanted:
        return tag("p", "The list has no such page.")
    if not sight.logs:
        return tag("p", "There is no job log (.jsonl) in this folder yet.")
    return tag("p", "No job is like that. ", tag("a", "Show all jobs", href="/jobs"), ".")


def _paging(view: View, wanted: int, shown: int, keys: str) -> Markup:
    """Where the reader is in the list, and the ways on; `keys` for back and on, since a key stands once on a page."""
    if not wanted:
        return join()
    first, last = (view.page - 1) * PER_PAGE + 1, -(-wanted // PER_PAGE)
    here = f"{first:,} to {first + shown - 1:,} of {wanted:,}" if shown else f"page {view.page:,} of {last:,}"
    back = link("Earlier page", view.address(page=min(view.page - 1, last)), keys[:1], rel="prev")
    on = link("Next page", view.address(page=view.page + 1), keys[1:], rel="next")
    return tag("p", here, " ", back if view.page > 1 else "", " ", on if view.page < last else "", class_="paging")


def _list(sight: Sight, view: View, rows: list[Row]) -> Markup:
    logs = [row["log"] for row in rows]
    found: dict[str, list[Row]] = {log: [] for log in logs}
    for one in sight.index.rows("SELECT * FROM findings WHERE log IN (SELECT unnest($logs))", {"logs": logs}):
        found[one["log"]].append(one)
    heads = ["Job", "Worst", "What was found", "Begun", "Card", "Mechanic, vehicle", "Signed off"]
    return table("Jobs", heads, [_row(sight, view, row, found[row["log"]]) for row in rows], class_="jobs")


def _row(sight: Sight, view: View, row: Row, found: list[Row]) -> list[Inside]:
    card = join(short(row["title"] or row["card"] or "(no card)", 60), " ", practice() if row["practice"] else "",
                tag("span", f"version {row['card_version']}", class_="said") if row["card_version"] else "")
    vehicle = tag("span", short(row["vehicle"], 30), class_="said") if row["vehicle"] else ""
    return [tag("a", job_name(row["log"]), href=job_address(row["log"], own_list(view.address(page=view.page)))),
            weight(row["worst"]),
            _found(view, found), moment(row["began"]), card, join(short(row["mechanic"], 30), vehicle),
            _signed(sight, row["log"], found)]


def _found(view: View, found: list[Row]) -> Markup:
    """The kinds, heaviest first, and the sentence of the one that was asked for, else of the heaviest."""
    if not found:
        return tag("span", "nothing", class_="quiet")
    names = sorted({one["name"] for one in found}, key=PLACES.__getitem__)
    told = view.asked.finding if view.asked.finding in names else names[0]
    said = min((one for one in found if one["name"] == told), key=lambda one: one["lines"] or [])["said"]
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return join(tag("span", ", ".join(names[:_NAMED]) + more, class_="kinds"), tag("span", short(said), class_="said"))


def _signed(sight: Sight, log: str, found: list[Row]) -> Markup:
    sign_off = sight.signed.get(log)
    state = "no" if sign_off is None else (
        f"by {short(sign_off.entry.fact.by, 30)}" if sign_off.fits else "changed since it was signed off")
    waiting = sum(one["severity"] != "note" and not sight.reviewed.replies_to(
        log, one["name"], tuple(one["lines"] or ()), one["mark"]) for one in found)
    return join(state, tag("span", f"{waiting} not replied to", class_="said") if waiting else "")
