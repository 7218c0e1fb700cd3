"""One real hour of a live job between two null sinks, with the noise of an idling engine: what fails, what memory does.

    python tests/hour.py [MINUTES] [--snr DECIBELS] [--json FILE]

Not a test of the default run. A synthetic mechanic speaks about every twelve seconds, now and then above the companion's
own voice, spells nothing, and leaves the job at the end. Exit code 1 where a goal is missed.
"""
from __future__ import annotations

import argparse
import itertools
import json
import os
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from workshop import Workshop, engine  # noqa: E402

SAYINGS = ("repeat", "how long", "options", "where was I", "louder", "quieter", "slower", "faster", "detail",
           "timer one minutes", "say again", "memo")
"""Commands that leave the job at its first step."""
SETTLED_S = 600
"""Memory is judged from here on."""
MOST_GROWTH = 0.05


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
    growth: float = 0.0
    """Of memory, from the mean of the second ten minutes to the mean of the last ten, as a share."""


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
                _say(workshop, job, saying, number)
                found.said += 1
                _look(job.pid, found)
            found.processor = _processor_seconds(job.pid) / (time.monotonic() - begun)
            _leave(workshop, job)
            found.errors = [line.text for line in job.lines if _is_fault(line.text)]
            found.logged = sum('"ear":"embedded"' in line for line in log.read_text("utf-8").splitlines())
            from companion.__main__ import main
            found.verified = main(["verify", str(log)]) == 0
    found.growth = _growth(found.memory_mb, minutes)
    return found


def _say(workshop: Workshop, job, saying: str, number: int) -> None:
    """One command, every fifth above the companion's own voice; then time for the answer."""
    if number % 5 == 4:
        began = workshop.air.now
        workshop.say("repeat")
        speaks = workshop.air.wait(lambda: workshop.air.first_sound(began) is not None, 6)
        job.printed_within("nothing is printed like this", began, 1.5 if speaks else 0.1)
    said = workshop.say(saying)
    if saying == "memo" and job.printed_within("Speak after the tone", said.begin, 5):
        workshop.hear_out(job, "Speak after the tone", said.begin)
        workshop.say("the return line is cracked near the third injector")
    job.printed_within("nothing is printed like this", said.end, 8)


def _leave(workshop: Workshop, job) -> None:
    for _ in range(5):
        said = workshop.say("stop job")
        if job.printed_within("Stop the job", said.begin, 6) or job.printed_within("affirm", said.begin, 1):
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


def _growth(memory: list[float], minutes: float) -> float:
    tenth = max(1, round(len(memory) * 10 / max(minutes, 10)))
    settled = memory[tenth:] or memory
    return float(np.mean(settled[-tenth:]) / np.mean(settled[:tenth]) - 1)


def _is_fault(text: str) -> bool:
    return "Traceback" in text or "Error" in text or "has failed" in text or text.startswith("companion: the ")


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
    print(*found.errors[:10], sep="\n")
    return 0 if found.verified and not found.errors and found.growth <= MOST_GROWTH else 1


if __name__ == "__main__":
    sys.exit(main())
