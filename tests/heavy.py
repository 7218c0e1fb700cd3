"""Input that is hostile by its size, given to the real program: `python tests/heavy.py` prints time and memory of each command.

Exit code 1 where one takes more than `MOST_MB` (what its libraries need by themselves is in the first lines), ends in a
traceback, or is still at it after its time. `--small` leaves out what needs a gigabyte of disk and minutes."""
from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Iterator, NamedTuple

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]

MOST_MB = 300
_TYPED = ("--typed", "--clock", "simulated", "--voice", "none", "--log")
CHECK, VERIFY, RECORD, REVIEW = ("check", "FILE"), ("verify", "FILE"), ("record", "FILE"), ("review", "FOLDER", "--workers", "1")
WORK, TOOLS = ("job", "FILE", *_TYPED, "FOLDER/new.jsonl"), ("job", "road-wheels", *_TYPED, "FOLDER/new.jsonl", "--tools", "FILE")
RESUME, BEGIN = ("job", "learning", *_TYPED, "FILE"), ("job", "learning", *_TYPED, "FOLDER/new.jsonl")
HEAR, PDF = ("hear", "FILE", "--answer", "commands"), (*RECORD, "--pdf")


class Heavy(NamedTuple):
    """One file and the commands that meet it."""

    what: str
    make: str
    """An expression over `hostile.huge`: that module needs more memory than what is measured."""
    file: str
    commands: tuple[tuple[str, ...], ...]
    """FILE stands for its path, FOLDER for its folder."""
    big: bool = False
    """Needs much disk and time."""


HEAVY = (
    Heavy("nothing, for comparison", "text('')", "a.wav", (("check", "learning"), HEAR, BEGIN, REVIEW)),
    Heavy("billion laughs", "text(LAUGHS)", "a.yaml", (CHECK,)),
    Heavy("a card of 20,000 steps", "steps(20_000)", "a.yaml", (CHECK,)),
    Heavy("a card of 1,000,000 steps", "steps(1_000_000)", "a.yaml", (CHECK, WORK)),
    Heavy("a card of 1 GB", "zeros(FULL)", "a.yaml", (CHECK, WORK, TOOLS)),
    Heavy("a card 200,000 levels deep", "text('[' * 200_000)", "a.yaml", (CHECK,)),
    Heavy("a card of one long line", "text('card: 1\\nid: ' + 'a ' * 450_000)", "a.yaml", (CHECK,)),
    Heavy("a log that is a line of 1 GB", "zeros(FULL)", "a.jsonl", (VERIFY, RECORD, RESUME, REVIEW)),
    Heavy("a sidecar of 200 MB", "long_sidecar(200)", "a.jsonl", (VERIFY, RECORD), big=True),
    Heavy("a log of 1 GB, well chained", "long_log(FULL)", "a.jsonl", (VERIFY, RECORD, RESUME, REVIEW), big=True),
    Heavy("a log of 30 MB, well chained", "long_log(30)", "a.jsonl", (VERIFY, RECORD, REVIEW), big=True),
    Heavy("a log of 8 MB, well chained", "long_log(7.9)", "a.jsonl", (VERIFY, RECORD, PDF, REVIEW), big=True),
    Heavy("a log of 1 MB, well chained", "long_log(0.9)", "a.jsonl", (RECORD, PDF), big=True),
    Heavy("a key of 1 GB", "zeros(FULL)", "home/device.key", (BEGIN,)),
    Heavy("a memo of 1 GB", "heavy_memo(FULL)", "a.jsonl", (VERIFY, RECORD), big=True),
    Heavy("1,024 channels at 384 kHz", "many_channels", "a.wav", (HEAR,)),
    Heavy("a sound file of 1 GB", "zeros(FULL)", "a.wav", (HEAR,)),
    Heavy("100 hours of silence in 4 MB", "quiet_flac(100)", "a.flac", (HEAR,), big=True),
)
PATIENCE_S = 600


class Ran(NamedTuple):
    """What became of a command."""

    code: int
    seconds: float
    """Of the processor."""
    peak_mb: int
    said: str

    @property
    def wrong(self) -> str:
        """Why it was not right; "" where it was."""
        if self.code not in (0, 1, 2):
            return "STILL AT IT" if self.code < 0 else f"EXIT CODE {self.code}"
        return "TRACEBACK" if "Traceback" in self.said else "TOO MUCH MEMORY" if self.peak_mb > MOST_MB else ""


def run(command: tuple[str, ...], home: Path) -> Ran:
    """Run the program on a command; it is ended where it goes on for too long."""
    env = {**os.environ, "COMPANION_HOME": str(home)}
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen([sys.executable, "-m", "companion", *command], stdin=subprocess.DEVNULL, stdout=said,
                                   stderr=said, env=env)
        clock = threading.Timer(PATIENCE_S, process.kill)
        clock.start()
        _, status, usage = os.wait4(process.pid, 0)
        clock.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read(20_000).decode("utf-8", "replace")
    return Ran(process.returncode, usage.ru_utime + usage.ru_stime, usage.ru_maxrss // 1024, text)


def make(one: Heavy, path: Path) -> None:
    """Write the file, in a process of its own: a command begins with the peak of the process that starts it."""
    path.parent.mkdir(exist_ok=True)
    script = f"import sys; sys.path[:0] = {sys.path[:2]!r}\nfrom hostile.huge import *\n({one.make})(Path({str(path)!r}))"
    subprocess.run([sys.executable, "-c", script], check=True)


def measured(chosen: list[Heavy]) -> Iterator[tuple[Heavy, tuple[str, ...], Ran]]:
    """Each file in a folder of its own, and each command on it."""
    for one in chosen:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / one.file
            make(one, path)
            for command in one.commands:
                given = tuple(part.replace("FILE", str(path)).replace("FOLDER", folder) for part in command)
                yield one, command, run(given, Path(folder) / "home")


def main() -> int:
    """Print a line for each; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="leave out what needs a gigabyte of disk and minutes")
    parser.add_argument("--only", default="", help="only files whose name holds this")
    args = parser.parse_args()
    failed, begin = 0, time.monotonic()
    for one, command, ran in measured([one for one in HEAVY if not (args.small and one.big) and args.only in one.what]):
        failed += bool(ran.wrong)
        last = (ran.said.strip().splitlines() or [""])[-1][-90:]
        name = command[0] + " --pdf" * ("--pdf" in command)
        print(f"{one.what:30}{name:13}exit {ran.code:2}{ran.seconds:7.1f} s{ran.peak_mb:5} MB  {ran.wrong or last}", flush=True)
    print(f"{failed} of them wrong, {time.monotonic() - begin:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
