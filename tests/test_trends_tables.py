"""Stages, rates, figures by part and comebacks, counted by hand on a few made-up jobs."""
from __future__ import annotations

import pytest

from companion.office.record.times import BEFORE
from companion.office.review.query import Filters
from companion.office.trends.comebacks import comeback_rates, comebacks
from companion.office.trends.parts import part_figures
from companion.office.trends.rates import by_group, by_kind
from companion.office.trends.stages import WHOLE, stage_times
from companion.trade.intervals import wilson
from many_jobs import database, job

_MINUTE = 60_000


def _stage(log: str, stage: str, minutes: float, estimate: float | None = None) -> dict:
    return {"log": log, "stage": stage, "worked_ms": round(minutes * _MINUTE),
            "estimate_ms": None if estimate is None else round(estimate * _MINUTE)}


def test_stage_times_against_the_estimate():
    """Median, 90th percentile (interpolated) and the median ratio, in the order of the card, the whole job last."""
    logs = [(f"job-{place}", minutes) for place, minutes in enumerate((8, 10, 12, 14))]
    db = database(jobs=[job(log, day, worked_ms=(minutes + 2) * _MINUTE) for day, (log, minutes) in enumerate(logs)],
                  stages=[row for log, minutes in logs
                          for row in (_stage(log, BEFORE, 0), _stage(log, "refit", minutes, 10),
                                      _stage(log, "drive", 2, 4))])
    refit, drive, whole = stage_times(db)
    assert [refit.stage, drive.stage, whole.stage] == ["refit", "drive", WHOLE]
    assert (refit.jobs, refit.median / _MINUTE, refit.estimate) == (4, 11, 600_000)
    assert refit.ninth / _MINUTE == pytest.approx(13.4)
    assert (refit.ratio, drive.ratio) == (pytest.approx(1.1), pytest.approx(0.5))
    assert (whole.median / _MINUTE, whole.estimate, whole.ratio) == (13, 14 * _MINUTE, pytest.approx(13 / 14))


def test_stages_that_were_broken_off_or_not_reached_do_not_count():
    """Jobs with a proper end, stages with time in them; ratios by each job's own estimate, the newest one shown."""
    db = database(
        jobs=[job("old", 0, worked_ms=1), job("new", 5, worked_ms=1), job("stopped", 6, stopped=True),
              job("open", 7, finished=False)],
        stages=[_stage("old", "refit", 10, 10), _stage("new", "refit", 30, 20), _stage("stopped", "refit", 1, 20),
                _stage("open", "refit", 1, 20), _stage("new", "leak", 0, 5), _stage("new", "extra", 3)])
    refit, extra, whole = stage_times(db)
    assert (refit.jobs, refit.estimate, refit.ratio) == (2, 20 * _MINUTE, pytest.approx(1.25))
    assert (extra.estimate, extra.ratio, whole.estimate, whole.ratio) == (None, None, None, None)
    assert whole.jobs == 2
    assert len({one.card for one in stage_times(db, Filters(card="another card"))}) == 0


def _rated() -> dict:
    """Ten jobs: three have a value outside (one of them twice), one of those was rushed too, one more was stopped."""
    jobs = [job(f"job-{place}", 20 * place, mechanic="A B" if place < 4 else "",
                findings=["value-outside"] * (place < 3)) for place in range(10)]
    return {"jobs": jobs, "findings": [
        *({"log": f"job-{place}", "name": "value-outside"} for place in (0, 0, 1, 2)),
        {"log": "job-2", "name": "caution-rushed", "severity": "serious"}, {"log": "job-9", "name": "job-stopped"}]}


def test_findings_per_hundred_jobs_by_kind():
    """Each job counts once, most frequent first; the interval is Wilson's."""
    rates = by_kind(database(**_rated()))
    assert [(one.name, one.hits, one.jobs) for one in rates] == [
        ("value-outside", 3, 10), ("caution-rushed", 1, 10), ("job-stopped", 1, 10)]
    assert rates[0].hundred == 30 and rates[0].interval == pytest.approx([100 * one for one in wilson(3, 10)])


