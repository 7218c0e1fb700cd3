"""The real program between two null sinks while its parts fail one after the other: told, logged, healed, and the job goes on.

    python tests/failing_parts.py [FAULT…] [--json FILE]

Takes some three minutes of real time. A synthetic mechanic says "repeat" after each fault, until it is answered. The ear
throws once, throws all the time, stalls, runs out of memory; the voice cannot render; the thread that owns the devices
fails; the sound server is killed and comes back. Exit code 1 where something was not told, not logged, or did not heal.
"""
from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from workshop import ROOT, Program, Workshop  # noqa: E402

WITHIN_S = 40
SAYINGS = 5


@dataclass
class Fault:
    """One fault and what came of it."""

    name: str
    printed: str
    """What the companion must say; "" where the voice is what fails."""
    logged: tuple[tuple[str, str], ...]
    """Events and parts that the log must hold, in order."""
    lasts: bool = False
    """Whether it goes on until it is ended."""
    spoken: bool = True
    """Whether the mechanic must speak for it to come out."""
    missing: list[str] = field(default_factory=list)
    healed_s: float = 0.0
    """From the fault's beginning to the next answered "repeat"."""


FAULTS = (
    Fault("ear-once", "I missed that.", (("part_faltered", "ear"),)),
    Fault("ear-throws", "I cannot hear you now.", (("sound_was_lost", "ear"), ("sound_was_found", "ear")), lasts=True),
    Fault("ear-stalls", "I cannot hear you now.", (("sound_was_lost", "ear"), ("sound_was_found", "ear"))),
    Fault("ear-memory", "I cannot hear you now.", (("sound_was_lost", "ear"), ("sound_was_found", "ear"))),
    Fault("voice-throws", "My voice has failed.", (("sound_was_lost", "voice"), ("sound_was_found", "voice")), lasts=True),
    Fault("thread-dies", "Something failed: the sound devices.", (("part_faltered", "sound devices"),), spoken=False),
    Fault("sound-server", "The loudspeaker is back.", (
        ("sound_was_lost", "microphone"), ("sound_was_lost", "loudspeaker"), ("sound_was_found", "microphone"),
        ("sound_was_found", "loudspeaker")), spoken=False),
)


class Bench:
    """The program at work, with its log and the folder that tells it to fail."""

    def __init__(self, workshop: Workshop, folder: Path) -> None:
        self.workshop, self.faults, self.log = workshop, folder / "faults", folder / "job.jsonl"
        self.faults.mkdir()
        workshop.module = "tests.faulty_companion"
        self.job: Program = workshop.start("job", "learning", "--log", str(self.log), "--no-room-check",
                                           FAULTS=str(self.faults), PYTHONPATH=str(Path(__file__).parent))

    def work(self, fault: Fault) -> None:
        """Lets it happen, sees what is told and logged, and that the next "repeat" is answered."""
        begun, began, size = time.monotonic(), self.workshop.air.now, self.log.stat().st_size
        if fault.name == "sound-server":
            self.workshop.restart_server()
        else:
            (self.faults / fault.name).touch()
        self._until_printed(fault, began)
        (self.faults / fault.name).unlink(missing_ok=True)
        if len(fault.logged) > 1 and not self._logged(size, fault.logged):
            fault.missing.append("it is not in the log")
        if not self._answered():
            fault.missing.append("no answer after it")
        fault.healed_s = time.monotonic() - begun
        if not self._logged(size, fault.logged):
            fault.missing.append(f"the log lacks one of {fault.logged}")

    def leave(self) -> int:
        """By "stop job"; the exit code."""
        for _ in range(SAYINGS):
            said = self.workshop.say("stop job")
            if self.job.printed_within("Leave the job?", said.begin, 8):
                self.workshop.hear_out(self.job, "Leave the job?", said.begin)
                said = self.workshop.say("affirm")
                if self.job.printed_within("The job is left", said.begin, 8):
                    return self.job.ended(60)
        return -1

    def _until_printed(self, fault: Fault, began: float) -> None:
        for _ in range(SAYINGS):
            if fault.spoken:
                self.workshop.say("where was I" if fault.name == "voice-throws" else "repeat")
            if self.job.printed_within(fault.printed, began, 8 if fault.spoken else WITHIN_S):
                return
        fault.missing.append(f"{fault.printed!r} was not said")

    def _logged(self, size: int, wanted: tuple[tuple[str, str], ...]) -> bool:
        """Whether the log tells so after its first `size` bytes, soon."""
        limit = time.monotonic() + WITHIN_S
        while time.monotonic() < limit:
            with open(self.log, "rb") as file:
                file.seek(size)
                entries = [json.loads(line) for line in file if line.endswith(b"\n")]
            told = [(entry["event"], entry["data"].get("part", "")) for entry in entries]
            if all(one in told for one in wanted):
                return True
            self.job.printed_within("nothing is printed like this", self.workshop.air.now, 0.5)
        return False

    def _answered(self) -> bool:
        for _ in range(SAYINGS):
            size = self.log.stat().st_size
            self.workshop.say("repeat")
            limit = time.monotonic() + 8
            while time.monotonic() < limit:
                with open(self.log, "rb") as file:
                    file.seek(size)
                    if b'"event":"repeated"' in file.read():
                        return True
                self.job.printed_within("nothing is printed like this", self.workshop.air.now, 0.3)
        return False


def main() -> int:
    """Runs, prints, and judges."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("faults", nargs="*", metavar="FAULT", help=", ".join(fault.name for fault in FAULTS) + "; all by default")
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    faults = [fault for fault in FAULTS if not args.faults or fault.name in args.faults]
    with tempfile.TemporaryDirectory() as place, Workshop(Path(place, "home"), keep_s=30) as workshop:
        bench = Bench(workshop, Path(place))
        workshop.hear_out(bench.job, "Unroll the tools", seconds=60)
        for fault in faults:
            bench.work(fault)
            print(f"{fault.name:14} healed in {fault.healed_s:5.1f} s {'; '.join(fault.missing)}", flush=True)
        code = bench.leave()
        held = subprocess.run([sys.executable, "-m", "companion", "verify", str(bench.log)], cwd=ROOT,
                              check=False).returncode == 0
        if any(fault.missing for fault in faults) or code:
            print(bench.job.printed)
    if args.json:
        args.json.write_text(json.dumps([vars(fault) for fault in faults]), encoding="utf-8")
    missed = sum(bool(fault.missing) for fault in faults)
    print(f"{len(faults)} faults, {missed} not told, logged and healed; the job ended with {code}; log "
          f"{'holds' if held else 'DOES NOT HOLD'}")
    return 0 if not missed and not code and held else 1


if __name__ == "__main__":
    sys.exit(main())
