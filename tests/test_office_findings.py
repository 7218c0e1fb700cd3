"""Findings that need the office's register: how the card stood when a job began, and hold points without a sign-off."""
from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.office.findings.office import card_findings, hold_findings, key_findings, office_findings
from companion.office.review_log import CardApproved, CardWithdrawn, HoldSignedOff, review_bytes, reviewed
from companion.office.trusted import Trusted, TrustedKey

KEY = Ed25519PrivateKey.from_private_bytes(bytes(32))
A, B, C = "a" * 64, "b" * 64, "c" * 64


def at(hour: int) -> str:
    """A time on an invented day."""
    return f"2026-02-03T{hour:02}:00:00.000Z"


def said(text: str):
    """Approvals and withdrawals, as "8 approve 1 a" (hour, what, version, text)."""
    facts = []
    for part in filter(None, text.split("; ")):
        hour, what, version, letter = part.split()
        kind = {"approve": CardApproved, "withdraw": CardWithdrawn}[what]
        fact = kind(by="R. Example", card="wheels", version=version, sha256=letter * 64, reason="new data")
        facts.append((at(int(hour)), fact))
    return reviewed(review_bytes(facts, KEY).splitlines(keepends=True))


CASES = [
    # what the office said, the job's version, text and hour, what is found
    ("", "1", A, 9, []),
    ("8 approve 1 a", "1", A, 9, []),
    ("8 approve 1 a", "1", A, 8, []),  # approved at that very moment
    ("8 approve 1 a", "1", A, 7, ["card-unapproved"]),
    ("8 approve 1 a", "2", B, 9, ["card-unapproved"]),
    ("8 approve 1 a", "1", B, 9, ["card-changed"]),
    ("8 approve 1 a", "1", B, 7, ["card-unapproved"]),  # nothing of that version stood there yet
    ("8 approve 1 a; 9 withdraw 1 a", "1", A, 10, ["card-withdrawn"]),
    ("8 approve 1 a; 9 withdraw 1 a", "1", A, 9, ["card-withdrawn"]),
    ("8 approve 1 a; 10 withdraw 1 a", "1", A, 9, []),  # what was right then stays right
    ("8 approve 1 a; 9 withdraw 1 a; 10 approve 1 a", "1", A, 11, []),
    ("8 approve 1 a; 9 withdraw 1 a", "1", B, 10, ["card-changed"]),
    ("8 withdraw 1 a", "1", A, 9, ["card-withdrawn"]),
    ("8 withdraw 1 a", "1", B, 9, ["card-unapproved"]),
    ("8 approve 1 a; 9 withdraw 1 b", "1", B, 10, ["card-changed", "card-withdrawn"]),  # two different things
    ("8 approve 1 a; 9 approve 2 b", "1", A, 10, ["card-out-of-date"]),
    ("8 approve 1 a; 9 approve 2 b", "2", B, 10, []),
    ("8 approve 1 a; 10 approve 2 b", "1", A, 9, []),
    ("8 approve 1 a; 9 approve 2 b; 10 withdraw 2 b", "1", A, 11, []),  # the newer one had been withdrawn
    ("8 approve 1 a; 9 approve 2 b; 11 withdraw 2 b", "1", A, 10, ["card-out-of-date"]),
    ("8 approve 1 a; 9 approve 2 b; 10 withdraw 1 a", "1", A, 11, ["card-withdrawn"]),
    ("8 approve 2 b; 9 approve 1 a", "1", A, 10, []),  # approved later, whatever its number
    ("8 approve 1 a; 9 approve 2 b", "1", C, 10, ["card-changed"]),
    ("8 approve 1 a; 9 withdraw 1 a; 10 approve 1 b", "1", A, 11, ["card-withdrawn"]),
    ("8 approve 1 a; 9 withdraw 1 a; 10 approve 1 b", "1", B, 11, []),
]


@pytest.mark.parametrize("office, version, sha256, hour, found", CASES)
def test_a_card_is_judged_as_it_stood_when_the_job_began(office, version, sha256, hour, found):
    """The register's times decide."""
    marks = said(office)
    made = list(card_findings("wheels", version, sha256, at(hour), marks))
    assert [finding.name for finding in made] == found and all(finding.lines == (1,) for finding in made)
    assert all(finding.said.startswith("The ") and finding.said.endswith((".", "new data")) for finding in made)


@pytest.mark.parametrize("office, card, sha256, found", [
    ("", "brakes", B, []),  # an office that keeps no register is not told about every job
    ("8 approve 1 a", "brakes", B, ["card-unapproved"]), ("8 approve 1 a", "brakes", A, ["card-unapproved"]),
    ("8 withdraw 1 a", "brakes", B, ["card-unapproved"]), ("8 approve 1 a", "brakes", "", []),
])
def test_a_card_under_a_new_name_does_not_escape_the_register(office, card, sha256, found):
    """Once the office keeps a register, a card that it does not know was never approved: not even one that is a copy
    under another id."""
    assert [finding.name for finding in card_findings(card, "1", sha256, at(9), said(office))] == found


