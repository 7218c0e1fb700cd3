"""Hostile logs: job logs with their sidecars, and the office's own log.

A changed line is stopped by the chain at once. So each log is also fed healed: numbered, chained and signed anew with a key of
our own, as somebody would who writes a log to harm whoever reads it.
"""
from __future__ import annotations

import hashlib
import io
from dataclasses import replace
from functools import lru_cache
from typing import Any, BinaryIO

from golden import card, lines_of, play
from hostile import Target, Wrong
from hostile.bounds import fit_for_terminal, no_markup
from hostile.changing import jsonwise, objects_of
from hostile.texts import SMALL
from logmaker import KEY
from simulator import EVERY_KIND, Simulator

from companion.core.job.inputs import CameBack, MemoTaken, SoundLost
from companion.core.log.chain import Chain, replay
from companion.core.log.codec import personal_hash
from companion.core.log.journal import canonical, public_hex, sign
from companion.core.log.rfc3339 import milliseconds, stamp
from companion.core.log.sidecar import dump_sidecar, read_sidecar
from companion.edge.loop import replayed
from companion.errors import CompanionError
from companion.office.account import Account, account_in
from companion.office.findings.office import office_findings
from companion.office.holds import holds_passed
from companion.office.record.gather import record_of
from companion.office.record.page import record_paper
from companion.office.record.paper.html import as_html
from companion.office.record.plain import as_text
from companion.office.record.sheets.claim import claim_sheet
from companion.office.record.sheets.customer import customer_sheet
from companion.office.record.sheets.told import Told
from companion.office.review.rows import rows_of
from companion.office.review_log import CardApproved, FindingAnswered, HoldSignedOff, JobSignedOff
from companion.office.review_log.lines import review_bytes
from companion.office.review_log.reviewed import reviewed
from companion.office.verify import _said

HEX = public_hex(KEY)


class Shelf:
    """A place in memory; it knows what was asked for."""

    def __init__(self, files: dict[str, bytes]) -> None:
        self.files = files

    def open(self, name: str) -> BinaryIO:
        """See `Place`."""
        if "/" in name or "\\" in name or name in ("..", "."):
            raise Wrong(f"a name must stay in its folder, but: {name!r}")
        if name not in self.files:
            raise FileNotFoundError(2, "nothing there", name)
        return io.BytesIO(self.files[name])

    def has(self, name: str) -> bool:
        """See `Place`."""
        if "/" in name or "\\" in name:
            raise Wrong(f"a name must stay in its folder, but: {name!r}")
        return name in self.files


def split(data: bytes) -> tuple[bytes, bytes]:
    """A case holds a log, and the lines of its sidecar, which begin with a salt."""
    lines = data.splitlines(keepends=True)
    beside = [line for line in lines if line.startswith(b'{"salt"')]
    return b"".join(line for line in lines if not line.startswith(b'{"salt"')), b"".join(beside)


def healed(data: bytes) -> bytes:
    """The case with everything put right that a forger with a key of their own can put right."""
    lines = data.split(b"\n")
    found = [objects_of(line) for line in lines]
    data = b"\n".join(line if not made else _hashed(made, made["salt"]) if isinstance(made.get("salt"), str) and "text" in made
                      else line for line, made in zip(lines, found))
    swaps = {made["sha256"]: new for made, new in zip(found, map(objects_of, data.split(b"\n")))
             if made and isinstance(made.get("sha256"), str) and "salt" in made}
    made, prev, n = [], "0" * 64, 0
    for line in data.split(b"\n"):
        held = objects_of(line)
        if not held or "salt" in held:
            made.append(line)
            continue
        made.append(_chained(held, prev, n, swaps))
        prev, n = hashlib.sha256(made[-1]).hexdigest(), n + 1
    return b"\n".join(made)


def _hashed(entry: dict[str, Any], salt: str) -> bytes:
    try:
        entry = {**entry, "sha256": personal_hash(bytes.fromhex(salt), str(entry["text"]))}
        return canonical(entry)
    except (ValueError, TypeError):
        return b""


def _swapped(value: Any, swaps: dict[str, Any]) -> Any:
    """The new hash of a personal text that was changed."""
    old = value.get("sha256") if isinstance(value, dict) else None
    return {"sha256": swaps[old].get("sha256", "")} if isinstance(old, str) and old in swaps else value


def _chained(line: dict[str, Any], prev: str, n: int, swaps: dict[str, Any]) -> bytes:
    line = {**line, "n": n, "prev": prev}
    data = line.get("data")
    if isinstance(data, dict):
        data = {name: _swapped(value, swaps) for name, value in data.items()}
        if n == 0 and "card_text" in data:
            card_hash = hashlib.sha256(str(data["card_text"]).encode("utf-8", "replace")).hexdigest()
            data = {**data, "key": HEX, "card_sha256": card_hash}
        line["data"] = data
    try:
        if line.get("event") == "sealed":
            line["data"] = {"sig": sign({**line, "data": {}}, KEY)}
        return canonical(line)
    except (ValueError, TypeError):
        return b"{}"


def feed_log(data: bytes) -> None:
    """As it is, and healed: checked, judged, indexed, and taken up again."""
    for made in (data, healed(data)):
        account = account_of(made)
        fit_for_terminal("\n".join(_said(account.found)), "what verify says")
        job = rows_of(account, "a.jsonl 1:1")["jobs"][0]
        office_findings("a.jsonl", job["card"], job["card_version"], job["card_sha256"], job["began"], holds_passed(account),
                        reviewed(_reviews()[0].splitlines(keepends=True)))
        _resumed(*split(made))


