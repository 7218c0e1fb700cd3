"""The whole matrix of tamperings on one real log: how many of each kind, and how many `verify` missed.

    python tests/tampering.py [--part NAME]

Not a test of the default run, which does the same to a small log (tests/test_tamper.py). The log is that of a whole injector
job by a made mechanic, about 800 lines and 260 KB. Each tampering must be named at its first bad line; one that leaves a log
that holds by itself (a shortened end, a whole rewrite) must be found with the closing seal, with the receipt, and, where
another device wrote it, with the key. Exit code 1 where one is missed. Ten minutes of one core.
"""
from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain as one_after_another
from pathlib import Path
from typing import Any, Iterable, Iterator, Optional

sys.path.insert(0, str(Path(__file__).parent))

import tamper_kinds as kinds  # noqa: E402
from companion.core.log import journal  # noqa: E402
from companion.core.log.chain import Chain  # noqa: E402
from companion.core.log.evidence import Report, _Reading, examine  # noqa: E402
from companion.core.log.merkle import Tree  # noqa: E402
from companion.core.log.sidecar import read_sidecar  # noqa: E402
from companion.office.fleet.making import made, practice_key  # noqa: E402
from companion.office.fleet.plan import planned  # noqa: E402
from companion.office.held import Held, shown  # noqa: E402
from companion.office.receipts.forms import Entry, Head, Receipt  # noqa: E402
from companion.office.trusted import Trusted, TrustedKey  # noqa: E402
from logmaker import KEY  # noqa: E402
from tamper_kinds import Tampering  # noqa: E402

AT = "2026-02-03T08:00:00.000Z"
_asked = lru_cache(maxsize=2**14)(lambda said, sig, key: _vouched(json.loads(said), sig, key))
_vouched, journal.vouched = journal.vouched, lambda said, sig, key: _asked(journal.canonical(said), sig, key)
"""Millions of changes leave the seal before them as it was: its signature is looked at once."""
SEED = 1


class Log:
    """A finished log, what is held of it elsewhere, and the chain before each of its lines."""

    def __init__(self, text: bytes) -> None:
        self.lines = kinds.split(text)
        self.report = examine(lambda: iter(self.lines))
        assert self.report.holds and self.report.finished
        entry = Entry(at=AT, last=self.report.last, log="van.jsonl")
        root = Tree([entry.leaf()]).root()
        receipt = Receipt(entry=entry, index=0, path=(), head=Head.signed(1, root, AT, KEY))
        mine = Trusted((TrustedKey(self.report.key, "van", "2000-01-01"),))
        self.held = {"seal": Held(seal=self.report.closing_seal), "receipt": Held(receipt=receipt)}
        self.held_key = {"key": Held(key=self.report.key), "list": Held(trusted=mine)}
        self._before = self._chains()

    def _chains(self) -> list[tuple[Chain, int]]:
        """Before each line, and at the end: the chain, and how many lines its last seal vouches for."""
        found, chain, good = [], Chain(), 0
        for line in self.lines:
            found.append((chain.copy(), good))
            chain.take(line)
            good = chain.n if chain.sealed is chain.last else good
        return [*found, (chain.copy(), good)]

    def judged(self, one: Tampering) -> Report:
        """What `examine` gives for the log with that change, without reading again what stands before it."""
        reading = self._read(one, every_seal=False)
        return (reading if reading.chain.seal_holds() else self._read(one, every_seal=True)).report()

    def _read(self, one: Tampering, every_seal: bool) -> _Reading:
        reading = _Reading("log", (), None)
        before, reading.good = self._before[one.at]
        reading.chain = before.copy()
        reading.go(one_after_another(one.new, self.lines[one.then:]), every_seal)
        return reading


@dataclass
class Found:
    """What came of one kind."""

    named: int = 0
    held: int = 0
    """Found with what is held elsewhere, and only so."""
    missed: list[str] = field(default_factory=list)
    why: Counter = field(default_factory=Counter)
    seconds: float = 0.0

    @property
    def all(self) -> int:
        return self.named + self.held + len(self.missed)


def tried(log: Log, every: Iterable[Tampering], another_device: bool = False) -> Found:
    """Each tampering judged."""
    found, began = Found(), time.process_time()
    for one in every:
        report = log.judged(one)
        wrong = _missed(log, one, report, another_device)
        if wrong:
            found.missed.append(f"line {one.at + 1}: {wrong}")
        elif one.held:
            found.held += 1
        else:
            found.named += 1
            found.why[report.bad.why.split(";")[0][:60] if report.bad else "unfinished"] += 1
    found.seconds = time.process_time() - began
    return found


