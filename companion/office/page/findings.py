"""What was found in a job, by kind: where the record shows it, the mechanic's replies, the form for one more."""
from __future__ import annotations

from itertools import groupby
from typing import Optional

from companion.office.findings.kinds import KINDS
from companion.office.page.forms import Refused, entry, folded
from companion.office.page.frame import Frame, job_address, moment, weight
from companion.office.page.job import Job, Row, lines_of
from companion.office.record.markup import Markup, join, tag
from companion.office.review_log import Signed

_LINES = 12
"""Lines of a finding that are named."""


def findings(frame: Frame, job: Job, refused: Optional[Refused]) -> Markup:
    """Those of a kind stand together under what the kind means."""
    if not job.findings:
        return tag("section", tag("h2", "What was found"), tag("p", "Nothing that a supervisor should see."))
    kinds = groupby(enumerate(job.findings, 1), key=lambda one: one[1]["name"])
    each = [_kind(frame, job, name, list(some), refused) for name, some in kinds]
    return tag("section", tag("h2", "What was found"), each, frame.instead())


def _kind(frame: Frame, job: Job, name: str, some: list[tuple[int, Row]], refused: Optional[Refused]) -> Markup:
    times = f" ({len(some)} times)" if len(some) > 1 else ""
    each = [tag("li", _finding(frame, job, place, one, refused)) for place, one in some]
    return tag("section", tag("h3", weight(KINDS[name].severity), f" {name}: {KINDS[name].says}{times}"),
               tag("ol", each, class_="findings"))


def _finding(frame: Frame, job: Job, place: int, one: Row, refused: Optional[Refused]) -> Markup:
    name, lines = f"reply-{place}", lines_of(one)
    form = entry(frame, f"{job_address(job.log)}/reply", name, "Write the reply", "text",
                 {"finding": one["name"], "lines": ",".join(map(str, lines))}, refused)
    return join(tag("p", one["said"], _lines(job.log, lines) if lines else ""),
                [_reply(said) for said in frame.sight.reviewed.replies_to(job.log, one["name"], lines, one["mark"])],
                folded(f"Reply to {one['name']}" + (f", line {lines[0]:,}" if lines else ""), form, name, refused)
                if frame.may_write else "")


def _lines(log: str, lines: tuple[int, ...]) -> Markup:
    """Each line as a link to where the record shows it."""
    links = [join(", " if place else "", tag("a", f"{line:,}", href=f"{job_address(log)}/record#line-{line}"))
             for place, line in enumerate(lines[:_LINES])]
    more = f" and {len(lines) - _LINES:,} more" if len(lines) > _LINES else ""
    return tag("span", f" Line{'s' * (len(lines) > 1)} ", links, f"{more}.", class_="quiet")


def _reply(said: Signed) -> Markup:
    return tag("p", tag("q", said.fact.text), by(said), class_="reply")


def by(said: Signed) -> Markup:
    """Who said something, when, and where it stands."""
    unbound = "" if getattr(said.fact, "seal", "") else "; not bound to this very log, since an older program wrote it"
    return tag("span", f" – {said.fact.by}, {moment(said.at)} UTC, line {said.n + 1:,} of the office's log{unbound}",
               class_="quiet")
