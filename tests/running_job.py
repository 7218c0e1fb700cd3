"""A `companion job` that runs as a program of its own, what it prints, and its log as it lies on the disk meanwhile."""
from __future__ import annotations

import os
import select
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Iterator, Optional, Union

from companion.core.job.apply import apply
from companion.core.job.effects import Say
from companion.core.job.inputs import CameBack, Now
from companion.core.job.speech import effects
from companion.core.job.state import Job
from companion.core.log.chain import Chain, replay
from companion.core.log.journal import Entry, Sealed
from companion.core.log.rfc3339 import milliseconds
from companion.core.log.sidecar import read_sidecar
from companion.terminal import clean
from disk_job import DiskJob, answer

ASIDES = ("repeat", "where was I", "options", "how long")
PATIENCE_S = 20.0


@dataclass
class Log:
    """One log as it lies on the disk."""

    entries: list[Entry] = field(default_factory=list)
    torn: int = 0
    """Bytes at its end that are no whole entry."""


def read(path: Path) -> Log:
    """Without the program, and without touching it. Raises BadLine."""
    log, chain, beside = Log(), Chain(str(path)), path.with_suffix(".personal")
    texts = read_sidecar(beside.read_bytes().splitlines(keepends=True)).texts if beside.exists() else {}
    data = path.read_bytes() if path.exists() else b""
    log.entries.extend(replay(data.splitlines(keepends=True), texts, chain))
    log.torn = len(data) - chain.size
    if log.entries and log.entries[-1].event.seals:  # its seal is missing, so it was never acknowledged
        log.torn += len(data[:chain.size].splitlines(keepends=True)[-1])
        del log.entries[-1]
    return log


def told(entries: list[Entry], since: int) -> Iterator[tuple[int, str]]:
    """What the program says of the entries from number `since` on, each with its entry."""
    job = None
    for entry in entries:
        if not isinstance(entry.event, Sealed):
            job = apply(job, entry.event, Now(milliseconds(entry.at), entry.up))
            if entry.n >= since:
                yield from ((entry.n, clean(effect.text)) for effect in effects(entry.event, job) if isinstance(effect, Say))


def state(entries: list[Entry]) -> Optional[Job]:
    """Where the job stands after them."""
    job = None
    for entry in entries:
        if not isinstance(entry.event, Sealed):
            job = apply(job, entry.event, Now(milliseconds(entry.at), entry.up))
    return job


class Nowhere:
    """A log that keeps nothing, for a plan."""

    path, closing_seal = Path("nowhere.jsonl"), "AAAA"

    def append(self, events, at, up) -> list[Entry]:
        """Nothing is kept."""
        return []


def plan(before: Optional[Job], rng: Random) -> list[Union[str, int]]:
    """What the mechanic will say until the job's end, by the same core; numbers are seconds that pass."""
    lines: list[Union[str, int]] = []
    if before is None:
        job = DiskJob(Nowhere.path, log=Nowhere())  # type: ignore[arg-type]
    else:
        lines.append("affirm")
        job = DiskJob(Nowhere.path, Now(before.last_at_ms, before.last_up_ms), before, Nowhere())  # type: ignore[arg-type]
        job.take(CameBack("boot", same_boot=True))
    while not job.companion.over and len(lines) < 400:
        line = rng.choice(ASIDES) if rng.random() < 0.5 else answer(job.job)
        lines.append(line)
        job.say(line)
    return lines


class Program:
    """The real program on one log; what it prints."""

    def __init__(self, card: Path, log: Path, simulated: bool) -> None:
        self.simulated, self.printed, self._rest = simulated, [], b""
        command = [sys.executable, "-m", "companion", "job", str(card), "--typed", "--lines", "--log", str(log),
                   "--clock", "simulated" if simulated else "real"]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                         bufsize=0)

    @property
    def pid(self) -> int:
        """Its number."""
        return self._process.pid

    def give(self, line: str) -> None:
        """A line to its standard input."""
        try:
            self._process.stdin.write(line.encode() + b"\n")
        except BrokenPipeError:
            pass

    def hear(self, seconds: float) -> bool:
        """Take in what it prints; False where nothing came for so long, or it has ended."""
        if not select.select([self._process.stdout], [], [], seconds)[0]:
            return False
        got = os.read(self._process.stdout.fileno(), 65536)
        *whole, self._rest = (self._rest + got).split(b"\n")
        self.printed += [line.decode() for line in whole]
        return bool(got)

    def kill(self) -> None:
        """SIGKILL; what it had printed before is taken in."""
        self._process.kill()
        self.ended()

    def has_ended(self, seconds: float = 1.0) -> bool:
        """Whether it has ended by itself."""
        try:
            return self._process.wait(seconds) is not None
        except subprocess.TimeoutExpired:
            return False

    def ended(self) -> int:
        """Nothing more is typed: waits for its end; the exit code."""
        self._process.stdin.close()
        while self.hear(PATIENCE_S):
            pass
        code = self._process.wait(PATIENCE_S)
        self.errors = self._process.stderr.read().decode()
        self._process.stdout.close()
        self._process.stderr.close()
        return code

    @property
    def said(self) -> list[str]:
        """The words it spoke, without those before the job is open and the seal after it is closed."""
        said = [line.partition("companion: ")[2] for line in self.printed if line.startswith("companion: ")]
        return [words for words in said if not words.startswith(("An unfinished job was found", "The closing seal"))]
