"""A job's page: what was found in it with the mechanic's replies, its hold points, its sign-off, and what it was."""
from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Any, Optional

from companion.errors import BadInput
from companion.office.account import Account, read_account
from companion.office.findings.kinds import KINDS
from companion.office.holds import holds_in, holds_passed
from companion.office.page.desk import Desk, Sight
from companion.office.page.forms import Refused, entry
from companion.office.page.frame import Frame, count, facts, job_address, link, moment, practice, weight
from companion.office.page.marks import seal_of
from companion.office.record.markup import Markup, join, tag
from companion.office.review_log import Signed

Row = dict[str, Any]
DAMAGED = {"log-unreadable", "chain-broken", "seal-broken"}
"""A log with one of these is not what was written, so that a signature would vouch for nothing."""
PAPERS = {"record": "The whole record", "customer": "The customer's sheet", "claim": "The claim sheet"}
"""The papers of a job, by the last part of their address."""
_LINES = 12
"""Lines of a finding that are named."""


@dataclass(frozen=True)
class Job:
    """One job as the index has it, and its log as it is at this moment."""

    row: Row
    findings: tuple[Row, ...]
    account: Optional[Account]
    """None where the log cannot be read now."""
    seal: Optional[str]
    """What a sign-off binds to; None where nothing can be read."""

    @property
    def log(self) -> str:
        """The log's name."""
        return self.row["log"]

    @property
    def changed(self) -> bool:
        """Whether the log is another than the one that was indexed."""
        return self.account is None or (len(self.account.entries), self.account.found["closing_seal"]) != (
            self.row["entries"], self.row["closing_seal"])

    @property
    def may_be_signed(self) -> bool:
        """Whether a sign-off would bind to something."""
        return self.account is not None and self.seal is not None and not DAMAGED & set(self.row["findings"]) and (
            self.account.found["holds"] or "log-torn" in self.row["findings"])

    @property
    def passed_holds(self) -> tuple[str, ...]:
        """The hold points that its log passes at this moment."""
        return holds_passed(self.account) if self.account else ()

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
    seal = seal_of(account.found["closing_seal"], desk.place, log) if account else None
    return Job(row, tuple(sight.index.findings_of(log)), account, seal)


def lines_of(finding: Row) -> tuple[int, ...]:
    """The lines of a finding as the index has it."""
    return tuple(finding["lines"] or ())


def job_page(frame: Frame, job: Job, refused: Optional[Refused] = None, said: Optional[Signed] = None) -> str:
    """The page; `refused`: a form that was just refused; `said`: the line of the office's log that was just written."""
    return frame.page(
        job.log.removesuffix(".jsonl"), _state(frame, job), _findings(frame, job, refused), _holds(frame, job, refused),
        _sign_off(frame, job, refused), _facts(job), above=join(refused.alert() if refused else "", _written(said) if said else ""),
        stamp="PRACTICE – invented figures" if job.row["practice"] else "")


def _written(said: Signed) -> Markup:
    return tag("p", f"Written to the office's log, line {said.n + 1:,}, on {moment(said.at)} UTC. ",
               link("Next job not signed off", "/next", "n"), class_="written", role="status")


def _state(frame: Frame, job: Job) -> Markup:
    row = job.row
    course = "finished" if row["finished"] and not row["stopped"] else "stopped before its end" if row["stopped"] else "without an end"
    said = [tag("p", weight(row["worst"]), " ", f"{count(len(job.findings), 'finding')}. {row['title'] or 'No card that can be read'}, {course}."),
            tag("p", ", ".join(part for part in (
                f"Mechanic {row['mechanic']}" if row["mechanic"] else "", f"vehicle {row['vehicle']}" if row["vehicle"] else "",
                f"begun on {_when(row['began'])}" if row["began"] else "") if part), class_="quiet"),
            tag("p", [join(link(words, f"{job_address(job.log)}/{name}", "r" if name == "record" else ""), " ") for name, words
                      in PAPERS.items()], class_="papers")]
    if job.account is None:
        said.append(tag("p", f"The log cannot be read now. {row['fault']}", class_="alarm"))
    elif job.changed:
        said.append(tag("p", "The log has changed since the folder was looked at. What stands here is older: look again.", class_="alarm"))
    return join(said)


# -- findings ----------------------------------------------------------------------------------------------------------

