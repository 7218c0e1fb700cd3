"""Made jobs: the same from the same seed, whole, and with exactly the findings that their plants declare."""
from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.core.events import ValueLogged
from companion.core.log.chain import Chain, replay
from companion.office.account import Account, account_in
from companion.office.findings import KINDS, findings
from companion.office.findings.office import office_findings
from companion.office.fleet.command import UNPLANTED
from companion.office.fleet.depot import DRIFTING
from companion.office.fleet.editions import LAST_DAY, Edition, cards, edition, register
from companion.office.fleet.making import Made, made, practice_key, worked
from companion.office.fleet.plan import BLOCK, Plan, planned, possible
from companion.office.fleet.plants import PLANTS, Plant
from companion.office.holds import holds_passed
from companion.office.place import Folder
from companion.office.review_log import HoldSignedOff, read_review, review_bytes, reviewed
from companion.office.verify import verify

SEED = 1
EVERY_KIND = (Path(__file__).parent / "cases" / "job" / "every-kind.yaml").read_text(encoding="utf-8")


def first(plant: Plant) -> int:
    """The number of the first job with that plant."""
    return next(number for number in range(1, BLOCK * len(possible()) + 1) if planned(SEED, number).plant == plant)


def good(card: str) -> int:
    """The number of the first job on that card with nothing planted."""
    return next(number for number in range(1, 200)
                if planned(SEED, number).plant is None and planned(SEED, number).edition.card == card)


def written(job: Made, folder: Path) -> Account:
    """The account of a made job, read from the disk."""
    (folder / job.name).write_bytes(job.log)
    (folder / job.name.replace(".jsonl", ".personal")).write_bytes(job.sidecar)
    return account_in(Folder(folder), job.name)


def found_in(account: Account, signed: tuple[str, ...]) -> list[str]:
    """The names of all that is found, by the log's rules and by the office's register."""
    said = [("2027-01-01T00:00:00.000Z", HoldSignedOff(by="A. Example", log=account.name, step=step, reason="Seen."))
            for step in signed]
    office = reviewed(review_bytes([*register(), *said], practice_key(SEED)).splitlines(keepends=True))
    names = {finding.name for finding in findings(account)}
    if account.card and account.opened:
        names |= {finding.name for finding in office_findings(
            account.name, account.card.id, account.card.version, account.opened.card_sha256, account.entries[0].at,
            holds_passed(account), office)}
    return sorted(names)


@pytest.mark.parametrize("card", cards())
def test_the_same_seed_makes_the_same_bytes_whatever_was_made_before(card: str) -> None:
    """A job depends on its seed and its number alone."""
    number = good(card)
    once = made(SEED, number)
    made(SEED, number + 1)
    assert made(SEED, number) == once
    assert made(SEED + 1, number).log != once.log


@pytest.mark.parametrize("card", cards())
def test_a_good_job_has_no_findings(card: str, tmp_path: Path) -> None:
    """With all its slips it holds, comes to its end, and no rule objects."""
    job = made(SEED, good(card))
    account = written(job, tmp_path)
    found = verify(tmp_path / job.name)
    assert found["holds"] and found["finished"] and found["entries"] == job.entries
    assert found_in(account, job.holds) == list(job.findings) == []


@pytest.mark.parametrize("plant", possible(), ids=lambda plant: plant.name)
def test_a_plant_brings_what_it_declares_and_nothing_else(plant: Plant, tmp_path: Path) -> None:
    """Each is made once; the findings are worked out again from the log, and what is not damaged holds."""
    job = made(SEED, first(plant))
    account = written(job, tmp_path)
    assert found_in(account, job.holds) == list(job.findings) == sorted(plant.brings)
    assert verify(tmp_path / job.name)["holds"] == (plant.damage is None)


def test_every_plant_occurs_in_two_hundred_jobs_and_a_quarter_of_the_jobs_has_one() -> None:
    """The turns are fixed, so that the number of each is known beforehand."""
    plants = [planned(SEED, number).plant for number in range(1, 201)]
    assert set(plants) - {None} == set(possible()) and sum(plant is not None for plant in plants) == 200 // BLOCK
    assert {name for plant in PLANTS for name in plant.brings} == set(KINDS) - set(UNPLANTED)
    assert len({plant.name for plant in PLANTS}) == len(PLANTS)


