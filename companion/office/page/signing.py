"""A job's hold points and its sign-off, with the forms for those that are missing."""
from __future__ import annotations

from typing import Any, Optional

from companion.office.holds import holds_in
from companion.office.page.findings import by
from companion.office.page.forms import Refused, entry, folded
from companion.office.page.frame import Frame, count, job_address, moment
from companion.office.page.job import Job, lines_of
from companion.office.page.marks import seals_of
from companion.office.record.markup import Markup, join, tag


def holds(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    """Every hold point of the card, passed or not."""
    steps = [step for step in job.account.card.steps if step.hold] if job.account and job.account.card else []
    each = [tag("li", _hold(frame, job, place, step, refused)) for place, step in enumerate(steps, 1)]
    return tag("section", tag("h2", "Hold points"), tag("ol", each, class_="findings"), frame.instead()) if each else join()


def _hold(frame: Frame, job: Job, place: int, step: Any, refused: Optional[Refused]) -> Markup:
    head = join(tag("h3", step.id), tag("p", step.say))
    signed = frame.sight.reviewed.hold_signed(job.log, step.id, job.passed_holds.get(step.id, ""))
    if signed:
        return join(head, tag("p", f"Signed off: {signed.fact.reason}", by(signed)))
    passed = next((one for one in holds_in(job.account) if one.step == step.id), None) if job.account else None
    if passed is None:
        return join(head, tag("p", "Not passed in this log: the job waits here for a sign-off, or did not come here."))
    name, who = f"hold-{place}", f" by {passed.by}" if passed.by else ""
    form = entry(frame, f"{job_address(job.log)}/hold", name, "Sign off this hold point", "reason", {"step": step.id},
                 refused)
    return join(head, tag("p", f"Released at the vehicle{who} on {moment(passed.at)} UTC, line {passed.line:,} of the "
                               "log. The office has not signed it off."),
                folded(f"Sign off the hold point {step.id}", form, name, refused) if frame.may_write else "")


def sign_off(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    """Who signed the job off, whether the log is still the same, and the form."""
    changed = tag("strong", " The log has changed since.")
    said = [tag("p", f"Signed off: {one.fact.reason}", by(one), "" if one.fact.seal in seals_of(job.seal or "") else changed)
            for one in frame.sight.reviewed.sign_offs.get(job.log, ())]
    return tag("section", tag("h2", "Sign-off"), said or tag("p", "Nobody has signed this job off."),
               _sign_form(frame, job, refused))


def _sign_form(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    if not job.may_be_signed:
        return tag("p", "This log does not hold, or cannot be read: a signature would vouch for nothing. It cannot be "
                        "signed off.")
    if not frame.may_write:
        return frame.instead()
    form = entry(frame, f"{job_address(job.log)}/sign", "sign", "Sign off this job", "reason", {"seal": job.seal or ""},
                 refused, _what_is_signed(frame, job))
    signed = frame.sight.reviewed.signed_off(job.log, *seals_of(job.seal or ""))
    return folded("Sign it off once more", form, "sign", refused) if signed else form


def _what_is_signed(frame: Frame, job: Job) -> Markup:
    assert job.account and job.seal
    reviewed = frame.sight.reviewed
    open_ = sum(one["severity"] != "note" and not reviewed.replies_to(job.log, one["name"], lines_of(one), one["mark"])
                for one in job.findings)
    serious = f"{count(open_, 'finding')} that {'is' if open_ == 1 else 'are'} serious or a fault, without a reply. "
    seal = job.account.closing_seal
    ends = f"closing seal {seal}" if seal else f"last line {job.seal[:16]}… (it has no end)"
    lines = count(len(job.account.entries), "line")
    return tag("p", serious if open_ else "", f"You sign the log as it is now: {lines}, {ends}.", class_="quiet")
