"""The office's own log: what may be said, the bytes, the chain and the signatures, what it adds up to, and the disk."""
from __future__ import annotations

import json
import multiprocessing
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import FIRST, canonical, digest, public_hex, sign
from companion.edge import durable
from companion.edge.durable import DurableFile
from companion.errors import BadEvidence, BadInput, BrokenMachine
from companion.office.review_log import (
    CardApproved, CardWithdrawn, FindingAnswered, HoldSignedOff, JobSignedOff, append, read_review, review_bytes,
    review_path, reviewed, standing, tidy)

KEY, OTHER = (Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32) for number in (1, 2))
A, B = "a" * 64, "b" * 64
SEAL = "ABCD EFGH IJKL"
APPROVED = CardApproved(by="R. Example", card="wheels", version="1", sha256=A, reason="read against the maker's data")
WITHDRAWN = CardWithdrawn(by="R. Example", card="wheels", version="1", sha256=A, reason="the torque was wrong")
SIGNED = JobSignedOff(by="R. Example", log="van-12.jsonl", seal=SEAL, reason="all in order")
HOLD = HoldSignedOff(by="R. Example", log="van-12.jsonl", step="release", reason="seen on the picture")
REPLY = FindingAnswered(by="M. Example", log="van-12.jsonl", finding="value-outside", lines=(7, 9), text="read again")
EVERY = (APPROVED, SIGNED, HOLD, REPLY, WITHDRAWN)


def at(minute: int) -> str:
    """A time of day on an invented day."""
    return f"2026-02-03T08:{minute:02}:00.000Z"


def log(*facts, key=KEY) -> bytes:
    """A log of these facts, one a minute."""
    return review_bytes(((at(minute), fact) for minute, fact in enumerate(facts)), key)


def read(data: bytes):
    """What a log of these bytes says."""
    return reviewed(data.splitlines(keepends=True))


# -- facts -------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("fact, changes, words", [
    (APPROVED, dict(by=""), "by: must be 1 to 200 printable characters on one line, not empty"),
    (APPROVED, dict(by="   "), "by: must be 1 to 200"), (APPROVED, dict(by="x" * 201), "by: must be 1 to 200"),
    (APPROVED, dict(by="two\nlines"), "by: must be 1 to 200"), (APPROVED, dict(by="\ud800"), "by: must be 1 to 200"),
    (APPROVED, dict(by="turned \u202e round"), "by: must be 1 to 200"), (APPROVED, dict(by=None), "by: "),
    (APPROVED, dict(reason="x" * 2001), "reason: must be 1 to 2,000"), (REPLY, dict(text=" "), "text: must be 1"),
    (APPROVED, dict(sha256=A.upper()), "sha256: must be 64 lower-case hex digits"),
    (APPROVED, dict(sha256=A + "\n"), "sha256: "),
    (APPROVED, dict(card=""), "card: "), (APPROVED, dict(version="x" * 201), "version: "),
    (HOLD, dict(step=""), "step: "),
    (SIGNED, dict(log="../van.jsonl"), "log: must be the name of a job log"), (SIGNED, dict(log="van.txt"), "log: "),
    (SIGNED, dict(seal="ABCD EFGH IJK1"), "seal: must be a closing seal"), (SIGNED, dict(seal=""), "seal: "),
    (REPLY, dict(lines=(9, 7)), "lines: must be line numbers from 1, rising"), (REPLY, dict(lines=(0,)), "lines: "),
    (REPLY, dict(lines=(7, 7)), "lines: "), (REPLY, dict(lines=(True,)), "lines: "),
    (REPLY, dict(lines=[7]), "lines: "),
    (REPLY, dict(lines=tuple(range(1, 10_002))), "lines: "),
])
def test_what_cannot_stand_in_the_log_is_refused_by_name(fact, changes, words):
    """Each field has a length, a form and a message of its own."""
    with pytest.raises(BadInput) as raised:
        replace(fact, **changes)
    assert words in str(raised.value)


@pytest.mark.parametrize("fact, changes", [
    (APPROVED, dict(by="Ö" * 200, reason="x" * 2000)), (SIGNED, dict(seal=A)), (REPLY, dict(lines=())),
    (REPLY, dict(lines=tuple(range(1, 10_001)))), (HOLD, dict(step="release.2")),
])
def test_what_lies_just_within_the_bounds_is_kept_as_it_was_typed(fact, changes):
    """The longest fields come back from the bytes unchanged."""
    said = replace(fact, **changes)
    assert [entry.fact for entry in read(log(said)).entries] == [said]


def test_typed_words_become_one_line():
    """What somebody types in a box with line breaks fits the log after `tidy`, and nothing else of it changes."""
    assert tidy("  seen,\r\n and\tright ") == "seen, and right"