def test_a_card_that_does_not_ship_is_worked_too() -> None:
    """The mechanic goes by what is asked: the tests' card with every kind of step comes to its end."""
    plan = replace(planned(SEED, good("learning")), edition=Edition("every-kind", "1", EVERY_KIND))
    assert worked(plan).job.done


@pytest.mark.parametrize("signed", [True, False])
def test_a_hold_point_is_released_and_signed_off_unless_that_is_the_plant(signed: bool, tmp_path: Path) -> None:
    """The newer version of a card has one before its closing step; somebody else releases it."""
    plan = replace(planned(SEED, good("road-wheels")), edition=edition("road-wheels", LAST_DAY))
    log, sidecar = worked(plan).log()
    account = written(replace(made(SEED, plan.number), log=log, sidecar=sidecar), tmp_path)
    assert tuple(holds_passed(account)) == ("release",)
    assert ("hold-unsigned" in found_in(account, ("release",) if signed else ())) is not signed


def comebacks() -> list[tuple[Plan, Plan]]:
    """Each comeback among four hundred jobs, with the job before it."""
    plans = [planned(SEED, number) for number in range(1, 401)]
    return [(plans[plan.comeback_of - 1], plan) for plan in plans if plan.comeback_of]


def test_a_comeback_is_the_same_cylinder_of_the_same_van_within_weeks() -> None:
    """Later than the job before, within thirty days, on the same card."""
    assert len(comebacks()) >= 10
    for before, again in comebacks():
        assert (again.vehicle, again.cylinder) == (before.vehicle, before.cylinder)
        assert again.edition.card == before.edition.card
        assert 0 < (again.day - before.day).days <= 30 and again.mileage > before.mileage


def test_one_mechanic_s_wrenches_show_more_as_the_months_go_by() -> None:
    """The mean of the final torque rises from the first jobs of the year to the last, inside the limits."""
    plans = [plan for number in range(1, 600) if (plan := planned(SEED, number)).plant is None
             and plan.fitter.number == DRIFTING and plan.edition.card == "road-wheels"]
    plans.sort(key=lambda plan: plan.day)
    early, late = (_mean(each) for each in (plans[:3], plans[-3:]))
    assert 126.0 - 0.5 < early < late - 0.8 and late < 132


def _mean(plans: list[Plan]) -> float:
    logs = [worked(plan).log()[0].splitlines(keepends=True) for plan in plans]
    events = [entry.event for log in logs for entry in replay(log, {}, Chain())]
    torques = [float(event.value) for event in events if isinstance(event, ValueLogged) and event.name == "nut torque"]
    return sum(torques) / len(torques)


def test_the_command_writes_logs_and_what_is_planted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`companion demo --jobs`: one log and sidecar a job, planted.json for all of them, and the office's log."""
    folder = tmp_path / "year"
    assert main(["demo", "--jobs", "5", "--seed", "3", "--out", str(folder)]) == 0
    planted = json.loads((folder / "planted.json").read_text(encoding="utf-8"))
    assert sorted(planted) == sorted(path.name for path in folder.glob("*.jsonl")) and len(planted) == 5
    assert planted == {job.name: list(job.findings) for job in (made(3, number) for number in range(1, 6))}
    assert all((folder / name).read_bytes() == made(3, number).log for number, name in enumerate(planted, 1))
    assert read_review(folder).broken == 0 and set(read_review(folder).register) == set(cards())
    assert "5 jobs from seed 3" in capsys.readouterr().out
    assert main(["demo", "--jobs", "5", "--out", str(folder)]) == 2
    assert main(["demo", "--jobs", "0", "--out", str(tmp_path / "none")]) == 2
    assert main(["demo", "--seed", "3", "--out", str(tmp_path / "none")]) == 2 and not (tmp_path / "none").exists()


def test_a_folder_that_cannot_be_made_is_said_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """A file in its place, say."""
    (tmp_path / "file").write_text("")
    assert main(["demo", "--jobs", "1", "--out", str(tmp_path / "file")]) == 2
    assert "must be a folder that can be written" in capsys.readouterr().err
