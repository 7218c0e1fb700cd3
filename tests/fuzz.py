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
from hashlib import sha256
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
    in_turn(names, args)
    return told(args.out)


def in_turn(names: list[str], args: argparse.Namespace) -> None:
    """Each target for a slice of the time, and again, until the time is over."""
    end, turn = time.monotonic() + args.seconds, 0
    while (left := end - time.monotonic()) > 1:
        run_slice(names[turn % len(names)], min(left, args.slice), args.out)
        turn += 1


def run_slice(name: str, seconds: float, out: Path) -> None:
    """A process of its own; what it came to is a line in `slices.jsonl`, so that a run may be gone on with."""
    folder = out / name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "stats.json").unlink(missing_ok=True)
    command = [sys.executable, __file__, "--one", name, "--seconds", str(seconds), "--out", str(folder)]
    with open(folder / "log.txt", "ab") as log:
        code = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log).returncode
    stats = folder / "stats.json"
    found = json.loads(stats.read_text()) if stats.exists() else {"cases": 0, "seconds": 0, "slowest_s": 0, "peak_mb": 0}
    with open(out / "slices.jsonl", "a") as slices:
        slices.write(json.dumps({"target": name, "code": code, **found}) + "\n")


def told(out: Path) -> int:
    """Print a line for each target and for all; the exit code."""
    slices = [json.loads(line) for line in (out / "slices.jsonl").read_text().splitlines()]
    print(f"{'target':9}{'cases':>10}{'seconds':>9}{'slowest':>10}{'peak MB':>9}{'findings':>10}")
    bad = 0
    for name in (*dict.fromkeys(one["target"] for one in slices), "all"):
        some = [one for one in slices if name in (one["target"], "all")]
        found = len(findings(out, "*" if name == "all" else name)) + sum(one["code"] != 0 for one in some)
        bad = max(bad, found)
        print(f"{name:9}{sum(one['cases'] for one in some):>10,}{sum(one['seconds'] for one in some):>9.0f}"
              f"{max(one['slowest_s'] for one in some):>8.2f} s{max(one['peak_mb'] for one in some):>9}{found:>10}")
    return 1 if bad else 0


def findings(out: Path, name: str) -> list[Path]:
    """Tracebacks, and what libFuzzer itself kept: crashes, timeouts, too much memory. A process that fails counts too."""
    return [path for kind in ("finding-*.txt", "crash-*", "timeout-*", "oom-*") for path in out.glob(f"{name}/{kind}")]


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
    run = Run(target, folder)

    def change(data: bytes, most: int, seed: int) -> bytes:
        if seed % 4 == 0:
            return atheris.Mutate(data, most)
        return target.change(data, Random(seed))[:most]

    options = [f"-max_total_time={max(1, int(seconds))}", f"-timeout={LONGEST_S}", f"-rss_limit_mb={MOST_MB}", "-max_len=50000",
               "-len_control=0", f"-artifact_prefix={folder}/", "-print_final_stats=1", "-verbosity=0",
               f"-seed={int(time.time()) % 2**31}"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], run.case, custom_mutator=change)
    atheris.Fuzz()
    return 0


class Run:
    """Counts the cases of one process, and keeps its findings."""

    def __init__(self, target: Any, folder: Path) -> None:
        self.target, self.folder = target, folder
        self.cases, self.slowest, self.began, self.saved = 0, 0.0, time.monotonic(), 0.0

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
        from hostile.all_targets import place_of
        place = place_of(error)
        case = self.folder / f"finding-{sha256(place.encode()).hexdigest()[:12]}"
        if not case.exists() or case.stat().st_size > len(data):
            case.write_bytes(data)
            told = "".join((place, "\n", *traceback.format_exception(error)))
            case.with_suffix(".txt").write_text(told, encoding="utf-8", errors="replace")

    def save(self) -> None:
        """What there is so far, for whoever started this process."""
        self.saved = time.monotonic()
        stats = {"cases": self.cases, "seconds": self.saved - self.began, "slowest_s": self.slowest, "peak_mb": peak_mb()}
        part = self.folder / "stats.part"
        part.write_text(json.dumps(stats))
        os.replace(part, self.folder / "stats.json")


def peak_mb() -> int:
    """Most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


if __name__ == "__main__":
    sys.exit(main())
