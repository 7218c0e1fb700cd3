"""Thousands of simulated crashes of a real job on a simulated disk, from one seed; nothing acknowledged may be lost.

    python tests/crashes.py [--crashes N] [--seed S]

A mechanic works a card with a step of every kind; its log is written by the real modules to `failing_disk.Disk`. At a random
call on the disk the power is cut, the files become what that disk may hold, and the job is taken up again by the real
`LogFile.resume`, over and over until it ends; then comes the next job. Some disks also fail for a while before. Exit code 1
where anything acknowledged is lost, or a job does not go on where it stood.
"""
from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random
from typing import Callable, Optional

sys.path.insert(0, str(Path(__file__).parent))

from companion.core import events as ev  # noqa: E402
from companion.core.job.state import Job  # noqa: E402
from companion.core.log.chain import BadLine, Chain, replay  # noqa: E402
from companion.core.log.evidence import examine  # noqa: E402
from companion.core.log.journal import Entry, Sealed  # noqa: E402
from companion.core.log.sidecar import read_sidecar  # noqa: E402
from companion.edge.logfile import LogFile  # noqa: E402
from companion.edge.loop import replayed  # noqa: E402
from companion.errors import BadInput, BrokenMachine  # noqa: E402
from disk_job import DiskJob, Wrong, answer, must  # noqa: E402
from failing_disk import KINDS, Disk, PowerCut, slow, whole  # noqa: E402
from logmaker import KEY  # noqa: E402

MOST_SAYINGS = 400
"""A job has some 40; who needs so many goes round in circles."""


@dataclass
class Tally:
    """What came of the crashes of one kind."""

    crashes: int = 0
    acknowledged: int = 0
    """Entries that had been acknowledged and were looked for after it: those of a job at each of its crashes."""
    lost: int = 0
    torn: int = 0
    """Crashes that left an unfinished end, which was told."""
    unacknowledged: int = 0
    """Whole entries of which nobody had been told: never more than the last decision."""
    held: int = 0
    """Crashes while the log was held back."""


class _Unsealed(LogFile):
    """A log without the words for the customer's sheet: they are slow to work out on purpose, and no part of this."""

    closing_seal = ""


