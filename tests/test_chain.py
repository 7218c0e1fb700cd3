"""The rules of a log, one line after the other."""
from __future__ import annotations

import hashlib

import orjson
import pytest

import logmaker
from companion.core.log.chain import BadLine, Chain, replay
from companion.core.log.codec import vocabulary
from companion.core.events import JobEnded, JobOpened, JobResumed, StepBegun
from companion.core.log.closing import closing_seal
from companion.core.log.journal import LONGEST, Entry, Sealed, digest
from companion.core.log.rfc3339 import stamp
from companion.errors import BadInput
from logmaker import KEY, START, objects, opened, rewritten, small, written

LINES = written(small())


def taken(lines) -> Chain:
    chain = Chain("van.jsonl")
    for line in lines:
        chain.take(line)
    return chain


def test_a_log_is_the_lines_the_format_describes():
    """n counts, prev chains, a seal follows what calls for one and shares its step; a finished job ends in a seal."""
    found = objects(LINES)
    assert [line["event"] for line in found] == [
        "job_opened", "step_begun", "value_logged", "step_ended", "sealed", "job_ended", "sealed"]
    assert [line["n"] for line in found] == list(range(7)) and found[0]["prev"] == "0" * 64
    assert [line["prev"] for line in found[1:]] == [hashlib.sha256(line[:-1]).hexdigest() for line in LINES[:-1]]
    assert found[4]["step"] == "torque.1" and found[4]["up"] == found[3]["up"] and set(found[4]["data"]) == {"sig"}


def test_reading_gives_what_was_written():
    """The entries of a log are the events that went in, with their seals, and the chain ends where the writer's did."""
    chain = Chain()
    entries = list(replay(LINES, {}, chain))
    assert [entry.event for entry in entries if not isinstance(entry.event, Sealed)] == small()
    assert entries[1] == Entry(1, stamp(START + 1000), 1500, StepBegun(step="torque.1"))
    assert chain.finished and chain.seal_holds() and chain.n == 7 and chain.size == sum(map(len, LINES))
    assert closing_seal(chain.prev) == closing_seal(digest(LINES[-1]))


def test_an_unfinished_last_line_is_kept_apart():
    """A piece without a newline is no part of the chain, whatever it says."""
    for piece in (b"{", LINES[3][:-1], b"\xff" * 1000):
        chain = taken([*LINES[:3], piece])
        assert chain.torn == piece and chain.n == 3


def test_zeros_in_a_line_are_told_for_what_they_may_be():
    """A log after a power cut must not look as if somebody had been at it."""
    chain = Chain()
    with pytest.raises(BadLine, match="as a power cut leaves them"):
        chain.take(b'{"at":"2026' + bytes(30) + b"}\n")


def test_a_line_of_more_than_the_longest_is_refused():
    """A file of junk is refused after one line's worth of it."""
    with pytest.raises(BadLine, match="van.jsonl:1: must be at most 4194304 bytes"):
        taken([b"a" * (LONGEST + 1)])


def change(n, /, **fields):
    """One line's keys changed."""
    return lambda lines: lines[n].update(fields)


def data(n, /, **fields):
    """One line's data changed."""
    return lambda lines: lines[n]["data"].update(fields)


def resumed(boot, up):
    """The log opened again after its second line, and the next line later than that."""
    def act(lines):
        line = {**lines[1], "event": "job_resumed", "n": 2, "up": up,
                "data": {"boot": boot, "away_ms": 1, "same_boot": False, "torn_bytes": 0, "ear": ""}}
        lines[2:] = [line, {**lines[2], "n": 3, "up": up}]
    return act


BROKEN = [
    ("n", change(2, n=3), 3, "n must be 2, not 3"),
    ("n is true", change(1, n=True), 2, "n and up as whole numbers"),
    ("up is a text", change(1, up="5"), 2, "n and up as whole numbers"),
    ("up below 0", change(0, up=-1), 1, "up must be at least 0"),
    ("up steps back", change(3, up=5), 4, "up must be at least 2500 .*, not 5"),
    ("up steps back over a resume", resumed("boot-a", 600), 3, "up must be at least 1500 .*, not 600"),
    ("at without milliseconds", change(2, at="2026-01-31T08:15:00Z"), 3, "at must be a UTC time"),
    ("at no day", change(2, at="2026-02-31T08:15:00.000Z"), 3, "at must be a UTC time"),
    ("a key too many", change(2, extra=""), 3, "must have at, event"),
    ("a key too few", lambda lines: lines[2].pop("step"), 3, "must have at, event"),
    ("step is null", change(2, step=None), 3, "step and prev as text"),
    ("data is a list", change(2, data=[]), 3, "data as an object"),
    ("nested data", data(2, more={"a": 1}), 3, "data must hold"),
    ("null in data", data(2, more=None), 3, "data must hold"),
    ("a list of numbers", data(2, more=[1]), 3, "data must hold"),
    ("a name that is not ASCII", data(2, **{"größe": "a"}), 3, "data must have ASCII names"),
    ("a number no double holds", data(2, more=-2**53), 3, "data must hold"),
    ("up beyond what a double holds", change(2, up=2**53), 3, "at most 2.53 - 1, not 9007199254740992"),
    ("a hash too short", data(2, more={"sha256": "ab"}), 3, "data must hold"),
    ("not opened first", change(0, event="step_begun"), 1, "first line, and no other, must be job_opened"),
    ("opened twice", change(2, event="job_opened"), 3, "first line, and no other, must be job_opened"),
    ("another format", data(0, format=3), 1, "format must be 1 or 2, which this program reads, not 3"),
    ("format true", data(0, format=True), 1, "format must be 1 or 2"),
    ("no key", lambda lines: lines[0]["data"].pop("key"), 1, "key must be"),
    ("key in capitals", data(0, key=logmaker.opened().key.upper()), 1, "key must be"),
    ("a key that anybody signs with", data(0, key="01" + "00" * 31), 1, "key must be one that only its device can sign with"),
    ("card changed", data(0, card_text=logmaker.CARD + " "), 1, "card_sha256 must be"),
    ("card missing", lambda lines: lines[0]["data"].pop("card_text"), 1, "card_text must"),
    ("no boot", data(0, boot=""), 1, "boot must"),
    ("resumed without a boot", resumed("", 9000), 3, "boot must"),
    ("end without a seal", change(6, event="step_begun", data={}), 7, "must be followed by its seal"),
    ("after the end", lambda lines: lines.append({**lines[1], "n": 7, "up": 9000}), 8, "nothing may follow"),
]


