"""Tampering: every change to a log is found, and the first bad line named. The whole matrix on a small log; `python
tests/tampering.py` is the same on a whole job's."""
from __future__ import annotations

import hashlib
import random

import pytest

import tamper_kinds as kinds
from companion.core.events import JobEnded, JobLeft, MemoKept, Personal, StepBegun, StepEnded, TakenOver
from companion.core.log.codec import encode
from companion.core.log.evidence import examine
from companion.core.log.sidecar import dump_sidecar
from companion.office.account import account_in
from companion.office.findings import findings
from companion.office.place import Folder
from companion.office.verify import verify
from logmaker import KEY, OTHER_KEY, opened, small, value, written
from tampering import Log, beside, matrix

SHORT = [opened(card_name="Übung.yaml"), value(), StepEnded(), JobEnded()]
LONG = [opened(), *(event for _ in range(4) for event in (StepBegun(), value(), StepEnded())), JobEnded()]
OTHERS = {"a log of this device": written(small(text="7.51")), "a log of another": written(small(OTHER_KEY), OTHER_KEY)}
MADE = {"short": Log(b"".join(written(SHORT))), "long": Log(b"".join(written(LONG)))}


@pytest.mark.parametrize("name, part, every, least", [
    ("short", "", 1, 10_000), ("long", "made to fit", 1, 200), ("long", "dropped", 1, 19), ("long", "swapped", 1, 171),
    ("long", "anew", 6, 8)])
def test_every_tampering_is_found_and_the_first_bad_line_named(name, part, every, least):
    """Bits flipped, lines dropped, repeated, swapped and put in, cuts, splices, the card, the key, the clocks, the JSON said
    otherwise; with and without a chain made to fit, with and without the key. None is missed. What leaves a log that holds by
    itself is found with the closing seal and with the receipt, and another device's with its key."""
    tried = dict(matrix(MADE[name], KEY, OTHERS, every, part))
    assert [f"{kind}, {one}" for kind, found in tried.items() for one in found.missed] == []
    assert all(found.all for found in tried.values()) and sum(found.all for found in tried.values()) >= least


def test_the_fast_way_judges_as_verify_does():
    """The matrix does not read again what stands before a change. On a sample of all kinds the report is the very one that
    `examine` makes of the whole file."""
    log, dice = MADE["long"], random.Random(7)
    every = [one for made in (kinds.bits(log.lines), kinds.dropped(log.lines), kinds.swapped(log.lines), kinds.cut(log.lines),
                              kinds.said_otherwise(log.lines), kinds.changed(log.lines), kinds.without_the_key(log.lines),
                              kinds.tail_written_anew(log.lines), kinds.with_the_key(log.lines, KEY))
             for one in (lambda all_: dice.sample(all_, min(30, len(all_))))(list(made))]
    for one in every:
        fast, whole = log.judged(one), examine(lambda: kinds.split(one.text(log.lines)))
        told = [(report.bad and (report.bad.line, report.bad.why), report.torn, report.entries, report.vouched, report.last)
                for report in (fast, whole)]
        assert told[0] == told[1], one
    assert len(every) > 200


def test_the_command_names_the_line_as_the_matrix_does(tmp_path):
    """The same through files: what `companion verify` prints as the first bad line, and a finding of the review for each."""
    log, dice = MADE["short"], random.Random(3)
    for one in dice.sample(list(kinds.bits(log.lines)), 40) + list(kinds.swapped(log.lines)):
        (tmp_path / "van.jsonl").write_bytes(one.text(log.lines))
        found = verify(tmp_path / "van.jsonl", closing=False)
        assert not found["holds"] and found["first_bad"]["line"] in one.named and found["first_bad"]["why"]
        assert any(one.name in ("chain-broken", "seal-broken", "log-torn", "log-unreadable")
                   for one in findings(account_in(Folder(tmp_path), "van.jsonl")))


def test_every_flipped_bit_of_a_sidecar_is_found():
    """Each is named with its line; the log itself still holds, since it has only hashes."""
    texts = encode(TakenOver(mechanic=Personal("Änn")), lambda: bytes(16))[1] + encode(
        TakenOver(mechanic=Personal("Bob")), lambda: bytes(range(16)))[1]
    found = beside(dump_sidecar(texts))
    assert found.missed == [] and found.named == 8 * len(dump_sidecar(texts))


def test_every_flipped_bit_of_a_memo_is_found(tmp_path):
    """The log holds the hash of each memo's sound; the line that names it is told."""
    sound = b"an invented sound"
    memo = MemoKept(memo=1, file="van.memo-1.flac", sha256=hashlib.sha256(sound).hexdigest(), ms=900)
    (tmp_path / "van.jsonl").write_bytes(b"".join(written([opened(), memo, JobEnded()])))
    for bit in range(8 * len(sound)):
        changed = bytearray(sound)
        changed[bit // 8] ^= 1 << bit % 8
        (tmp_path / "van.memo-1.flac").write_bytes(changed)
        assert verify(tmp_path / "van.jsonl", closing=False)["wrong"] == [
            "line 2: the memo van.memo-1.flac must be as it was recorded, and is not"]


def test_an_unfinished_log_is_as_safe_up_to_its_last_seal():
    """A job that was left: each line changed with the chain made to fit is found by the next seal."""
    lines = written([opened(), *(event for _ in range(4) for event in (StepBegun(), value(), StepEnded())), JobLeft()])
    for one in kinds.without_the_key(lines):
        report = examine(lambda: kinds.split(one.text(lines)))
        if one.at + 1 < len(lines):
            assert report.bad and report.bad.line in one.named and report.vouched < one.until
