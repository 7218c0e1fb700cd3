"""From a form to a fact of the office's log: what it is about must be there, and be as the reader saw it."""
from __future__ import annotations

from typing import Mapping

from companion.errors import BadInput
from companion.office.page.job import Job
from companion.office.review_log import (
    CardApproved, CardWithdrawn, FindingAnswered, HoldSignedOff, JobSignedOff, tidy)

Typed = Mapping[str, str]


def sign_off(job: Job, typed: Typed) -> JobSignedOff:
    """The sign-off of a job. Raises BadInput."""
    if not job.may_be_signed or job.seal is None:
        raise BadInput(job.log, "must hold to be signed off")
    if job.changed:  # what was found in it is not what would be found now
        raise BadInput(job.log, "has changed since the folder was looked at",
                       do="Look again, read what is new, then sign it off")
    if typed.get("seal", "") != job.seal:
        raise BadInput(job.log, "has changed while you were reading it", do="Read what is new, then sign it off")
    return JobSignedOff(by=_said(typed, "by"), log=job.log, seal=job.seal, reason=_said(typed, "reason"))


def reply(job: Job, typed: Typed) -> FindingAnswered:
    """The mechanic's reply to a finding of a job. Raises BadInput."""
    name, lines = typed.get("finding", ""), _lines(typed.get("lines", ""))
    found = job.finding(name, lines)
    if found is None:
        raise BadInput(job.log, "has no such finding any more", do="Look at what was found, and reply to that")
    return FindingAnswered(by=_said(typed, "by"), log=job.log, finding=name, lines=lines, text=_said(typed, "text"),
                           seal=found["mark"])


def hold(job: Job, typed: Typed) -> HoldSignedOff:
    """The office's sign-off of a hold point that was passed. Raises BadInput."""
    step = typed.get("step", "")
    if step not in job.passed_holds:
        raise BadInput(job.log, "has not passed that hold point")
    return HoldSignedOff(by=_said(typed, "by"), log=job.log, step=step, reason=_said(typed, "reason"),
                         seal=job.passed_holds[step])


def approve(typed: Typed) -> CardApproved:
    """The approval of one text of a card. Raises BadInput."""
    return CardApproved(**_of_card(typed))


def withdraw(typed: Typed) -> CardWithdrawn:
    """The withdrawal of one text of a card. Raises BadInput."""
    return CardWithdrawn(**_of_card(typed))


def _of_card(typed: Typed) -> dict[str, str]:
    return {"by": _said(typed, "by"), "card": typed.get("card", ""), "version": typed.get("version", ""),
            "sha256": typed.get("sha256", ""), "reason": _said(typed, "reason")}


def _said(typed: Typed, name: str) -> str:
    return tidy(typed.get(name, ""))


def _lines(text: str) -> tuple[int, ...]:
    """Line numbers from a form's field; () where they are none that can be."""
    given = text.split(",")[:20_000] if text else []
    return tuple(int(one) for one in given if one.isascii() and one.isdecimal() and len(one) < 16)
