"""The findings of register and hold points over an index: those of each job alone, laid anew when the office's log
grows."""
from __future__ import annotations

import pytest

from companion.office.findings.kinds import PLACES
from companion.office.findings.office import office_findings
from companion.office.review.overlay import OFFICE_KINDS, apply_register
from companion.office.review_log import CardMark, HoldSignedOff, Reviewed, Signed
from companion.office.trusted import Trusted, TrustedKey
from made_index import CARD_SHA256, many_jobs

JOBS = 2000


def mark(day: str, approved: bool, version: str = "1", sha256: str = CARD_SHA256) -> CardMark:
    """A mark of the register at noon of a day of 2026."""
    return CardMark(f"2026-{day}T12:00:00.000Z", approved, version, sha256, "An Example", "invented")


REGISTERS = {
    "none": {},
    "approved, then withdrawn": {"card-1": (mark("01-03", True), mark("01-20", False))},
    "another text, and a newer version": {
        "card-2": (mark("01-03", True, sha256="cd" * 32),), "card-3": (mark("01-01", True),
                                                                       mark("01-05", True, "2", "ef" * 32))}}


@pytest.mark.parametrize("name", REGISTERS)
def test_every_job_gets_what_it_gets_alone(name):
    """The index answers for all jobs at once, with the same findings, lines and words as the rules give for each
    job."""
    index = many_jobs(JOBS)
    index.db.execute("UPDATE facts SET passed_holds = ['release'], hold_marks = ['ab'] WHERE log < 'job-000003'")
    signed = Signed(0, "2026-02-01T00:00:00.000Z", HoldSignedOff(by="B", log="job-000001.jsonl", step="release",
                                                                 reason="seen"), "00" * 32)
    index.db.execute("UPDATE facts SET key = CASE WHEN log < 'job-000004' THEN 'cc' ELSE 'dd' END WHERE log < 'job-001900'")
    trusted = Trusted((TrustedKey("dd", "van one", "2026-01-02", "2026-01-09"),)) if name != "none" else None
    reviewed = Reviewed(register=REGISTERS[name], holds={("job-000001.jsonl", "release"): (signed,)}, trusted=trusted)
    apply_register(index, reviewed)
    for job in index.jobs(limit=JOBS):
        alone = office_findings(job["log"], job["card"], job["card_version"], job["card_sha256"], job["began"],
                                dict(zip(job["passed_holds"], job["hold_marks"])), reviewed, job["key"], job["ended"])
        if alone or set(job["findings"]) & set(OFFICE_KINDS):
            laid = [one for one in index.findings_of(job["log"]) if one["name"] in OFFICE_KINDS]
            assert [(one["name"], tuple(one["lines"]), one["said"], one["severity"]) for one in laid] == \
                   [(one.name, one.lines, one.said, one.severity) for one in sorted(alone, key=lambda one: PLACES[one.name])]
            assert {one.name for one in alone} == set(job["findings"]) & set(OFFICE_KINDS)
    assert index.rows("SELECT count(*) AS n FROM findings WHERE name = 'hold-unsigned'")[0]["n"] == 2
    laid = index.rows("SELECT name, count(*) AS n FROM findings WHERE starts_with(name, 'key-') GROUP BY name ORDER BY name")
    assert [(one["name"], one["n"]) for one in laid] == ([] if name == "none" else [
        ("key-revoked", 1900 - 576), ("key-revoked-later", 504), ("key-unknown", 72)]), "72 jobs a day"


def test_what_the_register_no_longer_says_is_gone():
    """Laid twice, it is there once; with an empty log of the office the index is as it was read."""
    index = many_jobs(JOBS)
    before = index.jobs(limit=JOBS)
    for _ in range(2):
        apply_register(index, Reviewed(register=REGISTERS["approved, then withdrawn"]))
    days = [job["began"] for job in index.jobs(limit=JOBS) if "card-withdrawn" in job["findings"]]
    assert len(days) == len(set(days)) and min(days) == "2026-01-20T12:40:00.000Z", "the first after noon"
    apply_register(index, Reviewed())
    assert index.jobs(limit=JOBS) == before
