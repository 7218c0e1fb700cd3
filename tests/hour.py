"""One real hour of a live job between two null sinks, with the noise of an idling engine: what fails, what is not noticed,
what memory, threads and clocks do.

    python tests/hour.py [MINUTES] [--snr DECIBELS] [--json FILE]

Not a test of the default run. A synthetic mechanic speaks about every twelve seconds, now and then above the companion's
own voice, spells nothing, and leaves the job at the end. Goals: no fault, the log holds, memory flat within 5 % after the
first ten minutes, no more threads at the end than then, every timer over within half a second of its moment on both
clocks, and each saying noticed: taken, or asked for again. Exit code 1 where one is missed.
"""
from __future__ import annotations

import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from companion.core.log.rfc3339 import milliseconds  # noqa: E402
from workshop import ROOT, Workshop, engine  # noqa: E402

SAYINGS = ("repeat", "how long", "options", "where was I", "louder", "quieter", "slower", "faster", "detail",
           "timer one minutes", "say again", "memo")
"""Commands that leave the job at its first step."""
SETTLED_S = 600
"""Memory and threads are judged from here on; in a short run, from the end of its first third."""
MOST_GROWTH = 0.05
MOST_LATE_MS = 500
"""So late a timer may end: the disk and the processor are shared."""
ABOVE = 5
"""Every so many sayings one is above the companion's own voice: there it passes over what means nothing."""


@dataclass
class Hour:
    """What came of it."""

    minutes: float
    snr_db: float
    said: int = 0
    logged: int = 0
    """Events that came from what was heard."""
    errors: list[str] = field(default_factory=list)
    """Lines of the program that tell of a fault."""
    memory_mb: list[float] = field(default_factory=list)
    """Resident, twice a minute."""
    processor: float = 0.0
    """Share of one core, over all."""
    threads: list[int] = field(default_factory=list)
    verified: bool = False
    unnoticed: list[str] = field(default_factory=list)
    """Sayings in the clear of which the log tells nothing: no answer, no "say again"."""
    passed_over: int = 0
    """The same above the companion's own voice, where that may be."""
    late_ms: list[int] = field(default_factory=list)
    """How late each timer ended, by the clock that counts."""
    drift_ms: list[int] = field(default_factory=list)
    """How much longer each timer took by the time of day than by the clock that counts."""
    faltered: list[str] = field(default_factory=list)
    """Parts that failed for a moment, or were lost, or time that was set, by the log."""
    growth: float = 0.0
    """Of memory, from the mean of the second ten minutes to the mean of the last ten, as a share."""

    @property
    def settled(self) -> int:
        """How many looks at memory and threads fell into the time that does not count."""
        return round(len(self.memory_mb) * min(SETTLED_S / 60 / max(self.minutes, 0.01), 1 / 3))


def run(minutes: float, snr_db: float) -> Hour:
    """Works for so long, then leaves the job."""
    found = Hour(minutes, snr_db)
    with tempfile.TemporaryDirectory() as place:
        log = Path(place, "hour.jsonl")
        with Workshop(Path(place, "home"), echo_db=-10, noise=engine(), snr_db=snr_db, keep_s=5) as workshop:
            job = workshop.start("job", "learning", "--log", str(log), "--no-room-check")
            workshop.hear_out(job, "Unroll the tools", seconds=40)
            begun = time.monotonic()
            for number, saying in enumerate(itertools.cycle(SAYINGS)):
                if time.monotonic() - begun > minutes * 60:
                    break
                before = log.stat().st_size
                above = _say(workshop, job, saying, number)
                found.said += 1
                _notice(found, log, before, f"{number}: {saying}", above)
                _look(job.pid, found)
            found.processor = _processor_seconds(job.pid) / (time.monotonic() - begun)
            _leave(workshop, job)
            found.errors = [line.text for line in job.lines if _is_fault(line.text)]
            found.logged = sum('"ear":"embedded"' in line for line in log.read_text("utf-8").splitlines())
            _read(log, found)
            found.verified = subprocess.run([sys.executable, "-m", "companion", "verify", str(log)], cwd=ROOT,
                                            check=False).returncode == 0
    found.growth = _growth(found.memory_mb, found.settled)
    return found


def _say(workshop: Workshop, job, saying: str, number: int) -> bool:
    """One command, every fifth above the companion's own voice; then time for the answer. Whether the voice sounded then."""
    if number % ABOVE == ABOVE - 1:
        began = workshop.air.now
        workshop.say("repeat")
        speaks = workshop.air.wait(lambda: workshop.air.first_sound(began) is not None, 6)
        job.printed_within("nothing is printed like this", began, 1.5 if speaks else 0.1)
    said = workshop.say(saying)
    above = bool(workshop.air.sounding(said.begin, said.end).any())
    if saying == "memo" and job.printed_within("Speak after the tone", said.begin, 5):
        workshop.hear_out(job, "Speak after the tone", said.begin)
        workshop.say("the return line is cracked near the third injector")
    job.printed_within("nothing is printed like this", said.end, 8)
    return above


