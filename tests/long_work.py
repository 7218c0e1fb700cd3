"""Eight hours of work on the simulated clock, 5,000 utterances, through the real core and the real log: what grows, what drifts.

    python tests/long_work.py [HOURS] [--utterances N] [--json FILE]

A mechanic waits for pressure to fall, goes a step back, and waits again, for hours; in between everything is said that
a wait allows. No sound. Goals: every mark, end and question at its exact millisecond on the clock that counts; the program's
memory flat within 5 % after the first sixteenth; the log holds, and replays to the state the job is in. Exit code 1 where one
is missed.
"""
from __future__ import annotations

import argparse
import gc
import io
import itertools
import json
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from companion.core.events import Hearing  # noqa: E402
from companion.core.job.inputs import Heard, Now, Opened, Unheard  # noqa: E402
from companion.core.log.journal import public_hex  # noqa: E402
from companion.edge.clock import SimulatedClock  # noqa: E402
from companion.edge.device import device_key  # noqa: E402
from companion.edge.logfile import LogFile  # noqa: E402
from companion.edge.loop import Companion, replayed  # noqa: E402
from companion.edge.mouth import PrintedMouth  # noqa: E402
from companion.edge.simulation import Simulation  # noqa: E402
from simulator import EVERY_KIND, TO, TOOLS  # noqa: E402

SAYINGS = ("how long", "options", "", "timer one minute", "where was I", "repeat", "cancel timer", "what torque", "brief words",
           "full words", "purple elephants", "timer three minutes", "louder", "quieter", "detail", "forty bar", "pause", "resume")
"""What a wait allows, and what it refuses; "" stands for speech of which nothing is understood."""
MOST_GROWTH = 0.05


@dataclass
class Work:
    """What came of it."""

    hours: float
    utterances: int = 0
    events: int = 0
    log_mb: float = 0.0
    seconds: float = 0.0
    memory_mb: list[float] = field(default_factory=list)
    """Resident, at each sixteenth."""
    late: list[str] = field(default_factory=list)
    """Marks and ends that did not come at their moment."""
    clocks: int = 0
    """Waits and timers that ran out, and marks that were reached."""
    state_kb: list[float] = field(default_factory=list)
    """The state of the job, as text, at each sixteenth."""
    waits: int = 0
    holds: bool = False

    @property
    def growth(self) -> float:
        """Of memory from the end of the first sixteenth to the end."""
        return self.memory_mb[-1] / self.memory_mb[0] - 1 if self.memory_mb else 0.0

    @property
    def reached(self) -> bool:
        """All goals."""
        return self.holds and not self.late and self.growth <= MOST_GROWTH and self.clocks > 0


def work(hours: float, utterances: int, folder: Path) -> Work:
    """Works for so long; everything is said in even steps of time."""
    found, begun, path = Work(hours), time.perf_counter(), folder / "long.jsonl"
    clock = SimulatedClock(Now(1_700_000_000_000, 1_000_000))
    simulation, step_ms = Simulation(clock), round(hours * 3_600_000 / utterances)
    with LogFile.create(path, device_key(folder)) as log:
        mouth = PrintedMouth(simulation.report, _Nowhere())
        simulation.companion = companion = Companion(log, clock, mouth)
        simulation.take(_opened(folder))
        for line in TO["pressure-wait"]:
            simulation.take(_said(line))
        for number, saying in enumerate(itertools.islice(itertools.cycle(SAYINGS), utterances), 1):
            simulation.wait(step_ms)
            at_wait = companion.job.mode in ("waiting", "paused")
            simulation.take(_said(saying) if at_wait else _said("previous step"))
            found.utterances += 1
            if number % max(1, utterances // 16) == 0:
                _look(found, companion)
        found.events, job = companion.events, companion.job
    found.log_mb = path.stat().st_size / 1e6
    found.seconds = time.perf_counter() - begun
    log, entries, torn = LogFile.resume(path, device_key(folder))  # raises where the chain or its last seal does not hold
    log.close()
    found.holds = not torn and replayed(entries) == job
    _check_clocks(found, entries)
    return found


class _Nowhere(io.TextIOBase):
    """Takes what is printed and keeps none of it."""

    def write(self, text: str) -> int:
        return len(text)


def _opened(folder: Path) -> Opened:
    return Opened("every-kind", EVERY_KIND, sha256(EVERY_KIND.encode()).hexdigest(), "test", "simulated long work",
                  public_hex(device_key(folder)), "test ear", "none", tools_name="tools.yaml", tools_text=TOOLS,
                  tools_sha256=sha256(TOOLS.encode()).hexdigest())


def _said(text: str):
    hearing = Hearing(text, Decimal("0.97"), "test ear")
    return Heard(hearing) if text else Unheard(hearing)


def _look(found: Work, companion: Companion) -> None:
    gc.collect()
    found.state_kb.append(len(repr(companion.job)) / 1024)
    if not Path("/proc/self/status").exists():  # only Linux tells so simply
        return
    status = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines() if ":" in line)
    found.memory_mb.append(int(status["VmRSS"].split()[0]) / 1024)


def _check_clocks(found: Work, entries) -> None:
    """Every mark and end of the log against the moment at which its clock began."""
    began: dict[str, tuple[int, int]] = {}
    for entry in entries:
        event, name = entry.event, type(entry.event).__name__
        if name == "ClockStarted":
            began[event.clock] = (entry.up, event.lasts_ms)
            found.waits += event.kind == "wait"
        elif name in ("ClockEnded", "MarkReached"):
            up, lasts = began[event.clock]
            left = event.left_ms if name == "MarkReached" else 0
            found.clocks += 1
            if entry.up - up != lasts - left:
                found.late.append(f"line {entry.n + 1}: {name} {event.clock} {entry.up - up - lasts + left:+} ms")


def main() -> int:
    """Runs, prints, and judges."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("hours", nargs="?", type=float, default=8)
    parser.add_argument("--utterances", type=int, default=5_000)
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = work(args.hours, args.utterances, Path(folder))
    if args.json:
        args.json.write_text(json.dumps(asdict(found)), encoding="utf-8")
    mb = found.memory_mb or [0.0]
    print(f"{found.hours:g} h, {found.utterances} utterances, {found.events} events, a log of {found.log_mb:.1f} MB, in "
          f"{found.seconds:.1f} s; {found.waits} waits; {found.clocks} marks and ends, {len(found.late)} not at their moment; "
          f"memory {mb[0]:.1f} to {mb[-1]:.1f} MB ({found.growth:+.1%}); the job's state "
          f"{found.state_kb[0]:.0f} to {found.state_kb[-1]:.0f} kB; log {'holds' if found.holds else 'DOES NOT HOLD'}")
    print(*found.late[:10], sep="\n")
    return 0 if found.reached else 1


if __name__ == "__main__":
    sys.exit(main())
