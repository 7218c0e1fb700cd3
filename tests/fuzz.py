"""Hostile input, guided by coverage, as long as one likes: `python tests/fuzz.py [TARGET …] --seconds N`.

Needs atheris (`pip install -e '.[fuzz]'`). Each target runs in a process of its own, in turn; a finding is written to the folder
`--out` with its traceback, once for each place in the program, and the run goes on. Exit code 1 where there was one.
"""
from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
import traceback
from collections import defaultdict
from pathlib import Path
from random import Random
from typing import Any

MOST_MB, LONGEST_S = 300, 10
"""Memory of a process, and seconds of one case: more of either is a finding. (What is printed are seconds of the processor.)"""
EXAMPLES = """examples:
  python tests/fuzz.py --seconds 3600          an hour, all targets in turn
  python tests/fuzz.py card log --seconds 60   two of them"""


def main() -> int:
    """Run the targets in turn until the time is over; say what was found."""
    parser = argparse.ArgumentParser(description=__doc__, epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("targets", nargs="*", metavar="TARGET")
    parser.add_argument("--seconds", type=float, default=60, help="of all targets together (default 60)")
    parser.add_argument("--slice", type=float, default=150, help="seconds of one target before the next has its turn")
    parser.add_argument("--out", type=Path, default=Path("fuzz-out"), help="findings, and what was learnt (default fuzz-out)")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.one:
        return one(args.one, args.seconds, args.out)
    sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]
    from hostile.all_targets import TARGETS
    names = args.targets or list(TARGETS)
    if unknown := set(names) - set(TARGETS):
        parser.error(f"{', '.join(unknown)}: must be one of {', '.join(TARGETS)}")
    totals = in_turn(names, args)
    return told(totals, args.out)


def in_turn(names: list[str], args: argparse.Namespace) -> dict[str, dict[str, Any]]:
    """What each target came to."""
    totals: dict[str, dict[str, Any]] = defaultdict(lambda: {"cases": 0, "seconds": 0.0, "slowest_s": 0.0, "peak_mb": 0, "ended": []})
    end, turn = time.monotonic() + args.seconds, 0
    while (left := end - time.monotonic()) > 1:
        name = names[turn % len(names)]
        turn += 1
        run_slice(name, min(left, args.slice), args.out, totals[name])
    return totals


def run_slice(name: str, seconds: float, out: Path, total: dict[str, Any]) -> None:
    """A process of its own; what it came to is added to `total`."""
    folder = out / name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "stats.json").unlink(missing_ok=True)
    command = [sys.executable, __file__, "--one", name, "--seconds", str(seconds), "--out", str(folder)]
    with open(folder / "log.txt", "ab") as log:
        code = subprocess.run(command, stdout=log, stderr=log, timeout=seconds + 120).returncode
    if (folder / "stats.json").exists():
        found = json.loads((folder / "stats.json").read_text())
        total["cases"] += found["cases"]
        total["seconds"] += found["seconds"]
        total["slowest_s"] = max(total["slowest_s"], found["slowest_s"])
        total["peak_mb"] = max(total["peak_mb"], found["peak_mb"])
    if code:
        total["ended"].append(code)


def told(totals: dict[str, dict[str, Any]], out: Path) -> int:
    """Print a line for each target and for all; the exit code."""
    print(f"{'target':9}{'cases':>10}{'seconds':>9}{'slowest':>10}{'peak MB':>9}{'findings':>10}")
    all_found = 0
    for name, total in totals.items():
        found = len(list((out / name).glob("finding-*.txt"))) + len(list((out / name).glob("crash-*")) + list((out / name).glob("timeout-*"))
                                                                     + list((out / name).glob("oom-*")))
        all_found += found + bool(total["ended"])
        print(f"{name:9}{total['cases']:>10,}{total['seconds']:>9.0f}{total['slowest_s']:>8.2f} s{total['peak_mb']:>9}{found:>10}"
              + (f"  ended early: {total['ended']}" if total["ended"] else ""))
    print(f"{'all':9}{sum(t['cases'] for t in totals.values()):>10,}{sum(t['seconds'] for t in totals.values()):>9.0f}"
          f"{max((t['slowest_s'] for t in totals.values()), default=0):>8.2f} s{max((t['peak_mb'] for t in totals.values()), default=0):>9}{all_found:>10}")
    return 1 if all_found else 0


# -- one target, in a process of its own -------------------------------------------------------------------------------

def one(name: str, seconds: float, folder: Path) -> int:
    """Fuzz one target, guided by coverage of the program."""
    import atheris
    sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parent.parent)]
    with atheris.instrument_imports(include=["companion"]):
        from hostile.all_targets import TARGETS
    target = TARGETS[name]
    corpus = folder / "corpus"
    corpus.mkdir(exist_ok=True)
    for place, seed in enumerate(target.seeds()):
        (corpus / f"seed-{place}").write_bytes(seed)
    run = Run(target, folder, seconds)

    def change(data: bytes, most: int, seed: int) -> bytes:
        if seed % 4 == 0:
            return atheris.Mutate(data, most)
        return target.change(data, Random(seed))[:most]

    options = [f"-max_total_time={max(1, int(seconds))}", f"-timeout={LONGEST_S}", f"-rss_limit_mb={MOST_MB}", "-max_len=50000", "-len_control=0",
               f"-artifact_prefix={folder}/", "-print_final_stats=1", "-verbosity=0", f"-seed={int(time.time()) % 2**31}"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], run.case, custom_mutator=change)
    atheris.Fuzz()
    return 0


class Run:
    """Counts the cases of one process, and keeps its findings."""

    def __init__(self, target: Any, folder: Path, seconds: float) -> None:
        self.target, self.folder = target, folder
        self.cases, self.slowest, self.began, self.saved = 0, 0.0, time.monotonic(), 0.0
        self.base = peak_mb()
        self.ends = self.began + seconds

    def case(self, data: bytes) -> None:
        """One case."""
        begin = time.process_time()
        try:
            self.target.feed(data)
        except Exception as error:
            self.keep(error, data)
        took = time.process_time() - begin
        self.cases += 1
        if took > self.slowest:
            self.slowest = took
            (self.folder / "slowest").write_bytes(data)
        if time.monotonic() - self.saved > 0.5:
            self.save()

    def keep(self, error: Exception, data: bytes) -> None:
        """Write a finding, the shortest case of each place."""
        from hashlib import sha256

        from hostile.all_targets import place_of
        place = place_of(error)
        case = self.folder / f"finding-{sha256(place.encode()).hexdigest()[:12]}"
        if not case.exists() or case.stat().st_size > len(data):
            case.write_bytes(data)
            case.with_suffix(".txt").write_text(place + "\n" + "".join(traceback.format_exception(error)), encoding="utf-8", errors="replace")

    def save(self) -> None:
        """What there is so far, for whoever started this process."""
        self.saved = time.monotonic()
        stats = {"cases": self.cases, "seconds": self.saved - self.began, "slowest_s": self.slowest, "peak_mb": peak_mb(), "base_mb": self.base}
        part = self.folder / "stats.part"
        part.write_text(json.dumps(stats))
        os.replace(part, self.folder / "stats.json")


def peak_mb() -> int:
    """Most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


if __name__ == "__main__":
    sys.exit(main())