def _leave(workshop: Workshop, job) -> None:
    for _ in range(5):
        said = workshop.say("stop job")
        if job.printed_within("Leave the job?", said.begin, 6):
            job.printed_within("nothing is printed like this", said.end, 6)
            said = workshop.say("affirm")
            if job.printed_within("The job is left", said.begin, 8):
                job.ended(30)
                return


def _look(pid: int, found: Hour) -> None:
    status = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines() if ":" in line)
    found.memory_mb.append(int(status["VmRSS"].split()[0]) / 1024)
    found.threads.append(int(status["Threads"]))


def _processor_seconds(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _notice(found: Hour, log: Path, before: int, saying: str, above: bool) -> None:
    """Whether the log tells of what was just said. Of a memo it tells that it was kept, or that nobody spoke."""
    with open(log, "rb") as file:
        file.seek(before)
        new = file.read()
    if b'"ear":"embedded"' in new or b'"event":"memo_' in new:
        return
    if above:
        found.passed_over += 1
    else:
        found.unnoticed.append(saying)


def _read(log: Path, found: Hour) -> None:
    """Timers against both clocks, and what failed, as the log tells it."""
    begun: dict[str, tuple[int, int, int]] = {}
    for entry in map(json.loads, log.read_text("utf-8").splitlines()):
        data, up, at = entry["data"], entry["up"], milliseconds(entry["at"])
        if entry["event"] == "clock_started":
            begun[data["clock"]] = (up, at, data["lasts_ms"])
        elif entry["event"] == "timer_cancelled":
            begun.pop(data["clock"], None)
        elif entry["event"] == "clock_ended" and data["clock"] in begun:
            began_up, began_at, lasts = begun.pop(data["clock"])
            found.late_ms.append(up - began_up - lasts)
            found.drift_ms.append(at - began_at - (up - began_up))
        elif entry["event"] in ("part_faltered", "sound_was_lost", "time_of_day_set", "sound_stuttered"):
            found.faltered.append(f"{entry['event']} {data}")


def _growth(memory: list[float], settled: int) -> float:
    tenth = max(1, settled)
    rest = memory[tenth:] or memory
    return float(np.mean(rest[-tenth:]) / np.mean(rest[:tenth]) - 1)


def _missed(found: Hour) -> list[str]:
    """The goals that were not reached."""
    threads = found.threads[found.settled:]
    clocks = [*found.late_ms, *map(abs, found.drift_ms)]
    return [what for what, missed in {
        "the log does not hold": not found.verified,
        "something failed": found.errors or any("stuttered" not in one for one in found.faltered),
        "memory grew": found.growth > MOST_GROWTH,
        "threads were left behind": not threads or min(threads[-5:]) > max(threads[:5]),
        "sayings were not noticed": found.unnoticed,
        "no timer ended, or one at the wrong moment": not clocks or not 0 <= max(clocks) <= MOST_LATE_MS or min(clocks) < 0,
    }.items() if missed]


def _is_fault(text: str) -> bool:
    return ("Traceback" in text or "Error" in text or "failed" in text or "takes over" in text
            or text.startswith("companion: the "))


def main() -> int:
    """Runs, prints, and judges."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("minutes", nargs="?", type=float, default=60)
    parser.add_argument("--snr", type=float, default=10)
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    found = run(args.minutes, args.snr)
    if args.json:
        args.json.write_text(json.dumps(asdict(found)), encoding="utf-8")
    print(f"{found.minutes:.0f} min at {found.snr_db:.0f} dB: said {found.said}, events logged from sound {found.logged}, faults "
          f"{len(found.errors)}, log {'holds' if found.verified else 'DOES NOT HOLD'}, memory {found.memory_mb[0]:.0f} to "
          f"{found.memory_mb[-1]:.0f} MB, growth after ten minutes {found.growth:+.1%}, threads {max(found.threads)}, "
          f"{found.processor:.0%} of a core")
    print(f"not noticed {len(found.unnoticed)}, passed over above its own voice {found.passed_over}, timers "
          f"{len(found.late_ms)}, at most {max(found.late_ms, default=0)} ms late and {max(map(abs, found.drift_ms), default=0)} "
          f"ms apart on both clocks, threads {found.threads[found.settled]} then and {found.threads[-1]} at the end")
    print(*found.errors[:10], *found.faltered[:20], *found.unnoticed[:20], sep="\n")
    missed = _missed(found)
    print("GOALS MISSED: " + "; ".join(missed) if missed else "all goals reached")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