@pytest.mark.parametrize("act, line, words", [row[1:] for row in BROKEN], ids=[row[0] for row in BROKEN])
def test_each_rule_is_kept_by_itself(act, line, words):
    """A log that breaks one rule, with its chain and seals made anew to fit, is refused at that line for that rule."""
    lines = objects(LINES)
    act(lines)
    with pytest.raises(BadLine, match=words) as caught:
        taken(rewritten(lines))
    assert caught.value.line == line and f"van.jsonl:{line}: " in str(caught.value)


@pytest.mark.parametrize("sig", ["AB" * 64, "ab" * 63, "ab" * 64 + " ", 5, ["ab" * 64]])
def test_a_signature_has_one_spelling(sig):
    """Hex in lower case, full length, and nothing else."""
    lines = objects(LINES)
    lines[4]["data"]["sig"] = sig
    with pytest.raises(BadLine, match="sig must be 128"):
        taken(rewritten(lines, key=None))


def test_bytes_after_the_closing_seal_are_refused_even_unfinished():
    """Nothing follows the closing seal, not even half a line."""
    with pytest.raises(BadLine, match="van.jsonl:8: nothing may follow"):
        taken([*LINES, b"x"])


def test_up_may_start_again_after_a_boot():
    """`up` is compared within one boot only, and still within each of two that alternate."""
    lines = objects(LINES)[:3]
    resumed("boot-b", 3)(lines)
    assert taken(rewritten(lines)).n == 4
    lines.append({**lines[2], "n": 4, "up": 600, "data": {**lines[2]["data"], "boot": "boot-a"}})
    with pytest.raises(BadLine, match="up must be at least 1500"):
        taken(rewritten(lines))


def test_the_time_of_day_may_step_back():
    """A stepped wall clock is no fault: only `up` counts."""
    lines = objects(LINES)
    lines[3]["at"] = "2001-01-01T00:00:00.000Z"
    assert taken(rewritten(lines)).finished


@pytest.mark.parametrize("events, words", [
    ([StepBegun()], "first line"), ([opened(), opened()], "first line"), ([opened(format=3)], "format must be 1 or 2"),
    ([opened(card_text="other")], "card_sha256")])
def test_the_writer_keeps_the_reader_s_rules(events, words):
    """What would not be read is not written."""
    with pytest.raises(BadLine, match=words):
        written(events)


def test_a_bad_line_leaves_the_chain_as_it_was():
    """After a refused line the chain still takes the right one."""
    chain = taken(LINES[:4])
    for bad in (LINES[3], LINES[5], LINES[4].replace(b'"sig":"', b'"sig":"0')):
        with pytest.raises(BadLine):
            chain.take(bad)
    assert [chain.take(line) for line in LINES[4:]] and chain.finished


def test_a_copy_goes_its_own_way():
    """Lines tried on a copy leave the chain alone."""
    chain = taken(LINES[:3])
    other = chain.copy()
    other.add(JobResumed(boot="boot-b", away_ms=1, same_boot=False), stamp(START), 1, lambda: bytes(16))
    other.add(JobEnded(), stamp(START), 2, lambda: bytes(16))
    assert chain.n == 3 and taken(LINES[:3]).__dict__ == chain.__dict__


def test_an_event_of_a_newer_program_is_refused_in_words():
    """A log that holds but tells of an event unknown here is not half understood."""
    lines = objects(LINES)
    lines[1]["event"] = "engine_sung_to"
    with pytest.raises(BadInput, match="log:2: must be an event this program knows, not 'engine_sung_to'. Use a"):
        list(replay(rewritten(lines), {}, Chain()))
    assert "job_opened" in vocabulary() and JobOpened in vocabulary().values()


@pytest.mark.parametrize("changed", [{"data": {"x": 1.5}}, {"data": {"x": ["a", 1.5]}}, {"data": {"x": {"sha256": 1.5}}},
                                     {"n": 1.0}, {"up": 1500.5}], ids=str)
def test_no_float_passes_wherever_it_stands(changed):
    """Lines are read by a fast reader that knows floats; the check of every value's type is what refuses them."""
    lines = written(small())
    chain = Chain()
    chain.take(lines[0])
    line = {**objects(lines)[1], **changed}
    with pytest.raises(BadLine):
        chain.take(orjson.dumps(line, option=orjson.OPT_SORT_KEYS | orjson.OPT_APPEND_NEWLINE))
