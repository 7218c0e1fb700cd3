"""One real full disk: a job fills it, goes on by voice, catches up when there is room, and its log holds.

    python tests/full_disk.py [--on ext4|tmpfs|limit]

`ext4`: a file system of one megabyte in a file (needs root, mkfs.ext4 and loop devices); `tmpfs`: one of 256 kB in memory
(needs root); `limit`: no file system of its own, but a limit on the size of the program's files, which anybody can set.
Without --on, the first of them that can be had. Three jobs of the real program: a whole one that meets the full disk on its way
and ends after there is room; one on the real clock that nobody speaks to; one that never gets room. Exit code 1 where a
promise is broken.
"""
from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path
from typing import Callable, Iterator

sys.path.insert(0, str(Path(__file__).parent))

from companion.core import events as ev  # noqa: E402
from companion.core.log.journal import Sealed  # noqa: E402
from disk_job import DiskJob, Wrong, answer, must  # noqa: E402
from running_job import PATIENCE_S, Nowhere, Program, read  # noqa: E402
from simulator import EVERY_KIND, TO  # noqa: E402

FULL = "The log cannot be written. The disk is full. What you say is kept in memory only. Make room."
SPARE = 6_000
"""Bytes left when it is filled up."""


class Filled:
    """A small file system with a file that can fill it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self._filler = folder, folder / "filler"

    def fill(self, program: Program) -> None:
        """Leave `SPARE` bytes."""
        room = os.statvfs(self.folder)
        try:
            with open(self._filler, "wb", buffering=0) as file:
                file.write(bytes(max(0, room.f_bavail * room.f_frsize - SPARE)))
                os.fsync(file.fileno())
        except OSError:
            pass

    def make_room(self, program: Program) -> None:
        """Take the file away."""
        self._filler.unlink()


class Limited:
    """No file of the program may grow."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self, program: Program) -> None:
        """Let the log grow by `SPARE` bytes at most."""
        most = max(path.stat().st_size for path in self.folder.glob("*.jsonl")) + SPARE
        resource.prlimit(program.pid, resource.RLIMIT_FSIZE, (most, resource.RLIM_INFINITY))

    def make_room(self, program: Program) -> None:
        """Let it grow again."""
        resource.prlimit(program.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


@contextmanager
def small_disk(kind: str, place: Path) -> Iterator["Filled | Limited"]:
    """A disk of that kind; it is taken away again. Raises OSError, CalledProcessError where there can be none."""
    folder = place / "disk"
    folder.mkdir()
    if kind == "limit":
        yield Limited(folder)
        return
    if kind == "ext4":
        image = place / "image"
        image.write_bytes(bytes(2**20))
        _run("mkfs.ext4", "-q", "-b", "1024", "-O", "^has_journal", "-m", "0", str(image))
        _run("mount", "-o", "loop", str(image), str(folder))
    else:
        _run("mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(folder))
    try:
        yield Filled(folder)
    finally:
        _run("umount", str(folder))


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True, timeout=60)


def _until(program: Program, words: str) -> None:
    """Read on until it says so."""
    while not any(words in line for line in program.printed):
        must(program.hear(PATIENCE_S), f"it says: {words}")


def a_whole_job(disk, card: Path) -> None:
    """It fills up on the way; the rest is worked by voice, and ends when there is room."""
    path = disk.folder / "whole.jsonl"
    program = Program(card, path, simulated=True)
    _until(program, "Lay the mat out.")
    disk.fill(program)
    asked = 0
    while not any(FULL in line for line in program.printed):
        program.give("repeat")
        asked += 1
        must(program.hear(PATIENCE_S) and asked < 400, "it says that the disk is full")
    before = path.read_bytes()
    for line in _to_the_end():
        program.give(line)
    _until(program, "The last step is done. The log cannot be written yet.")
    must(path.read_bytes() == before, "nothing half stands in the log")
    said = "\n".join(program.printed)
    for words in ("Fuel may be under high pressure.", "The pressure wait is over.", "Dry, or leaking?", "Not logged yet.",
                  "The log is still not written."):
        must(words in said, f"meanwhile it says: {words}")
    must("closing seal" not in said.lower(), "no seal is given before the log is written")
    disk.make_room(program)
    program.give("wait 5 s")
    must(program.ended() == 0 and "The closing seal." in "\n".join(program.printed), f"it ends, sealed: {program.errors}")
    must(_verify(path), "the log holds")
    entries = [entry for entry in _entries(path) if not isinstance(entry.event, Sealed)]
    held, caught = (next(n for n, entry in enumerate(entries) if isinstance(entry.event, kind))
                    for kind in (ev.LogHeldBack, ev.LogCaughtUp))
    must(entries[caught].event.entries == caught - held and len(path.read_bytes()) > len(before), "every entry is there")
    print(f"whole job: full after {asked} sayings, {caught - held} entries kept in memory, all written; verify holds")


def _to_the_end() -> Iterator[str]:
    """What the mechanic says from the first step to the last."""
    job = DiskJob(Nowhere.path, log=Nowhere())  # type: ignore[arg-type]
    while not job.companion.over:
        line = answer(job.job)
        yield f"wait {line} s" if isinstance(line, int) else line
        job.say(line)


def nobody_speaks(disk, card: Path) -> None:
    """On the real clock: it wakes by itself, and finds that there is room."""
    path = disk.folder / "quiet.jsonl"
    program = Program(card, path, simulated=False)
    _until(program, "Lay the mat out.")
    disk.fill(program)
    for _ in range(400):
        if any(FULL in line for line in program.printed):
            break
        program.give("repeat")
        program.hear(PATIENCE_S)
    disk.make_room(program)
    began = time.monotonic()
    _until(program, "The log is written again.")
    took = time.monotonic() - began
    must(took < 7, f"it is found within seven seconds, not {took:.1f}")
    program.kill()
    must(_verify(path), "the log holds")
    print(f"nobody speaks: caught up by itself {took:.1f} s after there was room")


def never_any_room(disk, card: Path) -> None:
    """What was never written is told at the end, with an exit code of 1; what was logged before is whole."""
    path = disk.folder / "never.jsonl"
    program = Program(card, path, simulated=True)
    _until(program, "Lay the mat out.")
    disk.fill(program)
    for _ in range(400):
        if any(FULL in line for line in program.printed):
            break
        program.give("repeat")
        program.hear(PATIENCE_S)
    for line in TO["torque"]:
        program.give(line)
    must(program.ended() == 1, "a job that was never written whole ends with exit code 1")
    must("never written, and are lost: the disk is full" in program.errors, f"it tells: {program.errors}")
    must("never written. They are lost." in program.printed[-1], "it says so")
    must(_verify(path), "what was logged before holds")
    print(f"never any room: {program.errors.strip().splitlines()[-1].partition(': ')[2].partition('. What')[0]}; exit code 1")


def _entries(path: Path) -> list:
    return read(path).entries


def _verify(path: Path) -> bool:
    command = [sys.executable, "-m", "companion", "verify", str(path)]
    return subprocess.run(command, capture_output=True, timeout=60).returncode == 0


JOBS: tuple[Callable, ...] = (a_whole_job, nobody_speaks, never_any_room)


def run(kind: str, place: Path) -> None:
    """Every job on a disk of that kind."""
    card = place / "card.yaml"
    card.write_text(EVERY_KIND, encoding="utf-8")
    os.environ["COMPANION_HOME"] = str(place / "home")
    with small_disk(kind, place) as disk:
        print(f"disk: {kind}")
        for work in JOBS:
            for old in disk.folder.glob("*.*"):
                old.unlink()
            work(disk, card)


def main() -> int:
    """The first kind of disk that can be had, or the one that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--on", choices=("ext4", "tmpfs", "limit"))
    args = parser.parse_args()
    for kind in (args.on,) if args.on else ("ext4", "tmpfs", "limit"):
        with tempfile.TemporaryDirectory() as place:
            try:
                run(kind, Path(place))
                return 0
            except Wrong as wrong:
                print(wrong, file=sys.stderr)
                return 1
            except (OSError, subprocess.CalledProcessError) as error:
                print(f"no disk of the kind {kind} can be had here: {error}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