def account_of(case: bytes) -> Account:
    """What the office reads of a case."""
    log, beside = split(case)
    return account_in(Shelf({"a.jsonl": log, **({"a.personal": beside} if beside else {}), "a.memo-1.flac": b"sound"}), "a.jsonl")


def feed_paper(data: bytes) -> None:
    """A healed log on every paper."""
    account = account_of(healed(data))
    told = record_of(account, reviewed(_reviews()[0].splitlines(keepends=True)))
    fit_for_terminal(as_text(told), "the record as text")
    for paper in (record_paper(told), customer_sheet(Told(account, told)), claim_sheet(Told(account, told))):
        no_markup(as_html(paper, lambda name: b""))



def _resumed(log: bytes, beside: bytes) -> None:
    """As `companion job --log` takes an unfinished job up."""
    chain = Chain("a.jsonl")
    try:
        entries = list(replay(log.splitlines(keepends=True), read_sidecar(beside.splitlines(keepends=True)).texts, chain))
        if chain.finished or not entries:
            return
        job = replayed(entries)
    except CompanionError:
        return
    after = Simulator(SMALL)
    after.at, after.up, after.job = milliseconds(entries[-1].at) + 60_000, 5_000, job
    after.take(CameBack("boot two", False))
    for line in ("affirm", "next", "seven point five", "negative", "stop job", "affirm"):
        after.say(line).wait(60)


def feed_review(data: bytes) -> None:
    """The office's own log, as it is and healed."""
    for made in (data, _signed(data)):
        found = reviewed(made.splitlines(keepends=True))
        assert found.broken or len(found.entries) <= made.count(b"\n")
        for entry in found.entries:
            fit_for_terminal(entry.fact.by, "a name")


def _signed(data: bytes) -> bytes:
    made, prev, n = [], "0" * 64, 0
    for line in data.split(b"\n"):
        held = objects_of(line)
        if held:
            held = {name: value for name, value in held.items() if name != "sig"} | {"n": n, "prev": prev, "key": HEX}
            try:
                line = canonical({**held, "sig": sign(held, KEY)})
            except (ValueError, TypeError):
                line = b"{}"
            prev, n = hashlib.sha256(line).hexdigest(), n + 1
        made.append(line)
    return b"\n".join(made)


def feed_sidecar(data: bytes) -> None:
    """A sidecar by itself."""
    found = read_sidecar(data.splitlines(keepends=True))
    assert len(found.bad) <= 100 and found.size + len(found.torn) <= len(data)


# -- seeds -------------------------------------------------------------------------------------------------------------

def log_of(job: Simulator) -> bytes:
    """A job's log and sidecar as a device would write them, in one."""
    chain, lines, beside = Chain(), [], []
    for place, (event, now) in enumerate(zip(job.events, job.stamps)):
        event = event if place else replace(event, key=HEX, format=1)
        line, hidden = chain.add(event, stamp(now.at_ms), now.up_ms, lambda: bytes([place % 256]) * 16)
        lines.append(line)
        beside += hidden
        if event.seals:
            lines.append(chain.seal(KEY)[0])
    return b"".join(lines) + dump_sidecar(beside)


@lru_cache(maxsize=None)
def small_jobs() -> tuple[bytes, ...]:
    """Short jobs that between them hold most kinds of event."""
    nut = Simulator(SMALL).say("dry", "fingers clear", "seven point five", "memo")
    nut.take(MemoTaken(1, "a.memo-1.flac", hashlib.sha256(b"sound").hexdigest(), 900, "a note"))
    nut.take(SoundLost("microphone", "pulled out"))
    nut.say("end the wait", "in a hurry", "affirm", "alfa bravo", "affirm")
    every = play(Simulator(EVERY_KIND), (
        "next", "alfa bravo", "affirm", "next", "affirm", "nine", "affirm", "cylinder two", "three", "pause", "resume",
        "leave out", "no codes", "alfa one bravo two", "affirm", "next", "emergency", "emergency over", "wait 4 min", "zero bar",
        "pressure gone", "slower", "what torque"))
    back = play(Simulator(EVERY_KIND), ("next", "alfa bravo", "affirm", "timer five minutes")).come_back(900, same_boot=False)
    stopped = play(Simulator(card("learning")), ("next", "stop job", "affirm"))
    wheels = play(Simulator(card("road-wheels")), lines_of("road-wheels")[:25])
    return tuple(map(log_of, (nut, every, back, stopped, wheels)))


@lru_cache(maxsize=None)
def _reviews() -> tuple[bytes, ...]:
    at, sha = "2026-01-31T08:15:00.250Z", "a" * 64
    facts = (CardApproved(by="A. Example", card="nut", version="1", sha256=sha, reason="read"),
             JobSignedOff(by="A. Example", log="a.jsonl", seal="ABCD EFGH IJKL", reason="read"),
             FindingAnswered(by="B. Example", log="a.jsonl", finding="leak-found", lines=(3, 4), text="it was dry after"),
             HoldSignedOff(by="A. Example", log="a.jsonl", step="look", reason="looked"))
    return (review_bytes([(at, fact) for fact in facts], KEY),)


def _sidecars() -> list[bytes]:
    return [split(made)[1] for made in small_jobs() if split(made)[1]]


TARGETS = (Target("log", small_jobs, jsonwise, feed_log), Target("paper", small_jobs, jsonwise, feed_paper),
           Target("review", _reviews, jsonwise, feed_review), Target("sidecar", _sidecars, jsonwise, feed_sidecar))