def _findings(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    """Those of a kind stand together under what the kind means."""
    if not job.findings:
        return tag("section", tag("h2", "What was found"), tag("p", "Nothing that a supervisor should see."))
    kinds = [tag("section", _kind(name, [one for _, one in some]), tag("ol", [
        tag("li", _finding(frame, job, place, one, refused)) for place, one in some], class_="findings"))
        for name, some in ((name, list(some)) for name, some in groupby(enumerate(job.findings, 1), key=lambda one: one[1]["name"]))]
    return tag("section", tag("h2", "What was found"), *kinds)


def _kind(name: str, found: list[Row]) -> Markup:
    says = f": {KINDS[name].says}" if name in KINDS else ""
    return tag("h3", weight(found[0]["severity"]), f" {name}{says}", f" ({len(found)} times)" if len(found) > 1 else "")


def _finding(frame: Frame, job: Job, place: int, one: Row, refused: Optional[Refused]) -> Markup:
    form, lines = f"reply-{place}", lines_of(one)
    reply = entry(frame, f"{job_address(job.log)}/reply", form, "Write the reply", "text",
                  {"finding": one["name"], "lines": ",".join(map(str, lines))}, refused)
    return join(tag("p", one["said"], _lines(job.log, lines) if lines else ""),
                [_reply(said) for said in frame.sight.reviewed.replies_to(job.log, one["name"], lines)],
                tag("details", tag("summary", f"Reply to {one['name']}" + (f", line {lines[0]:,}" if lines else "")), reply,
                    open="open" if refused and refused.form == form else ""))


def _lines(log: str, lines: tuple[int, ...]) -> Markup:
    """Each line as a link to where the record shows it."""
    links = [join(", " if place else "", tag("a", f"{line:,}", href=f"{job_address(log)}/record#line-{line}"))
             for place, line in enumerate(lines[:_LINES])]
    more = f" and {len(lines) - _LINES:,} more" if len(lines) > _LINES else ""
    return tag("span", f" Line{'s' * (len(lines) > 1)} ", links, f"{more}.", class_="quiet")


def _reply(said: Signed) -> Markup:
    return tag("p", tag("q", said.fact.text), _by(said), class_="reply")


def _by(said: Signed) -> Markup:
    return tag("span", f" – {said.fact.by}, {moment(said.at)} UTC, line {said.n + 1:,} of the office's log", class_="quiet")


# -- hold points and sign-off ------------------------------------------------------------------------------------------

def _holds(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    steps = [step for step in job.account.card.steps if step.hold] if job.account and job.account.card else []
    return tag("section", tag("h2", "Hold points"), tag("ol", [
        tag("li", _hold(frame, job, place, step, refused)) for place, step in enumerate(steps, 1)], class_="findings")) if steps else join()


def _hold(frame: Frame, job: Job, place: int, step: Any, refused: Optional[Refused]) -> Markup:
    head = join(tag("h3", step.id), tag("p", step.say))
    signed = frame.sight.reviewed.holds.get((job.log, step.id))
    if signed:
        return join(head, tag("p", f"Signed off: {signed.fact.reason}", _by(signed)))
    passed = next((one for one in holds_in(job.account) if one.step == step.id), None) if job.account else None
    if passed is None:
        return join(head, tag("p", "Not passed in this log: the job waits here for a sign-off, or did not come here."))
    form = f"hold-{place}"
    by = f" by {passed.by}" if passed.by else ""
    return join(head, tag("p", f"Released at the vehicle{by} on {moment(passed.at)} UTC, line {passed.line:,} of the log. "
                               "The office has not signed it off."),
                tag("details", tag("summary", f"Sign off the hold point {step.id}"),
                    entry(frame, f"{job_address(job.log)}/hold", form, "Sign off this hold point", "reason", {"step": step.id}, refused),
                    open="open" if refused and refused.form == form else ""))


def _sign_off(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    said = [tag("p", f"Signed off: {one.fact.reason}", _by(one), "" if one.fact.seal == job.seal else tag(
        "strong", " The log has changed since.")) for one in frame.sight.reviewed.sign_offs.get(job.log, ())]
    return tag("section", tag("h2", "Sign-off"), said or tag("p", "Nobody has signed this job off."), _sign_form(frame, job, refused))


def _sign_form(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    if not job.may_be_signed:
        return tag("p", "This log does not hold, or cannot be read, so that a signature would vouch for nothing. It cannot be signed off.")
    assert job.account and job.seal
    open_ = sum(one["severity"] != "note" and not frame.sight.reviewed.replies_to(job.log, one["name"], lines_of(one))
                for one in job.findings)
    note = [tag("p", f"{count(open_, 'finding')} that {'is' if open_ == 1 else 'are'} serious or a fault, without a reply.", class_="quiet")
            if open_ else "",
            tag("p", f"You sign the log as it is now: {count(len(job.account.entries), 'line')}, ",
                f"closing seal {job.seal}." if job.row["closing_seal"] else f"last line {job.seal[:16]}… (it has no end).", class_="quiet")]
    signed = frame.sight.reviewed.signed_off(job.log, job.seal)
    form = entry(frame, f"{job_address(job.log)}/sign", "sign", "Sign off this job", "reason", {"seal": job.seal}, refused, note)
    if signed and not (refused and refused.form == "sign"):
        return tag("details", tag("summary", "Sign it off once more"), form)
    return form


# -- what it was -------------------------------------------------------------------------------------------------------

def _facts(job: Job) -> Markup:
    row = job.row
    card = f"{row['card']}, version {row['card_version']}, SHA-256 {row['card_sha256'][:16]}…" if row["card_sha256"] else row["card"]
    return tag("section", tag("h2", "This job"), facts("This job", {
        "Log": row["log"], "Begun": _when(row["began"]), "Ended": _when(row["ended"]), "Worked": f"{row['worked_ms'] // 60000:,} min",
        "Away": f"{row['away_ms'] // 60000:,} min" if row["away_ms"] else "", "Mechanic": row["mechanic"], "Vehicle": row["vehicle"],
        "Complaint": row["complaint"], "Cylinder": row["cylinder"], "New part": row["part"],
        "Card": join(card, " ", practice()) if row["practice"] else card,
        "Clock": "simulated" if row["simulated"] else "", "Closing seal": row["closing_seal"], "Key of the device": row["key"]}))


def _when(at: str) -> str:
    return f"{moment(at)} UTC" if at else ""