class Life:
    """One job, through all its crashes."""

    def __init__(self, path: Path, rng: Random) -> None:
        self.path, self.rng = path, rng
        self.acknowledged: list[Entry] = []
        self.trying: tuple[ev.Event, ...] = ()
        """The decision that is being written."""
        self.job: Optional[DiskJob] = None
        self.left: Optional[Tally] = None
        """Of the kind of the last crash, until it has been looked what it left."""
        self.starts = 0
        self.over = False

    def crash(self, way: str, set_up: Callable[[Disk, Random], None], tally: Tally) -> None:
        """Work on such a disk until the power is cut, or the job is over."""
        disk = Disk(self.rng, self.rng.choice((16, 512, 4096)))
        set_up(disk, self.rng)
        disk.cut_in = self.rng.randint(0, 60)
        with disk.under():
            try:
                self._begin()
                if not self.over:
                    self._work()
                return
            except PowerCut:
                self.left = tally
                tally.crashes += 1
                tally.held += bool(self.job and self.job.job and self.job.job.held)
            except (BadInput, BrokenMachine) as error:  # the disk failed at the very start, so the job is not begun
                must(self.job is None and set_up not in (whole, slow), f"a job goes on whatever the disk does: {error}")
            disk.cut_in = None
            disk.reboot(way)

    def look(self) -> None:
        """Whether all is there after the last crash."""
        if self.left:
            self._begin()
            if self.job:
                self.job.close()

    def _begin(self) -> None:
        """Open the job, or take it up again and look whether all is there."""
        before, self.job = self.job, None
        self.starts += 1
        if not self.path.exists():
            must(not self.acknowledged, "the log is there while anything was acknowledged")
            log, entries, torn = self._watch(LogFile.create(self.path, KEY)), [], b""
        elif ended := finished(self.path):  # and only the words for it were never heard
            self._look(ended, b"", before)
            return self._end(ended)
        else:
            log, entries, torn = LogFile.resume(self.path, KEY)
            self._look(entries, torn, before)
            self._watch(log)
        self.acknowledged, self.trying = entries, ()
        job = DiskJob.taken_up(log, entries, torn, f"boot {self.starts + 1}")
        if entries:
            self._must_go_on(replayed(entries), job, torn)
        self.job = job

    def _watch(self, log: LogFile) -> LogFile:
        append = log.append
        log.__class__ = _Unsealed  # type: ignore[assignment]

        def watched(events, at: str, up: int) -> list[Entry]:
            self.trying = tuple(events)
            entries = append(events, at, up)
            self.acknowledged, self.trying = self.acknowledged + entries, ()
            return entries
        log.append = watched  # type: ignore[method-assign]
        return log

    def _work(self) -> None:
        for _ in range(MOST_SAYINGS):
            if self.job.companion.over:
                break
            self.job.say(answer(self.job.job))
        must(self.job.companion.over, "the job comes to its end")
        self.job.close()
        must(replayed(self.acknowledged) == self.job.job, "the log gives the state of the job")
        self._end(self.acknowledged)

    def _end(self, entries: list[Entry]) -> None:
        """The job is over: what its log must be."""
        self.acknowledged, self.over = entries, True
        lines = self.path.read_bytes().splitlines(keepends=True)
        beside = read_sidecar(self.path.with_suffix(".personal").read_bytes().splitlines(keepends=True))
        report = examine(lambda: lines, beside=beside.texts)
        must(report.holds and report.finished, f"the log holds, {report.bad}")
        must(not beside.bad and not beside.torn and not report.personal[1], "the sidecar holds")

    # -- after a crash -------------------------------------------------------------------------------------------------

    def _look(self, entries: list[Entry], torn: bytes, before: Optional[DiskJob]) -> None:
        known, tally = len(self.acknowledged), self.left or Tally()
        self.left = None
        tally.acknowledged += known
        tally.lost += sum(one != other for one, other in zip(entries, self.acknowledged)) + max(0, known - len(entries))
        must(entries[:known] == self.acknowledged, "every acknowledged entry is there, as it was")
        more = tuple(entry.event for entry in entries[known:] if not isinstance(entry.event, Sealed))
        must(more == self.trying[:len(more)], "what else is there is the decision that was being written")
        tally.unacknowledged += len(more)
        tally.torn += bool(torn)
        if before is not None and not before.job.held and not before.job.done:
            must(replayed(entries[:known]) == before.job, "the log gives the state of the job")

    def _must_go_on(self, before: Job, job: DiskJob, torn: bytes) -> None:
        """The step and the clocks are those of the log, and the loss is said and logged."""
        after = job.job
        must(after.at == before.at and after.trail == before.trail, "it goes on at the same step")
        for name, clock in before.clocks.items():
            must(after.clocks[name].left(after.last_up_ms) == clock.left(before.last_up_ms), f"clock {name} stands as it stood")
        said = "The last entry was cut off and was never logged." in " ".join(job.spoken)
        must(said == bool(torn), "a loss is said")
        told = [entry.event for entry in self.acknowledged if isinstance(entry.event, ev.JobResumed)]
        must(after.held or told[-1].torn_bytes == len(torn), "a loss is logged")


def finished(path: Path) -> list[Entry]:
    """The entries of a log whose end is sealed; none of any other."""
    beside, chain = path.with_suffix(".personal"), Chain(str(path))
    texts = read_sidecar(beside.read_bytes().splitlines(keepends=True)).texts if beside.exists() else {}
    try:
        entries = list(replay(path.read_bytes().splitlines(keepends=True), texts, chain))
    except BadLine:
        return []
    return entries if chain.finished else []


def run(crashes: int, seed: int, folder: Path) -> dict[str, Tally]:
    """So many crashes, the kinds in turn."""
    tallies = {kind: Tally() for kind in KINDS}
    rng, life, lives, turn = Random(seed), None, 0, 0
    while sum(tally.crashes for tally in tallies.values()) < crashes:
        if life is None or life.over:
            lives += 1
            life = Life(folder / f"{lives}.jsonl", rng)
        kind = tuple(KINDS)[turn % len(KINDS)]
        turn += 1
        try:
            life.crash(*KINDS[kind], tallies[kind])
        except Wrong as wrong:
            raise Wrong(f"seed {seed}, turn {turn}, {kind}: {wrong}") from wrong
    life.look()
    return tallies


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--crashes", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        try:
            tallies = run(args.crashes, args.seed, Path(folder))
        except Wrong as wrong:
            print(wrong, file=sys.stderr)
            return 1
    print(f"{'kind of crash':40}{'crashes':>9}{'acknowledged':>14}{'lost':>6}{'torn':>7}{'more':>7}{'held':>7}")
    total = Tally(*map(sum, zip(*(asdict(tally).values() for tally in tallies.values()))))
    for kind, tally in (*tallies.items(), ("all", total)):
        counts = "".join(f"{count:{width}}" for count, width in zip(asdict(tally).values(), (9, 14, 6, 7, 7, 7)))
        print(f"{kind:40}{counts}")
    print(f"{time.monotonic() - began:.0f} s, seed {args.seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
