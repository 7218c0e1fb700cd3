"""Damaged logs as a supervisor sees them: what is wrong with the file, and nothing that may just be cut off."""
from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from hashlib import sha256

import pytest

from account_maker import calm, made, read, written
from companion.core import events as ev
from companion.core.job.inputs import MemoTaken
from companion.office.findings import findings
from companion.office.findings.log import unreadable
from golden import worked
from logmaker import OTHER_KEY, objects, rewritten
from simulator import Simulator, at

ENDS = {"job-unfinished", "job-stopped", "codes-missing"}
"""What a log that is not whole cannot show."""


@lru_cache(maxsize=None)
def whole() -> tuple[bytes, bytes]:
    """A finished log without findings, and its sidecar."""
    return written(calm(made(worked("road-wheels"))))


def lines(log: bytes | None = None) -> list[bytes]:
    return (whole()[0] if log is None else log).splitlines(keepends=True)


def changed(line: int, old: bytes, new: bytes) -> bytes:
    """The log with other bytes on that line, from 1."""
    kept = lines()
    assert old in kept[line - 1]
    kept[line - 1] = kept[line - 1].replace(old, new, 1)
    return b"".join(kept)


def sealed_by_another() -> bytes:
    """Written anew, chain and all, and sealed with another device's key."""
    return b"".join(rewritten(objects(lines()), OTHER_KEY))


def with_event(name: str) -> bytes:
    """The last line before the end is an event that this program does not know."""
    kept = objects(lines())[:20]
    return b"".join(rewritten([*kept, {**kept[-1], "n": 20, "event": name, "data": {}}]))


def with_card(text: str) -> bytes:
    """A log of a card that cannot be read."""
    job = at("torque").say("9.1", "the maker allows it", "affirm")
    job.events[0] = replace(job.events[0], card_text=text, card_sha256=sha256(text.encode()).hexdigest())
    return written(made(job))[0]


def _seal(which: int) -> int:
    """The line of a seal, from 1."""
    return [n for n, line in enumerate(objects(lines()), 1) if line["event"] == "sealed"][which]


CASES = [
    ("as it was written", lambda: whole()[0], []),
    ("a byte of a line", lambda: changed(30, b'"at":"2', b'"at":"3'), [("chain-broken", (30,))]),
    ("a line dropped", lambda: b"".join(lines()[:30] + lines()[31:]), [("chain-broken", (31,))]),
    ("a line put in twice", lambda: b"".join(lines()[:30] + lines()[29:]), [("chain-broken", (31,))]),
    ("two lines exchanged", lambda: b"".join(lines()[:30] + [lines()[31], lines()[30]] + lines()[32:]),
     [("chain-broken", (31,))]),
    ("something after the end", lambda: whole()[0] + lines()[-1], [("chain-broken", (len(lines()) + 1,))]),
    ("sealed by another device", sealed_by_another, [("seal-broken", (_seal(0),))]),
    ("its last line torn", lambda: whole()[0][:-30], [("log-torn", (len(lines()),))]),
    ("its first line torn", lambda: lines()[0][:90], [("log-unreadable", ())]),
    ("cut between lines", lambda: b"".join(lines()[:40]), [("job-unfinished", (40,))]),
    ("cut before the closing seal", lambda: b"".join(lines()[:-1]), [("job-unfinished", (len(lines()) - 1,))]),
    ("empty", lambda: b"", [("log-unreadable", ())]),
    ("no log at all", lambda: b"\x89PNG\r\n\x1a\n" * 9, [("log-unreadable", ())]),
    ("another kind of text", lambda: b'{"a":1}\n', [("log-unreadable", ())]),
    ("an event that is not known here", lambda: with_event("wheel_turned"), [("log-unreadable", (21,))]),
    ("a known event without its fields", lambda: with_event("value_logged"), [("log-unreadable", (21,))]),
    ("a card that cannot be read", lambda: with_card("card: 2"), [("log-unreadable", (1,)), ("value-outside", None),
                                                                  ("job-unfinished", None)]),
]


@pytest.mark.parametrize("what, log, found", CASES, ids=[case[0] for case in CASES])
def test_damage_is_found_and_named(what, log, found) -> None:
    """The kind of damage and the line; no end is missed in a log that is not whole."""
    account = read(log(), whole()[1])
    named = [(one.name, one.lines) for one in findings(account)]
    assert [name for name, _ in named] == [name for name, _ in found]
    assert all(line in (None, has) for (_, line), (_, has) in zip(found, named)), named


