"""The addresses of the page, and what answers at each."""
from __future__ import annotations

from importlib.resources import files
from typing import Any, Callable, Mapping, Optional

import duckdb
from flask import Flask, Response, abort, current_app, redirect, request, send_file
from werkzeug.exceptions import HTTPException

from companion.core.log.journal import is_memo_name
from companion.errors import BadInput, CompanionError
from companion.office.memos import AS_RECORDED
from companion.office.page import writing
from companion.office.page.asked import View, own_list, view_of
from companion.office.page.cards import cards_page
from companion.office.page.desk import Desk
from companion.office.page.forms import refusal
from companion.office.page.frame import Frame, job_address, whole
from companion.office.page.guard import guard
from companion.office.page.help import help_page
from companion.office.page.job import Job, job_of
from companion.office.page.job_page import job_page
from companion.office.page.jobs import jobs_page
from companion.office.page.marks import next_due
from companion.office.page.office_log import office_page
from companion.office.page.papers import PAPERS, paper
from companion.office.page.trends import trends_page
from companion.office.record.markup import tag
from companion.office.review_log import Signed

START = "/jobs?signed=no"
"""What is to be done first: jobs that are not signed off, worst first."""


def site(desk: Desk, port: int) -> Flask:
    """The application over a desk that has been looked at, answering to this port of this machine."""
    app = Flask("companion.office.page", static_folder=None)
    app.config["DESK"] = desk
    app.url_map.merge_slashes = False
    guard(app, port)
    for address, answer in _PAGES.items():
        app.add_url_rule(address, answer.__name__, answer, methods=["GET"])
    for address, answer in _FORMS.items():
        app.add_url_rule(address, answer.__name__, answer, methods=["POST"])
    app.register_error_handler(HTTPException, _failed)
    app.register_error_handler(CompanionError, _refused)
    app.register_error_handler(duckdb.IOException, _renewed)
    app.register_error_handler(duckdb.Error, _spoiled)
    return app


def _desk() -> Desk:
    return current_app.config["DESK"]


def _frame() -> Frame:
    back = own_list(request.values.get("from", ""))
    return Frame(_desk(), _desk().sight(), current_app.config["TOKEN"], back)


# -- reading -----------------------------------------------------------------------------------------------------------

def start() -> Any:
    return redirect(START)


def jobs() -> Any:
    return _list("/jobs", jobs_page)


def trends() -> Any:
    return _list("/trends", trends_page)


def _list(at: str, page: Callable[[Frame, View], str]) -> Any:
    view = view_of(request.args, at)
    if "" in request.args.values():  # as a browser sends a form; the address that is kept says only what is asked
        return redirect(view.address(page=view.page))
    return page(_frame(), view)


def job(log: str) -> Any:
    frame = _frame()
    return job_page(frame, _job(frame, log), said=_said(frame, log), again=request.args.get("again") == "yes")


def beside(log: str, name: str) -> Any:
    """One of a job's papers, or a memo's sound, which lies at the same place for the record."""
    frame = _frame()
    found = _job(frame, log)
    if name in PAPERS and found.account:
        page, policy = paper(name, found.account, frame.sight.reviewed)
        return Response(page, mimetype="text/html", headers={"Content-Security-Policy": policy})
    kept = found.account.found["memos"] if found.account else ()
    if not is_memo_name(name) or not any(one["file"] == name and one["state"] == AS_RECORDED for one in kept):
        abort(404, "There is no such paper or memo of this job, or it is not as it was recorded.")
    kind = "audio/flac" if name.endswith(".flac") else "audio/wav"
    return send_file((_desk().folder / name).resolve(), mimetype=kind)


def next_job() -> Any:
    frame = _frame()
    log = next_due(frame.sight.index, request.args.get("after", ""))
    return redirect(job_address(log, frame.back) if log else START)


def cards() -> Any:
    frame = _frame()
    return cards_page(frame, said=_said(frame))


def office() -> Any:
    return office_page(_frame(), view_of({"page": request.args.get("page", "")}).page)


def guide() -> Any:
    return help_page(_frame())


def style() -> Any:
    return Response(files("companion.office.page").joinpath("page.css").read_text("utf-8"), mimetype="text/css")


