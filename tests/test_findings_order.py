"""The order in which the findings of one job are told: the most severe first, wherever they are shown."""
from __future__ import annotations

from pathlib import Path

from account_maker import made
from companion.core import events as ev
from companion.office.findings import KINDS, PLACES, findings
from companion.office.findings.kinds import SEVERITIES
from companion.office.record.found import found
from companion.office.review.indexing import update
from companion.office.review.query import Index
from companion.office.review.store import Store
from companion.office.review_log import Reviewed
from officemaker import session, write_log
from simulator import at


def test_kinds_are_told_by_severity_then_in_their_own_order() -> None:
    """Every kind has its place; within one severity the list of kinds decides."""
    told = sorted(KINDS, key=PLACES.__getitem__)
    assert set(told) == set(KINDS) == set(PLACES)
    for severity in SEVERITIES:
        assert [name for name in told if KINDS[name].severity == severity] == [
            name for name, kind in KINDS.items() if kind.severity == severity]
    assert [SEVERITIES.index(KINDS[name].severity) for name in told] == sorted(
        SEVERITIES.index(kind.severity) for kind in KINDS.values())


def test_a_job_tells_what_is_serious_before_a_fault_of_an_earlier_kind() -> None:
    """An emergency, of the last kind but two, comes before a value outside; the record tells them in the same order."""
    job = made(at("torque").say("9.1", "the maker allows it", "affirm"))
    job.events.append(ev.EmergencyCalled(step="torque"))
    job.moments.append(job.moments[-1])
    account = job.account()
    names = [one.name for one in findings(account)]
    assert names.index("emergency-called") < names.index("value-outside") < names.index("job-unfinished")
    assert [one["name"] for one in found(account, Reviewed()) if one["name"] in names] == names


def test_the_index_gives_a_jobs_findings_in_that_order(tmp_path: Path) -> None:
    """As stored rows have none; the names of a job stay sorted, as `--json` prints them."""
    write_log(tmp_path, "van", session("injector-wrong-cylinder"))
    update(Store(str(tmp_path)), 1)
    index = Index.open(Store(str(tmp_path)))
    told = [(PLACES[one["name"]], one["lines"]) for one in index.findings_of("van.jsonl")]
    assert len(told) > 1 and told == sorted(told)
    (_, names), = index.names()
    assert names == sorted(names)