@pytest.mark.parametrize("group, filters, expected", [
    ("mechanic", Filters(), [("", 1, 6), ("A B", 3, 4)]),
    ("month", Filters(), [("2026-01", 2, 2), ("2026-02", 1, 1), ("2026-03", 0, 2), ("2026-04", 0, 1), ("2026-05", 0, 2),
                          ("2026-06", 1, 2)]),
    ("card", Filters(finding="value-outside"), [("made-up-card", 3, 10)]),
    ("card", Filters(severity="serious"), [("made-up-card", 1, 10)]),
    ("card", Filters(finding="any"), [("made-up-card", 4, 10)]),
    ("card", Filters(mechanic="a b", finding="value-outside"), [("made-up-card", 3, 4)]),
    ("month", Filters(since="2026-06-01"), [("2026-06", 1, 2)])])
def test_findings_per_hundred_jobs_by_group(group: str, filters: Filters, expected: list):
    """A kind or weight in the filters says what is counted, the other filters among which jobs."""
    assert [(one.name, one.hits, one.jobs) for one in by_group(database(**_rated()), group, filters)] == expected


def test_figures_by_part_number():
    """The cylinder worked on apart from the others, the last reading of a step, learning by its stage's time."""
    leak = {"name": "leak-off", "unit": "ml"}
    db = database(
        jobs=[job("a", 0, part="P1", cylinder="cylinder three"), job("b", 1, part="P1", cylinder="cylinder 3"),
              job("c", 2, cylinder=""), job("d", 3, part="P1", stopped=True)],
        values=[{"log": log, "step": f"leak-off {n}", "item": f"cylinder {n}", "value": value, **leak}
                for log, value in (("a", 60), ("b", 70)) for n, value in ((1, 20), (2, 22), (3, value), (4, 24))]
        + [{"log": "a", "step": "coil", "name": "injector resistance", "unit": "Ω", "value": 1.1, "line": 3},
           {"log": "a", "step": "coil", "name": "injector resistance", "unit": "Ω", "value": 1.5, "line": 4},
           {"log": "b", "step": "coil", "name": "rail pressure", "unit": "bar", "value": 3},
           {"log": "c", "step": "leak-off 1", "item": "cylinder 1", "value": 21, **leak}],
        stages=[_stage("a", "learning", 15), _stage("b", "learning", 30), _stage("b", "drive", 30),
                _stage("d", "learning", 1)])
    found = {(one.part, one.name): one for one in part_figures(db)}
    assert set(found) == {("", "leak-off, any cylinder"), ("P1", "leak-off, cylinder worked on"),
                          ("P1", "leak-off, other cylinders"), ("P1", "injector resistance"),
                          ("P1", "time of stage learning")}
    worked, others = found["P1", "leak-off, cylinder worked on"], found["P1", "leak-off, other cylinders"]
    assert (worked.readings, worked.jobs, worked.median, worked.lower, worked.upper) == (2, 2, 65, 62.5, 67.5)
    assert (others.readings, others.jobs, others.median, others.least, others.most) == (6, 2, 22, 20, 24)
    assert found["P1", "injector resistance"].median == 1.5
    assert (found["P1", "time of stage learning"].median, found["P1", "time of stage learning"].unit) == (22.5, "min")


_CHAIN = [job("first", 0, part="P1"), job("second", 60, part="P2"), job("third", 120), job("much later", 400),
          job("other cylinder", 20, cylinder="2"), job("other card", 21, card="other"),
          job("other van", 22, vehicle="VAN2"),
          job("nameless", 23, vehicle=""), job("also nameless", 24, vehicle=""), job("erased", 25, vehicle="(erased)"),
          job("erased too", 26, vehicle="(erased)")]