# -- bytes -------------------------------------------------------------------------------------------------------------

def test_every_line_is_canonical_chained_and_signed():
    """The bytes are as the module says, worked out here again from the prose: names, chain, signature."""
    data, before = log(*EVERY), FIRST
    for n, piece in enumerate(data.splitlines(keepends=True)):
        line = json.loads(piece)
        unsigned = {name: value for name, value in line.items() if name != "sig"}
        assert sorted(line) == ["at", "by", "data", "event", "key", "n", "prev", "sig"]
        assert (line["n"], line["prev"], line["at"], line["by"]) == (n, before, at(n), EVERY[n].by)
        assert line["key"] == public_hex(KEY) and line["sig"] == KEY.sign(canonical(unsigned)).hex()
        assert piece == canonical(line) + b"\n"
        before = digest(piece)


def test_the_same_facts_times_and_key_give_the_same_bytes():
    """A demo can be made again to the last byte; every kind of fact comes back as it was."""
    assert log(*EVERY) == log(*EVERY)
    found = read(log(*EVERY))
    assert tuple(entry.fact for entry in found.entries) == EVERY and not found.broken and not found.torn


def test_no_bit_of_a_log_is_free():
    """Every bit of every byte, changed, is noticed: in the line that holds it, or it leaves that line unfinished."""
    data = log(APPROVED, HOLD)
    first = data.index(b"\n")
    for place in range(len(data)):
        for bit in range(8):
            spoilt = bytearray(data)
            spoilt[place] ^= 1 << bit
            found = read(bytes(spoilt))
            line = 1 if place <= first else 2
            if place == len(data) - 1:
                assert found.torn or found.broken
            else:
                assert found.broken == line and len(found.entries) == line - 1, (place, bit)


LINES = log(*EVERY).splitlines(keepends=True)


@pytest.mark.parametrize("pieces, line, why", [
    ([LINES[0], *LINES[2:]], 2, "n must be 1, not 2: a line was dropped, repeated, moved or put in"),
    ([LINES[0], LINES[0], *LINES[1:]], 2, "n must be 1"), ([LINES[1], LINES[0]], 1, "n must be 0"),
    ([LINES[0], LINES[2], LINES[1]], 2, "n must be 1"), ([b"\n", *LINES], 1, "must be one line of JSON"),
    ([LINES[0], b"{}\n"], 2, "must have at, by, event, key, prev and sig as text"),
    ([LINES[0], log(SIGNED, SIGNED, key=OTHER).splitlines(keepends=True)[1]], 2, "prev must be the SHA-256"),
])
def test_lines_dropped_moved_or_put_in_are_named(pieces, line, why):
    """The first line that does not hold is named with what must hold; nothing after it counts."""
    found = reviewed(pieces)
    assert (found.broken, len(found.entries)) == (line, line - 1) and why in found.why


def resigned(changes: dict, key=KEY) -> bytes:
    """A first line with something changed in it, and rightly signed for all that."""
    line = {**json.loads(log(HOLD)), **changes}
    del line["sig"]
    return canonical({**line, "sig": sign(line, key)}) + b"\n"


@pytest.mark.parametrize("changes, why", [
    (dict(event="hold_released"), "event must be one this program knows (a newer one may know more), not"),
    (dict(by=""), "by: must be 1 to 200"), (dict(at="2026-02-30T08:00:00.000Z"), "at must be a UTC time"),
    (dict(data={"log": "a.jsonl", "step": "s"}), "data must hold log, reason, seal, step, and no more"),
    (dict(data={"log": "a.jsonl", "step": "s", "reason": "r", "x": "y"}), "data must hold log, reason, seal, step"),
    (dict(data={"log": "a.jsonl", "step": 7, "reason": "r"}), "step: must be 1 to 200"),
    (dict(data={"log": "a.jsonl", "step": {"a": []}, "reason": "r"}), "step: must be 1 to 200"),
    (dict(prev=A), "prev must be 64 zeros in line 1"), (dict(key=public_hex(OTHER)), "sig must be"),
    (dict(key="k"), "key must be lower-case hex"), (dict(n=True), "must have at, by"),
])
def test_a_rightly_signed_line_must_still_make_sense(changes, why):
    """A signature vouches for who wrote a line, not for what it says."""
    found = reviewed([resigned(changes)])
    assert found.broken == 1 and why in found.why


def test_an_unfinished_last_line_is_no_part_of_the_log():
    """It was never acknowledged; what stands before it counts."""
    found = read(log(APPROVED, HOLD)[:-1])
    assert (len(found.entries), found.broken, found.torn > 0) == (1, 0, True)


