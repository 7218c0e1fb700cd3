"""The machine without its sound: Python, packages, disk, clocks, key."""
from __future__ import annotations

import os
import platform
import re
import shutil
import sys
import tempfile
import time
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from statistics import median

from companion import VERSION
from companion.core.log.rfc3339 import stamp
from companion.edge.alone.calling import read_contacts
from companion.edge.device import KEY_FILE, home, public_key
from companion.edge.alone.options import CONTACTS
from companion.edge.ready.finding import Finding, fine, missing, to_do, weak

PYTHONS = ((3, 10), (3, 13))
PROGRAM = "job-companion"
LEAST_MB, ENOUGH_MB = 20, 500
"""A log takes under 1 MB a job, a minute's memo about 1 MB: own choice."""
SLOW_MS = 100
"""What is said to be logged is on the disk first: with this much each answer comes noticeably late. Own choice."""
BORN_MS = 1_795_564_800_000
"""2026-11-25: no clock that is right shows an earlier time."""
_WRITES = 15


def python() -> Finding:
    """Is it a version that the program was made for?"""
    there = f"Python {platform.python_version()} on {platform.system()} {platform.release()}, companion {VERSION}."
    if PYTHONS[0] <= sys.version_info[:2] <= PYTHONS[1]:
        return fine(there, python=platform.python_version(), companion=VERSION)
    return missing(f"{there} Versions 3.10 to 3.13 are needed.", to_do("python"))


def packages() -> Finding:
    """Are all packages there, in versions that will do?"""
    try:
        wanted = [line for line in requires(PROGRAM) or [] if "extra ==" not in line]
    except PackageNotFoundError:
        return weak("Run from its folder and not installed: its packages were not compared.", to_do("program"))
    there = {name: _version(name) for name in map(_name, wanted)}
    bad = [line for line in wanted if not satisfies(there[_name(line)], line)]
    if not bad:
        return fine(f"All {len(wanted)} packages are there.", packages=there)
    found = ", ".join(f"{_name(line)} {there[_name(line)] or 'is not there'}" for line in bad)
    return missing(f"{len(bad)} of {len(wanted)} packages will not do: {found}.",
                   to_do("packages", packages=" ".join(f'"{line}"' for line in bad)), packages=there)


def satisfies(found: str, wanted: str) -> bool:
    """Whether version `found` ("" for none) meets a requirement such as "numpy>=1.26" or "a>=1,<3".

    Only numbers are compared. Raises KeyError for an operator that is none of >=, <=, ==, <, >.
    """
    limits = re.findall(r"([<>=!~]+)\s*([\d.]+)", wanted)
    return bool(found) and all(_COMPARE[sign](_numbers(found), _numbers(limit)) for sign, limit in limits)


_COMPARE = {">=": lambda a, b: a >= b, "<=": lambda a, b: a <= b, "==": lambda a, b: a == b, "<": lambda a, b: a < b,
            ">": lambda a, b: a > b}


def _numbers(text: str) -> tuple[int, ...]:
    numbers = [int(part) for part in re.match(r"\d+(\.\d+)*", text)[0].split(".")]
    return (*numbers, 0, 0, 0, 0)[:5]


def _name(requirement: str) -> str:
    return re.match(r"[\w.-]+", requirement)[0]


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def disk() -> Finding:
    """Can a log be written where jobs are kept, how much, and how fast?"""
    folder = home() / "jobs"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        sync_ms = _sync_ms(folder)
        free_mb = shutil.disk_usage(folder).free // 1_000_000
    except OSError as fault:
        return missing(f"{folder} cannot be written: {fault.strerror or fault}.", to_do("home"), folder=str(folder))
    return judge_disk(folder, free_mb, sync_ms)


def judge_disk(folder: Path, free_mb: int, sync_ms: float) -> Finding:
    """A writable folder with so much space, where one entry takes so long."""
    figures = {"folder": str(folder), "free_mb": free_mb, "sync_ms": round(sync_ms, 2)}
    found = f"{folder} takes an entry in {sync_ms:.1f} ms and has {free_mb:,} MB free."
    if free_mb < LEAST_MB:
        return missing(found, to_do("space"), **figures)
    if free_mb < ENOUGH_MB:
        return weak(found, to_do("space"), **figures)
    return weak(found, to_do("home"), **figures) if sync_ms > SLOW_MS else fine(found, **figures)


def _sync_ms(folder: Path) -> float:
    """How long a line takes until it is on the disk, the median of 15. Raises OSError."""
    times = []
    with tempfile.TemporaryFile(dir=folder, buffering=0) as file:
        for _ in range(_WRITES):
            begun = time.perf_counter()
            file.write(b"x" * 400 + b"\n")
            os.fsync(file.fileno())
            times.append((time.perf_counter() - begun) * 1000)
    return median(times)


def clock() -> Finding:
    """Does the time of day look right, and does the steady clock go on while the machine sleeps?"""
    now_ms = time.time_ns() // 1_000_000
    return judge_clock(now_ms, _latest_ms(home() / "jobs"), sys.platform, hasattr(time, "CLOCK_BOOTTIME"))


def judge_clock(now_ms: int, latest_ms: int, system: str, boottime: bool) -> Finding:
    """`latest_ms` is when a log was last written, 0 for never; milliseconds since 1970."""
    zone = time.strftime("%Z, %z", time.localtime(now_ms / 1000))
    figures = {"at": stamp(now_ms), "zone": zone}
    found = f"It is {time.strftime('%Y-%m-%d %H:%M', time.localtime(now_ms / 1000))} ({zone}); logs are written in UTC."
    if now_ms < max(BORN_MS, latest_ms):
        before = "a log that is here already" if latest_ms > now_ms else "this program"
        found = f"{found} The right time is missing: that is before {before} was written."
        return missing(found, to_do("clock", system), **figures)
    if system not in ("win32", "darwin") and not boottime:
        found = f"{found} Waits stand still while the machine sleeps."
        return weak(found, "Let the machine not sleep during a job", **figures)
    return fine(f"{found} Waits go on while the machine sleeps.", **figures)


def _latest_ms(folder: Path) -> int:
    logs = folder.glob("*.jsonl") if folder.is_dir() else ()
    return max((int(path.stat().st_mtime * 1000) for path in logs), default=0)


def key() -> Finding:
    """Is the device's key there, or could one be made? Raises BrokenMachine where not."""
    new = not (home() / KEY_FILE).exists()
    public, locked = public_key()
    lock = " Its passphrase is asked for when a job begins." if locked else ""
    return fine(f"{'Made now' if new else 'There'}: {home() / KEY_FILE}, public part {public[:16]}….{lock}", public=public)


def contacts() -> Finding:
    """Is there anybody who gets a message when a lone mechanic does not answer? None is a choice, not a fault."""
    path = home() / CONTACTS
    if not path.is_file():
        return weak("No one is called when a lone mechanic does not answer.", to_do("contacts", path=path), contacts=0)
    count = len(read_contacts(path))
    return fine(f"{count} in {path}. Each is told of a test once a day.", contacts=count) if count else weak(
        f"{path} holds no address: no one is called when a lone mechanic does not answer.", to_do("contacts", path=path), contacts=0)
