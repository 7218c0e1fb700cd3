"""Trade facts given for tests (common practice, no source): key out 3 minutes before the learning drive, a learning drive of
10 to 20 minutes, an engine run of about 10 s that stores the open-circuit code of the cylinder unplugged."""
from __future__ import annotations

import pytest

from companion.core import events as ev
from simulator import CASES, Simulator

CARD = (CASES / "trade-facts.yaml").read_text(encoding="utf-8")


def test_the_run_after_unplugging_lasts_its_ten_seconds_and_the_code_names_the_cylinder():
    """P0200 + n in decimal: cylinder 4 is P0204 (check-values of SAE J2012 families, python-OBD agrees)."""
    job = Simulator(CARD).wait(9.9)
    assert job.job.at == "proof-run"
    job.wait(0.1)
    assert job.job.at == "induced-code"
    job.say("papa zero two zero four", "no more codes")
    assert job.kinds(ev.CodesLogged)[-1].codes == ("P0204",)


def test_the_key_stays_out_for_three_minutes():
    job = Simulator(CARD).wait(10).say("no codes").wait(179)
    assert job.job.at == "key-wait" and [mark.left_ms for mark in job.kinds(ev.MarkReached)] == [90_000, 60_000, 10_000]
    assert job.wait(1).job.at == "drive"


@pytest.mark.parametrize("said, verdict", [("nine minutes", None), ("ten minutes", "inside"), ("twenty", "inside"),
                                           ("a quarter", None), ("twenty-one minutes", None), ("1200 seconds", "inside")])
def test_a_learning_drive_lasts_ten_to_twenty_minutes(said, verdict):
    job = Simulator(CARD).wait(10).say("no codes").wait(180).say(said)
    assert [fact.verdict for fact in job.kinds(ev.ValueLogged)] == ([verdict] if verdict else [])