# -- what it adds up to ------------------------------------------------------------------------------------------------

def test_the_fold_sorts_facts_by_what_they_are_about():
    """Register by card, sign-offs bound to the very log, hold points by log and step, replies by finding and lines."""
    other = replace(SIGNED, seal=B, by="S. Example")
    bound = [replace(HOLD, seal=B), replace(REPLY, seal=B)]
    data = log(*EVERY, other, replace(HOLD, by="second"), replace(REPLY, lines=()), *bound)
    found = read(data)
    marks = [(mark.at, mark.approved, mark.sha256) for mark in found.register["wheels"]]
    assert marks == [(at(0), True, A), (at(4), False, A)]
    assert found.signed_off("van-12.jsonl", SEAL).fact == SIGNED and found.signed_off("van-12.jsonl", B).fact == other
    assert found.signed_off("van-12.jsonl", A) is None and found.signed_off("van-13.jsonl", SEAL) is None
    assert found.hold_signed("van-12.jsonl", "release", A).fact == HOLD, "the first sign-off stands"
    assert found.hold_signed("van-12.jsonl", "other", A) is None
    assert [entry.at for entry in found.replies_to("van-12.jsonl", "value-outside", (7, 9), A)] == [at(3)]
    assert [entry.at for entry in found.replies_to("van-12.jsonl", "value-outside", (7, 9), B)] == [at(3), at(9)]
    assert found.keys == {public_hex(KEY): 10} and found.last == digest(data.splitlines(True)[-1])


@pytest.mark.parametrize("fact", [HOLD, REPLY])
def test_what_is_bound_to_a_log_counts_for_that_very_log(fact):
    """Bound to a line's hash it counts for no other log of that name; an entry of an older program is bound to nothing,
    and its bytes are as that program wrote them."""
    for seal, marks in ((B, [B]), ("", [A, B, ""])):
        found = read(log(replace(fact, seal=seal)))
        asked = ((mark, found.hold_signed("van-12.jsonl", "release", mark) if fact == HOLD else
                  found.replies_to("van-12.jsonl", "value-outside", (7, 9), mark)) for mark in (A, B, ""))
        assert [mark for mark, signed in asked if signed] == sorted(marks, key=[A, B, ""].index)
    assert "seal" not in json.loads(log(fact))["data"] and json.loads(log(replace(fact, seal=B)))["data"]["seal"] == B


def test_of_two_marks_the_later_line_counts_whatever_the_clocks_say():
    """A withdrawal from a machine whose clock is behind is not undone by the approval it withdraws."""
    found = read(review_bytes([(at(10), APPROVED), (at(5), WITHDRAWN)], KEY)).register["wheels"]
    assert [standing(found, moment)[A].approved for moment in (at(7), at(12), "")] == [False, False, False]


# -- the disk ----------------------------------------------------------------------------------------------------------

def test_what_is_appended_is_there_and_one_log_takes_several_machines(tmp_path):
    """Two keys write one log; folder and file are made on first use; no log says nothing."""
    assert not read_review(tmp_path).entries
    append(tmp_path, APPROVED, KEY, at(0))
    found = append(tmp_path, HOLD, OTHER, at(1))
    assert found == read_review(tmp_path) and found.keys == {public_hex(KEY): 1, public_hex(OTHER): 1}
    assert review_path(tmp_path) == tmp_path / "office" / "review.jsonl"


def test_what_is_said_is_on_the_disk_before_append_returns(tmp_path, monkeypatch):
    """The line is synced: `fsync` sees the whole file, and a failing one leaves the file as it was."""
    append(tmp_path, APPROVED, KEY, at(0))
    before, synced = review_path(tmp_path).read_bytes(), []
    sync = durable.os.fsync
    monkeypatch.setattr(durable.os, "fsync", lambda fd: (synced.append(review_path(tmp_path).read_bytes()), sync(fd)))
    append(tmp_path, HOLD, KEY, at(1))
    assert synced[-1] == review_path(tmp_path).read_bytes() != before

    def fails(fd, data, write=durable.os.write):
        write(fd, bytes(data)[:40])
        raise OSError(28, "No space left on device")
    whole = review_path(tmp_path).read_bytes()
    monkeypatch.setattr(durable.os, "write", fails)
    with pytest.raises(BrokenMachine, match="No space left on device. What was just said is not logged"):
        append(tmp_path, SIGNED, KEY, at(2))
    assert review_path(tmp_path).read_bytes() == whole