def _missed(log: Log, one: Tampering, report: Report, another_device: bool) -> str:
    """Why a tampering counts as missed; "" where it was found as it must be."""
    if not one.held:
        line = report.bad.line if report.bad else report.entries + 1 if report.torn else 0
        if line not in one.named or (report.vouched >= one.until if one.until else report.entries >= one.named[0]):
            return f"named {line}, not {one.named}; {report.entries} lines said to hold, {report.vouched} to be vouched for"
        return ""
    ways = {**log.held, **(log.held_key if another_device else {})}
    unseen = [way for way, held in ways.items() if not report.bad and not shown(report, held).wrong]
    return f"not shown by {', '.join(unseen)}" if unseen else ""


def beside(sidecar: bytes) -> Found:
    """Every bit of the sidecar flipped: a line of it does not hold, or its end is torn."""
    found, began, changed = Found(), time.process_time(), bytearray(sidecar)
    for place in range(len(changed)):
        for bit in range(8):
            changed[place] ^= 1 << bit
            read = read_sidecar(kinds.split(bytes(changed)))
            line = sidecar.count(b"\n", 0, place) + 1
            if read.bad and read.bad[0][0] == line or read.torn and place == len(changed) - 1:
                found.named += 1
            else:
                found.missed.append(f"sidecar, byte {place}, bit {bit}")
            changed[place] ^= 1 << bit
    found.seconds = time.process_time() - began
    return found


def matrix(log: Log, key: Any, others: dict[str, kinds.Lines], every: int = 1, part: str = "") -> Iterator[
        tuple[str, Found]]:
    """Each kind's name and what came of it. `every`: of the costly kinds only each so manyth line; `part`: only kinds with
    this in their name."""
    lines = log.lines
    strange = kinds.strange_lines(next(iter(others.values()))[:40])
    plain = {
        "every bit flipped": kinds.bits(lines), "each line dropped": kinds.dropped(lines),
        "each line repeated": kinds.repeated(lines), "each two lines swapped": kinds.swapped(lines),
        "each line, and strange ones, put in anywhere": kinds.put_in(lines, strange), "cut at every byte": kinds.cut(lines),
        **{f"spliced with {name}": kinds.spliced(lines, other) for name, other in others.items()},
        "each line in another form": kinds.said_otherwise(lines), "each line says something else": kinds.changed(lines),
        "chain made to fit, without the key": kinds.without_the_key(lines, every),
        "end written anew, without the key": kinds.tail_written_anew(lines),
        "all written anew, with the key": kinds.with_the_key(lines, key, every)}
    for name, every_one in plain.items():
        if part in name:
            yield name, tried(log, every_one)
    if part in "all written anew by another device":
        yield "all written anew by another device", tried(log, kinds.by_another_device(lines), another_device=True)


def injector_job(after: int = 0) -> int:
    """The number of a whole job on the injector card with nothing planted."""
    return next(number for number in range(after + 1, 1000) if (plan := planned(SEED, number)).plant is None
                and "injector" in plan.edition.card)


def main(argv: Optional[list[str]] = None) -> int:
    """Print the matrix; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", default="", help="only kinds with this in their name")
    part = parser.parse_args(argv).part
    first = made(SEED, injector_job())
    log, key = Log(first.log), practice_key(SEED)
    same = kinds.split(made(SEED, injector_job(injector_job())).log)
    others = {"a log of this device": same, "a log of another": kinds.split(made(SEED + 1, injector_job()).log)}
    print(f"{first.name}: {len(log.lines)} lines, {len(first.log):,} bytes; sidecar {len(first.sidecar):,} bytes")
    print(f"{'tampering':46}{'number':>11}{'named':>11}{'held':>7}{'missed':>7}{'s':>6}")
    every, missed = 0, []
    for name, found in one_after_another(matrix(log, key, others, part=part),
                                         [("every bit of the sidecar flipped", beside(first.sidecar))]):
        print(f"{name:46}{found.all:11,}{found.named:11,}{found.held:7,}{len(found.missed):7}{found.seconds:6.0f}", flush=True)
        every += found.all
        missed += [f"{name}: {one}" for one in found.missed]
    print(f"{every:,} tamperings, {len(missed)} missed")
    print("\n".join(missed[:20]))
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
