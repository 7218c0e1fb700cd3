"""A real job with a real log, on a simulated clock, for the tests of disks that fail. Its words are kept, not spoken."""
from __future__ import annotations

import os
from hashlib import sha256
from pathlib import Path
from typing import Optional, Union

from companion.core.events import Event
from companion.core.job.effects import Effect, Say
from companion.core.job.inputs import CameBack, Now, Opened
from companion.core.job.state import Job
from companion.core.log.journal import Entry, public_hex
from companion.edge.clock import SimulatedClock
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion, replayed, typed
from companion.edge.simulation import Simulation
from logmaker import KEY
from simulator import EVERY_KIND, TO, TOOLS

START = Now(1_700_000_000_000, 1_000_000)
WHOLE = (*TO["watch"], 60, "dry", 60, "dry", 60, "dry", "next", "next")
"""The card `every-kind` from its first step to its end: lines, and seconds that pass."""


class Faulty:
    """The `os` module on a failing disk: `fsync`, `write` and others may be given another conduct."""

    def __init__(self, **conduct) -> None:
        self.__dict__.update(conduct)

    def __getattr__(self, name):
        return getattr(os, name)


def failing(number: int):
    """A call on a disk that fails with this errno."""
    def call(*_):
        raise OSError(number, os.strerror(number))
    return call


class KeptWords:
    """A mouth that keeps what it is to say; the last word sounds at once."""

    def __init__(self, report) -> None:
        self._report, self.spoken, self.effects = report, [], []

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """Nothing to render."""

    def carry_out(self, effect: Effect) -> None:
        """Keep it."""
        self.effects.append(effect)
        if isinstance(effect, Say):
            self.spoken.append(effect.text)
            if effect.tag:
                self._report(effect.tag)


class DiskJob:
    """One job, new or taken up again."""

    def __init__(self, path: Path, now: Now = START, job=None, log: Optional[LogFile] = None) -> None:
        self.path, self.log = path, log or LogFile.create(path, KEY)
        self.clock = SimulatedClock(now)
        self.simulation = Simulation(self.clock)
        self.mouth = KeptWords(self.simulation.report)
        self.spoken = self.mouth.spoken
        self.companion = self.simulation.companion = Companion(self.log, self.clock, self.mouth, job)
        if job is None:
            self.take(Opened("card.yaml", EVERY_KIND, sha256(EVERY_KIND.encode()).hexdigest(), "test", "boot 1",
                             public_hex(KEY), "typed", "none", tools_name="tools.yaml", tools_text=TOOLS,
                             tools_sha256=sha256(TOOLS.encode()).hexdigest()))

    @classmethod
    def resumed(cls, path: Path, boot: str, away_s: int = 60) -> "DiskJob":
        """The log at `path`, taken up again on a new start of the machine."""
        return cls.taken_up(*LogFile.resume(path, KEY), boot, away_s)

    @classmethod
    def taken_up(cls, log: LogFile, entries: list[Entry], torn: bytes, boot: str, away_s: int = 60) -> "DiskJob":
        """The same, of a log that is open already."""
        before = replayed(entries)
        if before is None:
            return cls(log.path, log=log)
        job = cls(log.path, Now(before.last_at_ms + away_s * 1000, 5_000), before, log)
        job.take(CameBack(boot, same_boot=False, torn_bytes=len(torn)))
        return job

    def take(self, what) -> tuple[Event, ...]:
        """One input, and what follows at once."""
        return self.simulation.take(what)

    def say(self, *lines: Union[str, int]) -> "DiskJob":
        """Lines, and seconds that pass."""
        for line in lines:
            if isinstance(line, int):
                self.simulation.wait(line * 1000)
            else:
                self.take(typed(line))
        return self

    def to(self, step: str) -> "DiskJob":
        """On to a step of the card `every-kind`, from the first one."""
        self.say(*TO[step])
        assert self.job.at == step, self.spoken[-3:]
        return self

    @property
    def job(self):
        """Where it stands."""
        return self.companion.job

    def since(self, count: int) -> str:
        """All words since there were `count` of them."""
        return " ".join(self.spoken[count:])

    def close(self) -> None:
        """Let the log go."""
        self.log.close()


def read(path: Path) -> list[Entry]:
    """Every entry of an unfinished log, or of a finished one without its end."""
    log, entries, _ = LogFile.resume(path, KEY)
    log.close()
    return entries


def answer(job: Job) -> Union[str, int]:
    """What a mechanic says now on the card `every-kind`, or the seconds that pass."""
    if job.proofs:
        return "same mechanic" if job.proofs[0] == "mechanic" else "affirm"
    said = {"assent": "affirm", "caution": "pressure gone", "waiting": 60, "unwritten": 5}.get(job.mode)
    if job.mode == "watching":
        said = "dry" if job.watch.asked else 20
    return said or ANSWERS.get(job.at, "next")


class Wrong(AssertionError):
    """A promise was broken."""


def must(holds: bool, words: str) -> None:
    """Raise Wrong unless it `holds`."""
    if not holds:
        raise Wrong(words)


ANSWERS = {"who": "alfa bravo", "fitted": "affirm", "torque": "7.5", "suspect": "cylinder two", "rags": "three",
           "codes": "no codes", "part": "alfa one bravo two", "rail-pressure": "zero bar"}