def test_a_comeback_is_linked_to_the_first_job_of_its_chain():
    """The third came back from the second, and both from the first: the newest first, days from end to beginning."""
    found = comebacks(database(jobs=_CHAIN))
    assert [(one.log, one.before, one.first, one.part) for one in found] == [
        ("third", "second", "first", "P1"), ("second", "first", "first", "P1")]
    assert found[0].days == pytest.approx(60 - 4 / 24)


@pytest.mark.parametrize("earlier, later, days, linked", [
    ({}, {}, 90, True), ({}, {}, 29, False), ({"stopped": True}, {}, 90, False), ({"finished": False}, {}, 90, False),
    ({}, {"stopped": True}, 90, True), ({}, {"finished": False}, 90, True),
    ({"cylinder": "3"}, {"cylinder": "3"}, 90, True), ({"cylinder": "3"}, {"cylinder": "2"}, 90, False),
    ({"cylinder": "3"}, {}, 90, False), ({"cylinder": ""}, {"cylinder": ""}, 90, False),
    ({"cylinder": "", "part": "P1"}, {"cylinder": "", "part": "P1"}, 90, True), ({"vehicle": "van 1"}, {}, 90, True),
    ({"ended": "2026-02-01T00:00:00.000Z"}, {}, 90, False),
    ({"ended": "2026-01-01T08:00:00.000Z"}, {}, 90, True), ({"ended": "torn"}, {}, 90, False)])
def test_what_makes_a_comeback(earlier: dict, later: dict, days: int, linked: bool):
    """The earlier job came to its proper end, soon before the later, on the same vehicle, card and cylinder."""
    db = database(jobs=[job("earlier", 0, **earlier), job("later", 30, **later)])
    assert [one.log for one in comebacks(db, days=days)] == ["later"] * linked


def test_the_first_jobs_filter_chooses_the_comebacks():
    """Filters want first jobs; the jobs that came back lie where they may."""
    db = database(jobs=[job("first", 0, mechanic="A B"), job("again", 30, mechanic="C D")])
    assert [one.log for one in comebacks(db, Filters(mechanic="a b"))] == ["again"]
    assert comebacks(db, Filters(mechanic="c d")) == []


def test_the_rate_is_of_jobs_that_have_had_their_time():
    """Of first, second and third, two came back; jobs of the last 90 days, stopped and unlinked ones do not count."""
    young = [job("young", 380, vehicle="VAN9"), job("young again", 390, vehicle="VAN9"),
             job("cut", 5, vehicle="X", stopped=True)]
    rates = comeback_rates(database(jobs=_CHAIN + young))
    whole, = rates[""]
    assert (whole.hits, whole.jobs) == (2, 6)  # the chain's three, and three that never came back
    assert [(one.name, one.hits, one.jobs) for one in rates["part"]] == [("", 0, 4), ("P1", 1, 1), ("P2", 1, 1)]
    assert [(one.name, one.hits, one.jobs) for one in rates["card"]] == [("made-up-card", 2, 5), ("other", 0, 1)]


def test_a_job_that_came_back_twice_counts_once():
    """The rate is a share of jobs, so it never passes a hundred."""
    db = database(jobs=[job("first", 0), job("again", 10, stopped=True), job("once more", 20, stopped=True),
                        job("now", 300, vehicle="VAN2")])
    whole, = comeback_rates(db)[""]
    assert (whole.hits, whole.jobs) == (1, 1)


def test_a_job_of_no_length_does_not_come_back_from_itself():
    """A simulated job may begin and end in the same moment."""
    db = database(jobs=[job("first", 0, hours=0), job("now", 300, vehicle="VAN2")])
    assert comebacks(db) == [] and [(one.hits, one.jobs) for one in comeback_rates(db)[""]] == [(0, 1)]


def test_without_jobs_there_are_no_trends():
    """Empty tables give empty lists, not faults."""
    db = database()
    assert not any([stage_times(db), by_kind(db), by_group(db, "month"), part_figures(db), comebacks(db)])
    assert not any(comeback_rates(db).values())