def test_what_holds_before_the_damage_is_still_judged() -> None:
    """A value outside, on a line before the one that was changed."""
    kept = written(made(at("torque").say("9.1", "the maker allows it", "affirm", "cylinder two",
                                         "three")))[0].splitlines(True)
    assert [one.name for one in findings(read(b"".join(kept)))] == ["value-outside", "job-unfinished"]
    kept[-3] = kept[-3].replace(b'"at":"2', b'"at":"3', 1)
    assert [one.name for one in findings(read(b"".join(kept)))] == ["chain-broken", "value-outside"]


def test_the_sidecar_and_the_memos_belong_to_it() -> None:
    """A changed text beside the log, a changed memo; one that is missing may be erased."""
    sound = b"RIFF, and so on"
    job = at("fitted", ear="embedded").say("memo")
    job.take(MemoTaken(memo=1, file="made.memo-1.wav", sha256="0" * 64, ms=900))
    log, beside = written(made(job))
    assert [one.name for one in findings(read(log, beside))] == ["job-unfinished"]
    found = findings(read(log, beside, **{"made.memo-1.wav": sound}))
    memo = next(n for n, line in enumerate(objects(log.splitlines(True)), 1) if line["event"] == "memo_kept")
    assert [(one.name, one.lines) for one in found] == [("chain-broken", (memo,))]
    assert "made.memo-1.wav" in found[0].said
    text = json.loads(beside.splitlines()[0])["text"]
    found = findings(read(log, beside.replace(text.encode(), text[::-1].encode(), 1)))
    assert [(one.name, one.lines) for one in found] == [("chain-broken", ())]
    assert text not in found[0].said and text[::-1] not in found[0].said


def test_a_file_that_cannot_be_read_has_its_finding() -> None:
    """For the many-jobs path, which catches what the disk says."""
    assert unreadable("permission denied").said == "The log cannot be read: permission denied."
    assert unreadable("x").severity == "serious"


def test_the_sentences_say_what_must_hold() -> None:
    """Plain words first; as `verify` says it at the end."""
    torn = findings(read(whole()[0][:-30], whole()[1]))[0].said
    assert torn.startswith(f"The log breaks off in the middle of line {len(lines())}; whatever came after is not there")
    assert "For the technician: Unfinished: " in torn
    seal = findings(read(sealed_by_another(), whole()[1]))[0].said
    assert seal.startswith(f"The seal on line {_seal(0)} does not hold: ") and "The seal must hold" in seal
    chain = findings(read(changed(30, b'"at":"2', b'"at":"3'), whole()[1]))[0].said
    assert chain.startswith("Line 30 is not as it was written: ") and "when line 31 was written" in chain


@lru_cache(maxsize=None)
def small() -> bytes:
    """A short finished job."""
    return written(made(worked("learning")))[0]


def test_no_cut_breaks_a_rule_or_calls_a_damaged_log_unfinished() -> None:
    """A log cut after any byte of its last lines, and every 97th before; and with any one of these bytes changed."""
    log = small()
    places = sorted({*range(0, len(log), 97), *range(len(log) - 200, len(log))})
    for place in places:
        for damaged in (log[:place], log[:place] + bytes([log[place] ^ 1]) + log[place + 1:]):
            names = {one.name for one in findings(read(damaged))}
            broken = names & {"chain-broken", "seal-broken", "log-torn", "log-unreadable"}
            assert not (broken and names & ENDS), (place, names)
            assert broken or damaged.endswith(b"\n"), (place, names)


def test_every_whole_number_of_lines_is_a_log_that_is_just_unfinished() -> None:
    """Cut between lines nothing is broken, and only the end is missing."""
    log = lines(small())
    for count in range(1, len(log)):
        names = {one.name for one in findings(read(b"".join(log[:count])))}
        assert "job-unfinished" in names and not names & {"chain-broken", "seal-broken", "log-torn"}, count


def test_a_simulated_job_is_read_as_it_was_made() -> None:
    """The maker of these logs writes what `verify` calls whole."""
    account = read(*whole())
    assert account.found["holds"] and account.found["finished"] and not account.unread
    assert isinstance(Simulator().events[0], ev.JobOpened)
