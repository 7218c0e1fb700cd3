"""How fast many logs are reviewed, beside DuckDB's own reader of JSON over the same lines, and by one process and two.

`python -m companion.office.review.bench [JOBS]`; the figures stand in the README."""
from __future__ import annotations

import shutil
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Callable

import duckdb

from companion.office.fleet.writing import write_fleet
from companion.office.review.indexing import update
from companion.office.review.live import INDEX
from companion.office.review.opening import open_index
from companion.office.review.store import Store

JOBS, NEW, ROUNDS = 2000, 10, 3


@dataclass(frozen=True)
class Reviewing:
    """Medians over `rounds`, in turn; seconds."""

    jobs: int
    lines: int
    rounds: int
    alone_s: float
    """By one process, every chain and signature checked and every finding worked out."""
    two_s: float
    """By two."""
    reader_s: float
    """DuckDB reading the same lines as JSON, on two threads, and nothing else."""
    new_s: float
    """When ten logs are new, with opening the index."""

    @property
    def faster(self) -> float:
        """By two processes, against one."""
        return self.alone_s / self.two_s

    @property
    def beside_reader(self) -> float:
        """Two processes against DuckDB's two threads."""
        return self.two_s / self.reader_s

    @property
    def good(self) -> bool:
        """As fast as was promised: see the README."""
        return self.faster >= 1.7 and self.beside_reader <= 20 and self.new_s <= 3 and self.two_s / self.jobs <= 0.006


def measure(jobs: int = JOBS, rounds: int = ROUNDS) -> Reviewing:
    """All of it over so many made jobs."""
    with tempfile.TemporaryDirectory(prefix="companion-bench-") as folder:
        logs = Path(folder)
        for _ in write_fleet(1, jobs, logs):
            pass
        taken: dict[str, list[float]] = {"alone": [], "two": [], "reader": [], "new": []}
        for _ in range(rounds):
            taken["reader"].append(_seconds(lambda: _read(logs)))
            taken["alone"].append(_seconds(lambda: _anew(logs, 1)))
            taken["two"].append(_seconds(lambda: _anew(logs, 2)))
            taken["new"].append(_seconds(lambda: _some_new(logs)))
        middle = {what: median(found) for what, found in taken.items()}
        return Reviewing(jobs, _read(logs), rounds, middle["alone"], middle["two"], middle["reader"], middle["new"])


def _seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _anew(logs: Path, workers: int) -> None:
    shutil.rmtree(logs / INDEX, ignore_errors=True)
    update(Store(str(logs)), workers)


def _some_new(logs: Path) -> None:
    for path in sorted(logs.glob("*.jsonl"))[:NEW]:
        path.touch()
    update(Store(str(logs)))
    open_index(Store(str(logs)))


def _read(logs: Path) -> int:
    """How many lines DuckDB reads; what is no JSON, as in a damaged log, is passed over."""
    columns = ("{'at': 'VARCHAR', 'data': 'JSON', 'event': 'VARCHAR', 'n': 'BIGINT', 'prev': 'VARCHAR', 'step': 'VARCHAR', "
               "'up': 'BIGINT'}")
    with duckdb.connect() as database:
        database.execute("SET threads = 2")
        return database.execute(
            f"SELECT count(*), sum(length(prev)), sum(length(data::VARCHAR)) FROM read_json('{logs}/*.jsonl', "
            f"format='newline_delimited', ignore_errors=true, maximum_object_size={2**23}, columns={columns})").fetchone()[0]


if __name__ == "__main__":
    found = measure(*map(int, sys.argv[1:2]))
    print(f"{found.jobs} logs, {found.lines} lines, every chain checked: {found.two_s:.1f} s by two processes "
          f"({1000 * found.two_s / found.jobs:.1f} ms a log, at most 6), {found.faster:.2f} times as fast as by one (at least "
          f"1.7), {found.beside_reader:.1f} times as long as DuckDB takes to read the lines as JSON (at most 20); ten new logs "
          f"and the index opened in {found.new_s:.1f} s (at most 3); medians, n = {found.rounds}: "
          f"{'good' if found.good else 'too slow'}")