def _job(frame: Frame, log: str) -> Job:
    found = job_of(frame.desk, frame.sight, log)
    if found is None:
        abort(404, "There is no job log of that name in the index. If it is new, look again.")
    return found


def _said(frame: Frame, log: str = "") -> Optional[Signed]:
    """The line of the office's log that was just written, as the address says, if it is about this."""
    said = request.args.get("said", "")
    place = int(said) if said.isascii() and said.isdecimal() and len(said) < 9 else 0
    entries = frame.sight.reviewed.entries
    entry = entries[place - 1] if 0 < place <= len(entries) else None
    return entry if entry and getattr(entry.fact, "log", "") == log else None


# -- writing -----------------------------------------------------------------------------------------------------------

def sign(log: str) -> Any:
    return _write_of_job(log, writing.sign_off)


def reply(log: str) -> Any:
    return _write_of_job(log, writing.reply)


def hold(log: str) -> Any:
    return _write_of_job(log, writing.hold)


def _write_of_job(log: str, fact: Callable[[Job, Mapping[str, str]], Any]) -> Any:
    frame = _frame()
    found = _job(frame, log)
    try:
        said, new = _desk().say(fact(found, request.form))
        if _desk().sight().index.job(log) is None:  # it was gone, and the office has just said why
            return redirect("/office", 303)
        return redirect(job_address(log, frame.back, said=said.n + 1, again="" if new else "yes"), 303)
    except CompanionError as error:
        refused = refusal(request.form.get("form", "")[:40], error, request.form.to_dict())
        frame = _frame()
        return job_page(frame, _job(frame, log), refused), _code(error)


def approve() -> Any:
    return _write_of_card(writing.approve)


def withdraw() -> Any:
    return _write_of_card(writing.withdraw)


def _write_of_card(fact: Callable[[Mapping[str, str]], Any]) -> Any:
    try:
        said, _ = _desk().say(fact(request.form))
        return redirect(f"/cards?said={said.n + 1}", 303)
    except CompanionError as error:
        return cards_page(_frame(), refusal(request.form.get("form", "")[:40], error,
                                            request.form.to_dict())), _code(error)


def look() -> Any:
    _desk().look_again()
    return redirect(START, 303)


# -- what goes wrong ---------------------------------------------------------------------------------------------------

_WRONG = {403: "Refused", 404: "There is no such page", 405: "Refused", 413: "Too large",
          421: "Another name than this page's"}
"""What goes wrong by asking; anything else is the program's own fault."""


def _failed(error: HTTPException) -> Any:
    code = error.code or 500
    said = str(error.description
               or "") if code in _WRONG else "It has written down what went wrong where it was started."
    return _page_of(_WRONG.get(code, "This program failed"), said, code)


def _refused(error: CompanionError) -> Any:
    return _page_of("That cannot be shown", f"{error}.", _code(error))


def _renewed(error: duckdb.IOException) -> Any:
    """Trends read the index's files, which may be renewed at that very moment."""
    return _page_of("The index is being renewed", f"Load the page again in a moment. ({error})", 503)


def _spoiled(error: duckdb.Error) -> Any:
    return _page_of("The index cannot be read", "Remove the folder office/index and look again: it is made anew from the logs. "
                    f"({str(error).splitlines()[0]})", 500)


def _page_of(heading: str, said: str, code: int) -> Any:
    body = tag("body", tag("main", tag("h1", heading), tag("p", said), tag("p", tag("a", "To the jobs", href="/")),
                           id="content"))
    return whole(f"{heading} – job companion", body), code


def _code(error: CompanionError) -> int:
    return 400 if isinstance(error, BadInput) else 500


_PAGES: dict[str, Callable[..., Any]] = {
    "/": start, "/jobs": jobs, "/job/<log>": job, "/job/<log>/<name>": beside, "/next": next_job,
    "/trends": trends, "/cards": cards, "/office": office, "/help": guide, "/page.css": style}
_FORMS: dict[str, Callable[..., Any]] = {
    "/job/<log>/sign": sign, "/job/<log>/reply": reply, "/job/<log>/hold": hold, "/cards/approve": approve,
    "/cards/withdraw": withdraw, "/look": look}