def test_a_broken_log_takes_nothing_until_somebody_has_looked(tmp_path):
    """Appending names the line and what is wrong, and leaves every byte alone; reading still tells what holds."""
    for minute, fact in enumerate((APPROVED, HOLD, SIGNED)):
        append(tmp_path, fact, KEY, at(minute))
    path = review_path(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"seen on", b"seen in"))
    spoilt = path.read_bytes()
    with pytest.raises(BadEvidence, match=r"review.jsonl:2: sig must be the signature .* Nothing is added until"):
        append(tmp_path, REPLY, KEY, at(3))
    found = read_review(tmp_path)
    assert (found.broken, len(found.entries), path.read_bytes()) == (2, 1, spoilt)


def test_an_unfinished_line_is_cut_by_the_next_entry(tmp_path):
    """A power cut in the middle of a line costs that line alone."""
    append(tmp_path, APPROVED, KEY, at(0))
    with open(review_path(tmp_path), "ab") as file:
        file.write(b'{"at":"2026')
    assert read_review(tmp_path).torn == 11
    found = append(tmp_path, HOLD, KEY, at(1))
    assert [entry.fact for entry in found.entries] == [APPROVED, HOLD] and not found.torn


def test_a_log_that_another_program_keeps_is_waited_for_and_then_told(tmp_path):
    """As soon as the other lets go the entry is written; one that never lets go is named, and nothing is written."""
    append(tmp_path, APPROVED, KEY, at(0))
    other, waits = DurableFile(review_path(tmp_path), new=False), []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 3:
            other.close()
    assert len(append(tmp_path, HOLD, KEY, at(1), wait).entries) == 2 and len(waits) == 3
    other = DurableFile(review_path(tmp_path), new=False)
    with pytest.raises(BadInput, match="another companion holds this log"):
        append(tmp_path, SIGNED, KEY, at(2), wait=lambda seconds: None)
    other.close()
    assert len(read_review(tmp_path).entries) == 2


def write_many(folder: str, seed: int, count: int) -> None:
    """One office machine: its own key, its own facts."""
    key = Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32)
    for number in range(count):
        append(Path(folder), replace(REPLY, by=f"machine {seed}", text=f"reply {number}"), key, at(number))


def test_two_programs_that_write_at_once_lose_nothing(tmp_path):
    """Two processes begin the log together and write a dozen entries each: one chain, every entry, in its order."""
    spawn = multiprocessing.get_context("spawn")
    writers = [spawn.Process(target=write_many, args=(str(tmp_path), seed, 12)) for seed in (1, 2)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    found = read_review(tmp_path)
    assert [writer.exitcode for writer in writers] == [0, 0] and not found.broken and len(found.entries) == 24
    for seed in (1, 2):
        said = [entry.fact.text for entry in found.entries if entry.fact.by == f"machine {seed}"]
        assert said == [f"reply {number}" for number in range(12)]


def test_threads_of_one_program_wait_for_each_other(tmp_path):
    """A page that serves several people at once loses nothing either."""
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda seed: write_many(str(tmp_path), seed, 4), range(4)))
    found = read_review(tmp_path)
    assert not found.broken and len({(entry.fact.by, entry.fact.text) for entry in found.entries}) == 16


@pytest.mark.parametrize("before, fact, words", [
    ([], WITHDRAWN, ""), ([APPROVED], WITHDRAWN, ""), ([APPROVED, WITHDRAWN], APPROVED, ""),
    ([APPROVED], replace(APPROVED, version="2", sha256=B), ""),
    ([APPROVED, WITHDRAWN], replace(APPROVED, sha256=B), ""),
    ([APPROVED], APPROVED, "wheels, version 1: is approved already, by R. Example on 2026-02-03"),
    ([APPROVED, WITHDRAWN], WITHDRAWN, "is withdrawn already"),
    ([APPROVED], replace(APPROVED, sha256=B), "must be one text, but another text is approved under this version. G"),
])
def test_the_register_takes_what_is_new_and_one_text_a_version(tmp_path, before, fact, words):
    """Twice the same is refused, and so is a changed text under an approved version; a withdrawn one makes room."""
    for minute, earlier in enumerate(before):
        append(tmp_path, earlier, KEY, at(minute))
    if not words:
        assert len(append(tmp_path, fact, KEY, at(9)).entries) == len(before) + 1
        return
    with pytest.raises(BadInput) as raised:
        append(tmp_path, fact, KEY, at(9))
    assert words in str(raised.value) and len(read_review(tmp_path).entries) == len(before)


def test_a_time_that_is_none_is_refused(tmp_path):
    """A caller cannot write a line that no reader takes."""
    with pytest.raises(BadInput, match="at: must be a UTC time"):
        append(tmp_path, APPROVED, KEY, "today")
    assert not read_review(tmp_path).entries