@pytest.mark.parametrize("office, sha256, words", [
    ("8 approve 1 a", B, "The text of the card wheels, version 1, is not the one that was approved: its SHA-256 begins "
     "bbbbbbbb, not aaaaaaaa."),
    ("8 withdraw 1 a", A, "The card wheels, version 1, had been withdrawn on 2026-02-03 by R. Example: new data"),
    ("8 approve 1 a; 9 approve 7 b", A,
     "The card wheels, version 1, was not the newest: version 7 had been approved on 2026-02-03."),
    ("8 approve 2 b", A, "The card wheels, version 1, had not been approved when the job began."),
])
def test_a_finding_says_in_a_sentence_what_the_register_shows(office, sha256, words):
    """With the figures, so that nobody has to look them up."""
    finding, = card_findings("wheels", "1", sha256, at(10), said(office))
    assert finding.said == words


@pytest.mark.parametrize("passed, signed, found", [
    ({}, "", 0), ({"release": A}, "", 1), ({"release": A}, f"van release {A}", 0), ({"release": A}, f"bus release {A}", 1),
    ({"release": A, "hand-over": B}, f"van hand-over {B}", 1),
    ({"release": A}, f"van release {B}", 1),  # another release, or another log of that name
    ({"release": A}, f"van release {B}; van release {A}", 0),
    ({"release": A}, "van release ", 0),  # written by an older program, and bound to the name alone
    ({"release": ""}, f"van release {A}", 1),  # a line whose hash nobody knows is not the one that was signed
])
def test_a_passed_hold_point_stands_unsigned_until_the_office_signs_that_one(passed, signed, found):
    """A sign-off counts for one release of one hold point of one log."""
    facts = []
    for part in filter(None, signed.split("; ")):
        log, step, seal = part.split(" ")
        facts.append((at(8), HoldSignedOff(by="R. Example", log=f"{log}.jsonl", step=step, reason="seen", seal=seal)))
    office = reviewed(review_bytes(facts, KEY).splitlines(keepends=True))
    made = list(hold_findings("van.jsonl", passed, office))
    assert [finding.name for finding in made] == ["hold-unsigned"] * found
    assert all('"release"' in finding.said and finding.severity == "fault" for finding in made)
    assert all(finding.said.endswith("another log of this name.") == ("van release" in signed) for finding in made)


def test_all_of_a_jobs_office_findings_come_from_the_log_of_the_office():
    """Card first, then hold points, read from real lines; signing the hold off takes its finding away."""
    facts = [(at(8), CardApproved(by="R. Example", card="wheels", version="2", sha256=B, reason="new data"))]
    job = ("van.jsonl", "wheels", "1", A, at(9), {"release": C})

    def names() -> list[str]:
        found = reviewed(review_bytes(facts, KEY).splitlines(keepends=True))
        return [finding.name for finding in office_findings(*job, found)]
    assert names() == ["card-unapproved", "hold-unsigned"]
    facts.append((at(10), HoldSignedOff(by="R. Example", log="van.jsonl", step="release", reason="seen", seal=C)))
    assert names() == ["card-unapproved"]


VAN = TrustedKey(A, "van one", "2026-01-05")
GONE = TrustedKey(B, "van two", "2026-01-05", "2026-02-03", "the van was broken into")


@pytest.mark.parametrize("key, day, found, words", [
    (A, "2026-02-03", [], ""),
    (A, "2026-01-04", ["key-unknown"], "is van one's, but it counts only from 2026-01-05, and this was begun on 2026-01-04."),
    (B, "2026-02-03", ["key-revoked"], "van two's, but revoked since 2026-02-03 (the van was broken into)"),
    (B, "2026-02-02", ["key-revoked-later"], "only a receipt or a closing seal held elsewhere since before that day proves"),
    (C, "2026-02-03", ["key-unknown"], "The key that sealed this log is not on the list of trusted keys"),
    ("", "2026-02-03", [], ""),  # a file that cannot be read is found as such
])
def test_a_log_s_key_is_judged_by_the_office_s_list(key, day, found, words):
    """Unknown, not yet, revoked, revoked later; and nothing at all where the office keeps no list."""
    made = list(key_findings(key, f"{day}T08:00:00.000Z", f"{day}T09:00:00.000Z", Trusted((VAN, GONE))))
    assert [one.name for one in made] == found and all(words in one.said and one.lines == (1,) for one in made)
    assert not list(key_findings(key, day, day, None))
