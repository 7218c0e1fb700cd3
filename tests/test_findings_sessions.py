"""The golden sessions, judged: exactly which findings each gives, and none where the work was clean."""
from __future__ import annotations

import pytest

from account_maker import calm, made, read, shown, written
from companion.core.events import CautionAcknowledged
from companion.office.findings import KINDS, RULES, findings
from golden import CARD_OF, SESSIONS, worked

EXPECTED = {
    # what was missing was found before the job went on
    "injector-cap-left-in": [],
    "injector-clean": [],
    "injector-code-came-back": ["code-still-there: CodesLogged stored-after",
                                "job-stopped: JobEnded hand-over-unfinished"],
    # the rise was seen, and the whole wait served again
    "injector-pressure-rose": [],
    # measured anew instead of kept
    "injector-too-close": [],
    "injector-union-leak": ["leak-found: RunAnswered leak-run"],
    # another wrench was taken before anything was read on it
    "injector-wrench-out-of-range": [],
    "injector-wrong-cylinder": ["wrong-cylinder: AnswerGiven suspect", "job-stopped: JobEnded hand-over-unfinished"],
    # put right at the second count, and still to be seen
    "injector-wrong-plug": ["wrong-cylinder: AnswerGiven unplugged, AnswerGiven unplugged"],
    "learning": [],
    "learning-voice-set": [],
    "road-wheels": [],
}


def test_every_session_has_its_findings() -> None:
    """No golden session is forgotten here."""
    assert sorted(EXPECTED) == sorted(CARD_OF) == sorted(path.stem for path in SESSIONS.glob("*.txt"))


@pytest.mark.parametrize("name", EXPECTED)
def test_a_session_gives_exactly_these_findings(name: str) -> None:
    """Worked by somebody who hears each caution out; as typed, all cautions are rushed, and nothing else is new."""
    job = made(worked(name))
    assert shown(RULES, calm(job)) == EXPECTED[name]
    rushed = [line for line in shown(RULES, job) if line.startswith("caution-rushed")]
    assert len(rushed) == sum(isinstance(event, CautionAcknowledged) for event in job.events) > 0
    assert [line for line in shown(RULES, job) if line not in rushed] == EXPECTED[name]


def test_a_written_log_gives_the_same_findings_in_the_order_of_their_kinds() -> None:
    """Through bytes, chain and codec; the seals between the lines are counted, too."""
    account = read(*written(made(worked("injector-code-came-back"))))
    found = findings(account)
    assert [one.name for one in found if one.name != "caution-rushed"] == ["code-still-there", "job-stopped"]
    places = list(KINDS)
    assert list(found) == sorted(found, key=lambda one: (places.index(one.name), one.lines))
    assert all(one.said.endswith(".") and one.severity for one in found)
    stopped = found[-1].lines[0]
    assert type(account.entries[stopped - 1].event).__name__ == "JobEnded"
