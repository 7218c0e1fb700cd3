"""Making many jobs on all cores, and writing them down: the logs, what is planted in them, and the office's own log."""
from __future__ import annotations

import json
import multiprocessing
import os
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Iterator

from companion.core.log.journal import beside_name
from companion.edge.device import wall
from companion.errors import BrokenMachine
from companion.office.account import read_account
from companion.office.fleet.depot import DRIFTING, WORSE_PART
from companion.office.fleet.editions import OFFICE, register
from companion.office.fleet.making import Made, made, practice_key
from companion.office.fleet.plan import planned
from companion.office.fleet.toolroom import tools_name
from companion.office.holds import holds_passed
from companion.office.review_log import HoldSignedOff, review_bytes, review_path, reviewed
from companion.office.review_log.seen import Memory

PLANTED, TRENDS = "planted.json", "trends.json"
_BATCH = 20
"""Jobs that a process is given at once."""


@dataclass(frozen=True)
class Fleet:
    """What was made, without the logs themselves."""

    jobs: tuple[Made, ...]
    """In the order of their numbers; `log` and `sidecar` are empty, since they are on the disk."""

    @property
    def entries(self) -> int:
        """Lines of all logs."""
        return sum(job.entries for job in self.jobs)

    def counted(self, of: str) -> Counter[str]:
        """How many jobs there are of each card ("card"), or with each plant ("plant")."""
        return Counter(getattr(job, of) for job in self.jobs if getattr(job, of))

    def findings(self) -> Counter[str]:
        """In how many jobs each finding is planted."""
        return Counter(name for job in self.jobs for name in job.findings)


def write_job(seed: int, folder: Path, number: int) -> Made:
    """Make one job and write it: the log in one piece. What it is, without its bytes."""
    job = made(seed, number)
    (folder / job.name).write_bytes(job.log)
    if job.sidecar:
        (folder / beside_name(job.name)).write_bytes(job.sidecar)
    marks = holds_passed(read_account(folder / job.name)) if job.holds else {}
    seen = tuple(step for step in job.holds if step in marks)  # of a damaged log, what can still be read
    return replace(job, log=b"", sidecar=b"", holds=seen, hold_marks=tuple(marks[step] for step in seen))


def write_fleet(seed: int, jobs: int, folder: Path) -> Iterator[Made]:
    """Make and write jobs 1 to `jobs`, each as it is done; in order. Raises BrokenMachine."""
    try:
        yield from _made(seed, jobs, folder)
    except OSError as error:
        raise BrokenMachine(str(error.filename or folder), f"cannot be written: {error.strerror or error}",
                            do="Make room, or name another folder with --out") from None


def _made(seed: int, jobs: int, folder: Path) -> Iterator[Made]:
    write = partial(write_job, seed, folder)
    workers = os.cpu_count() or 1
    if jobs <= _BATCH or workers == 1:
        yield from map(write, range(1, jobs + 1))
        return
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield from pool.map(write, range(1, jobs + 1), chunksize=_BATCH)


def write_papers(seed: int, fleet: Fleet, folder: Path) -> None:
    """What is planted in each log, what spans the jobs, and the office's log with the cards' approvals."""
    _write(folder / PLANTED, _lines({job.name: list(job.findings) for job in fleet.jobs}))
    plans = [planned(seed, number) for number in range(1, len(fleet.jobs) + 1)]
    again = [[plan.name, fleet.jobs[plan.comeback_of - 1].name] for plan in plans if plan.comeback_of]
    trends = {"drifting_tools": tools_name(DRIFTING), "worse_part": WORSE_PART, "comebacks": again}
    _write(folder / TRENDS, _lines(trends))
    signed = [(job.ended, HoldSignedOff(by=OFFICE, log=job.name, step=step, reason="Looked at the record.", seal=mark))
              for job in fleet.jobs for step, mark in zip(job.holds, job.hold_marks)]
    review_path(folder).parent.mkdir(exist_ok=True)
    review_path(folder).write_bytes(review_bytes([*register(), *signed], practice_key(seed)))
    Memory("", folder).keep(reviewed(review_path(folder).read_bytes().splitlines(keepends=True)), wall())  # it is ours


def _lines(found: dict[str, object]) -> str:
    """JSON with one entry a line."""
    entries = (f"{json.dumps(name)}: {json.dumps(value)}" for name, value in found.items())
    return "{\n" + ",\n".join(entries) + "\n}\n"


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
