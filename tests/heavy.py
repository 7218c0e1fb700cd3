"""Input that is hostile by its size, given to the real program: `python tests/heavy.py` prints seconds and memory of each command.

Exit code 1 where one takes more than `MOST_MB` (what its libraries need by themselves is shown beside it), ends in a traceback,
or is still at it after its time. `--small` leaves out what needs a gigabyte of disk."""
from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Callable, Iterator, NamedTuple

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]

MOST_MB = 300


class Heavy(NamedTuple):
    """One command on one file."""

    what: str
    command: tuple[str, ...]
    """FILE stands for the file's path, FOLDER for its folder."""
    file: str
    make: Callable[[Path], None]
    seconds: float = 60
    big: bool = False
    """Needs much disk and time."""


class Ran(NamedTuple):
    """What became of it."""

    code: int
    seconds: float
    peak_mb: int
    said: str


def run(command: tuple[str, ...], seconds: float, env: dict[str, str]) -> Ran:
    """Run the program on a command; it is ended after `seconds`."""
    begin = time.monotonic()
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen([sys.executable, "-m", "companion", *command], stdin=subprocess.DEVNULL, stdout=said, stderr=said, env=env)
        clock = threading.Timer(seconds, process.kill)
        clock.start()
        _, status, usage = os.wait4(process.pid, 0)
        clock.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read(20_000).decode("utf-8", "replace")
    return Ran(process.returncode, time.monotonic() - begin, usage.ru_maxrss // 1024, text)


def wrong_with(ran: Ran) -> str:
    """Why it was not right; "" where it was."""
    if ran.code not in (0, 1, 2):
        return "still at it" if ran.code < 0 else f"exit code {ran.code}"
    return "traceback" if "Traceback" in ran.said else "too much memory" if ran.peak_mb > MOST_MB else ""


# -- what is heavy -----------------------------------------------------------------------------------------------------

LAUGHS = "a: &a [lol, lol, lol, lol, lol, lol, lol, lol, lol]\n" + "".join(
    f"{one}: &{one} [{', '.join(['*' + before] * 9)}]\n" for before, one in zip("abcdefgh", "bcdefghi"))


def text_of(text: Callable[[], str]) -> Callable[[Path], None]:
    """Writes a text."""
    return lambda path: path.write_text(text(), "utf-8") and None


def zeros(megabytes: int) -> Callable[[Path], None]:
    """A file of nothing, which takes no room on the disk."""
    def make(path: Path) -> None:
        with open(path, "wb") as file:
            file.truncate(megabytes * 2**20)
    return make


def steps(count: int) -> str:
    """A card of so many steps."""
    from hostile.texts import SMALL
    return SMALL + "".join(f"  - {{id: s{n}, say: Turn it., answer: done}}\n" for n in range(count))


def long_log(megabytes: int) -> Callable[[Path], None]:
    """A whole, well chained job log of that size: somebody paused for ever."""
    def make(path: Path) -> None:
        from hostile.texts import SMALL
        from simulator import Simulator
        from companion.core import events as ev
        from companion.core.log.chain import Chain
        from companion.core.log.rfc3339 import stamp
        from dataclasses import replace
        from logmaker import KEY
        from companion.core.log.journal import public_hex
        job, chain = Simulator(SMALL), Chain()
        with open(path, "wb") as file:
            for place, (event, now) in enumerate(zip(job.events, job.stamps)):
                event = event if place else replace(event, key=public_hex(KEY), format=1)
                file.write(chain.add(event, stamp(now.at_ms), now.up_ms, lambda: bytes(16))[0])
            note = ev.NotUnderstood(step="look", failures=1, heard=ev.Hearing("what was that " * 10))
            while chain.size < megabytes * 2**20:
                file.write(chain.add(note, stamp(now.at_ms), now.up_ms, lambda: bytes(16))[0])
    return make


def long_sidecar(megabytes: int) -> Callable[[Path], None]:
    """A short log with a very long sidecar."""
    def make(path: Path) -> None:
        from companion.core.log.codec import personal_hash
        long_log(0)(path)
        with open(path.with_suffix(".personal"), "wb") as file:
            for n in range(megabytes * 2**20 // 1_000 + 1):
                salt, text = n.to_bytes(16, "big"), "x" * 830
                file.write(b'{"salt":"%s","sha256":"%s","text":"%s"}\n' % (salt.hex().encode(), personal_hash(salt, text).encode(), text.encode()))
    return make


def quiet_flac(hours: float) -> Callable[[Path], None]:
    """Hours of silence in some kilobytes."""
    def make(path: Path) -> None:
        import numpy as np
        import soundfile
        with soundfile.SoundFile(path, "w", 8_000, 1, format="FLAC", subtype="PCM_16") as file:
            minute = np.zeros(8_000 * 60, np.int16)
            for _ in range(int(hours * 60)):
                file.write(minute)
    return make


def many_channels(path: Path) -> None:
    """A WAV file that says it has 1024 channels at 384 kHz; two hundred megabytes of nothing."""
    import struct
    size = 200 * 2**20
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", size + 36) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1024, 384_000, 384_000 * 2048 % 2**32, 2048, 16)
                   + b"data" + struct.pack("<I", size))
        file.truncate(size + 44)


def heavy_memo(megabytes: int) -> Callable[[Path], None]:
    """A log that names a memo of that size, with its right hash."""
    def make(path: Path) -> None:
        import hashlib
        from hostile.logs import split
        from hostile.texts import SMALL
        from companion.core.job.inputs import MemoTaken
        from hostile.logs import log_of
        from simulator import Simulator
        found, piece = hashlib.sha256(), bytes(2**20)
        memo = path.with_name(f"{path.stem}.memo-1.wav")
        zeros(megabytes)(memo)
        for _ in range(megabytes):
            found.update(piece)
        job = Simulator(SMALL, ear="test ear").say("memo")
        job.take(MemoTaken(1, memo.name, found.hexdigest(), 900, "a note"))
        path.write_bytes(split(log_of(job))[0])
    return make


HEAR, TYPED = ("hear", "FILE", "--answer", "commands"), ("--typed", "--clock", "simulated", "--voice", "none", "--log", "FOLDER/new.jsonl")
HEAVY = (
    Heavy("nothing, for comparison", ("check", "learning"), "a", zeros(0)),
    Heavy("billion laughs", ("check", "FILE"), "a.yaml", text_of(lambda: LAUGHS)),
    Heavy("a card of 20,000 steps", ("check", "FILE"), "a.yaml", text_of(lambda: steps(20_000))),
    Heavy("a card of 1,000,000 steps", ("check", "FILE"), "a.yaml", text_of(lambda: steps(1_000_000))),
    Heavy("a card of 1 GB", ("check", "FILE"), "a.yaml", zeros(1000)),
    Heavy("a card 200,000 levels deep", ("check", "FILE"), "a.yaml", text_of(lambda: "[" * 200_000)),
    Heavy("a card of one long line", ("check", "FILE"), "a.yaml", text_of(lambda: "card: 1\nid: " + "a " * 450_000)),
    Heavy("a card of 1 GB, worked", ("job", "FILE", *TYPED), "a.yaml", zeros(1000)),
    Heavy("a tool list of 1 GB", ("job", "road-wheels", *TYPED, "--tools", "FILE"), "a.yaml", zeros(1000)),
    Heavy("a log that is one line of 1 GB", ("verify", "FILE"), "a.jsonl", zeros(1000)),
    Heavy("a log that is one line of 1 GB", ("record", "FILE"), "a.jsonl", zeros(1000)),
    Heavy("a log that is one line of 1 GB", ("job", "learning", *TYPED[:-1], "FILE"), "a.jsonl", zeros(1000)),
    Heavy("a folder with it", ("review", "FOLDER", "--workers", "1"), "a.jsonl", zeros(1000)),
    Heavy("a sidecar of 200 MB", ("verify", "FILE"), "a.jsonl", long_sidecar(200), big=True),
    Heavy("a log of 1 GB, well chained", ("verify", "FILE"), "a.jsonl", long_log(1000), 300, big=True),
    Heavy("a log of 1 GB, well chained", ("record", "FILE"), "a.jsonl", long_log(1000), big=True),
    Heavy("a log of 1 GB, well chained", ("job", "nut", *TYPED[:-1], "FILE"), "a.jsonl", long_log(1000), big=True),
    Heavy("a log of 15 MB, well chained", ("record", "FILE"), "a.jsonl", long_log(15), 120, big=True),
    Heavy("a log of 15 MB, well chained", ("record", "FILE", "--pdf"), "a.jsonl", long_log(15), 120, big=True),
    Heavy("a log of 60 MB, well chained", ("review", "FOLDER", "--workers", "1"), "a.jsonl", long_log(60), 120, big=True),
    Heavy("a key of 1 GB", ("job", "learning", *TYPED), "home/device.key", zeros(1000)),
    Heavy("a memo of 1 GB", ("verify", "FILE"), "a.jsonl", heavy_memo(1000)),
    Heavy("a memo of 1 GB", ("record", "FILE"), "a.jsonl", heavy_memo(1000)),
    Heavy("1,024 channels at 384 kHz", HEAR, "a.wav", many_channels),
    Heavy("a sound file of 100 hours, 4 MB", HEAR, "a.flac", quiet_flac(100), 3600, big=True),
    Heavy("a sound file of 1 GB", HEAR, "a.wav", zeros(1000)),
)


def measured(chosen: list[Heavy]) -> Iterator[tuple[Heavy, Ran]]:
    """Each of them, in a folder of its own."""
    for one in chosen:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / one.file
            path.parent.mkdir(exist_ok=True)
            subprocess.run([sys.executable, __file__, "--make", str(HEAVY.index(one)), str(path)], check=True)  # a child begins with its parent's peak
            command = tuple(part.replace("FILE", str(path)).replace("FOLDER", folder) for part in one.command)
            yield one, run(command, one.seconds, {**os.environ, "COMPANION_HOME": str(Path(folder) / "home")})


def main() -> int:
    """Print a line for each; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="leave out what needs a gigabyte of disk")
    parser.add_argument("--only", default="", help="only those whose name or command holds this")
    parser.add_argument("--make", nargs=2, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.make:
        return HEAVY[int(args.make[0])].make(Path(args.make[1])) or 0
    chosen = [one for one in HEAVY if not (args.small and one.big) and args.only in f"{one.what}: {' '.join(one.command)}"]
    failed = 0
    for one, ran in measured(chosen):
        wrong = wrong_with(ran)
        failed += bool(wrong)
        print(f"{one.what:34}{one.command[0]:8}exit {ran.code:2}{ran.seconds:8.1f} s{ran.peak_mb:6} MB  {wrong.upper()}  "
              f"{(ran.said.strip().splitlines() or [''])[-1][:110]}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
