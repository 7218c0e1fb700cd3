"""A job's page: what was found in it with the mechanic's replies, its hold points, its sign-off, and what it was."""
from __future__ import annotations

from typing import Optional
from urllib.parse import urlencode

from companion.core.log.codec import ERASED
from companion.office.page.findings import findings
from companion.office.page.forms import Refused, written
from companion.office.page.frame import Frame, count, facts, job_address, job_name, link, moment, practice, weight
from companion.office.page.job import Job
from companion.office.page.papers import PAPERS
from companion.office.page.signing import holds, sign_off
from companion.office.record.markup import Markup, join, tag
from companion.office.review.aside import GONE
from companion.office.review_log import PersonalErased, Signed

_NO_END = "not finished, as far as the log goes"


def job_page(frame: Frame, job: Job, refused: Optional[Refused] = None, said: Optional[Signed] = None,
             again: bool = False) -> str:
    """The page; `refused`: a form that was just refused; `said`: the line of the office's log that was just written, or
    had been written before in the same words (`again`)."""
    note = join(refused.alert() if refused else "", written(said, again) if said else "", _ways(frame, job))
    return frame.page(
        job_name(job.log), _state(frame, job), findings(frame, job, refused), holds(frame, job, refused),
        sign_off(frame, job, refused), _facts(frame, job), above=note,
        stamp="PRACTICE – invented figures" if job.row["practice"] else "")


def _ways(frame: Frame, job: Job) -> Markup:
    """Back to the list as it was, and on to the next job."""
    after = urlencode({"after": job.log, **({"from": frame.back} if frame.back else {})})
    return tag("p", link("Back to the list", frame.back or "/jobs", "b"), " ",
               link("Next job to be signed off", f"/next?{after}", "n"), class_="paging")


def _state(frame: Frame, job: Job) -> Markup:
    row = job.row
    course = "stopped before its end" if row["stopped"] else "finished" if row["finished"] else _NO_END
    worked = f"{row['title']}, {course}." if row["title"] else f"The job card cannot be read. The job was {course}."
    known = [f"Mechanic {_mechanic(frame, job)}"] if row["mechanic"] else []
    known += [f"vehicle {row['vehicle']}"] if row["vehicle"] else []
    known += [f"begun on {_when(row['began'])}"] if row["began"] else []
    said = [tag("p", weight(row["worst"]), " ", f"{count(len(job.findings), 'finding')}. {worked}"),
            tag("p", ", ".join(known), class_="quiet")]
    if job.account:
        said.append(tag("p", [join(link(words, f"{job_address(job.log)}/{name}", "r" if name == "record" else ""), " ")
                              for name, (words, _) in PAPERS.items()], class_="papers"))
    if job.account is None:
        why = "It is gone. Restore it, or say why it is gone." if row["aside"] == GONE else \
            f"The log cannot be read now. {row['fault']}"
        said.append(tag("p", why, class_="alarm"))
    elif job.changed:
        said.append(tag("p", "The log has changed since the folder was looked at: look again.", class_="alarm"))
    return join(said)


def _mechanic(frame: Frame, job: Job) -> str:
    """What the log tells. Whether a name that is not beside it was erased, only the office's log can say."""
    reviewed = frame.sight.reviewed
    erased = any(isinstance(entry.fact, PersonalErased) and entry.fact.log == job.log and "mechanic (" in entry.fact.what
                 for entry in reviewed.entries if entry.n not in reviewed.uncounted)
    return job.row["mechanic"] if erased or job.row["mechanic"] != ERASED else "(not here, or erased)"


def _facts(frame: Frame, job: Job) -> Markup:
    row = job.row
    text = f", version {row['card_version']}, SHA-256 {row['card_sha256'][:16]}…" if row["card_sha256"] else ""
    card = f"{row['card']}{text}"
    return tag("section", tag("h2", "This job"), facts("This job", {
        "Log": row["log"], "Begun": _when(row["began"]), "Ended": _when(row["ended"]),
        "Worked": f"{row['worked_ms'] // 60000:,} min",
        "Away": f"{row['away_ms'] // 60000:,} min" if row["away_ms"] else "",
        "Mechanic": _mechanic(frame, job), "Vehicle": row["vehicle"], "Complaint": row["complaint"],
        "Cylinder": row["cylinder"], "New part": row["part"],
        "Card": join(card, " ", practice()) if row["practice"] else card,
        "Clock": "simulated" if row["simulated"] else "", "Closing seal": job.account.closing_seal if job.account else "",
        "Key of the device": row["key"]}))


def _when(at: str) -> str:
    return f"{moment(at)} UTC" if at else ""
