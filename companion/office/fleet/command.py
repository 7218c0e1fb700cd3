"""`companion demo --jobs N`: many made jobs in a folder, and how many of each finding are planted in them."""
from __future__ import annotations

import sys
import time
from pathlib import Path

from rich.console import Console
from rich.progress import track

from companion.office.findings import KINDS
from companion.office.fleet.writing import PLANTED, Fleet, write_fleet, write_papers
from companion.terminal import clean

#: What no mechanic's act on a made job can bring, and why.
UNPLANTED = {"protective-wait-cut-short": "the companion refuses to end such a wait",
             "uncertainty-differs": "the companion works it out itself",
             **dict.fromkeys(("alarm-raised", "help-called", "alarm-unheard"), "a made mechanic answers every check"),
             "not-signed-off": "the companion signs off with the last step",
             **dict.fromkeys(("log-held-back", "log-not-caught-up"), "a made log has no disk"),
             "log-missing": "every log is there", "log-shortened": "every log is whole",
             "log-copied": "every log is there once",
             **dict.fromkeys(("key-unknown", "key-revoked", "key-revoked-later"), "only an office with trusted keys knows")}


def make(folder: Path, jobs: int, seed: int) -> int:
    """Make them; the exit code. Raises BrokenMachine."""
    began = time.monotonic()
    console = Console(stderr=True)
    made = track(write_fleet(seed, jobs, folder), "making jobs", jobs, console=console, disable=not sys.stderr.isatty())
    fleet = Fleet(tuple(made))
    write_papers(seed, fleet, folder)
    _tell(fleet, seed, folder, time.monotonic() - began)
    return 0


def _tell(fleet: Fleet, seed: int, folder: Path, seconds: float) -> None:
    jobs = len(fleet.jobs)
    print(f"{jobs} jobs from seed {seed} in {seconds:.0f} seconds, {jobs / seconds:.1f} a second; "
          f"{fleet.entries / jobs:.0f} lines a job on average")
    print("cards: " + ", ".join(f"{card} {count}" for card, count in sorted(fleet.counted("card").items())))
    planted = fleet.counted("plant")
    print(f"planted: something in {sum(planted.values())} jobs")
    found = fleet.findings()
    for name in KINDS:
        if name in found:
            print(f"  {name:26}{found[name]:6}")
    never = [name for name in KINDS if name not in found]
    if never:
        print("not planted: " + ", ".join(name + _why_never(name) for name in never))
    print(f"logs: {clean(str(folder))}\nwhat is planted in each: {clean(str(folder / PLANTED))}")


def _why_never(name: str) -> str:
    return f" ({UNPLANTED[name]})" if name in UNPLANTED else ""
