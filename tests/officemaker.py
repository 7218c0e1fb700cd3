"""Small folders of job logs for the tests of the office: whole jobs of the simulator, written as a device would."""
from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Iterable

from companion.core.log.chain import Chain
from companion.core.log.journal import public_hex
from companion.core.log.rfc3339 import stamp
from companion.core.log.sidecar import dump_sidecar
from companion.edge.sessions import waiting
from logmaker import KEY
from simulator import Simulator

TESTS = Path(__file__).parent
CARDS = TESTS.parent / "checklists"


def worked(card: str, lines: Iterable[str]) -> Simulator:
    """The simulator after typed lines on a shipped card; "wait 3 min" lets time pass."""
    simulator = Simulator((CARDS / f"{card}.yaml").read_text(encoding="utf-8"))
    for line in filter(None, (line.split("#")[0].strip() for line in lines)):
        pause = waiting(line)
        simulator.say(line) if pause is None else simulator.wait(pause / 1000)
    return simulator


def session(name: str) -> Simulator:
    """The simulator after a session of tests/sessions."""
    card = "common-rail-injector" if name.startswith("injector") else "-".join(name.split("-")[:2]) if "wheels" in name else "learning"
    return worked(card, (TESTS / "sessions" / f"{name}.txt").read_text(encoding="utf-8").splitlines())


def write_log(folder: Path, name: str, job: Simulator, later_ms: int = 0) -> Path:
    """The job's log and sidecar as `NAME.jsonl` and `NAME.personal`, begun `later_ms` after the simulator's own start."""
    chain, lines, beside = Chain(), [], []
    for place, (event, now) in enumerate(zip(job.events, job.stamps)):
        event = event if place else replace(event, key=public_hex(KEY), format=1)
        line, hidden = chain.add(event, stamp(now.at_ms + later_ms), now.up_ms, lambda: bytes([place % 256]) * 16)
        lines.append(line)
        beside += hidden
        if event.seals:
            lines.append(chain.seal(KEY)[0])
    (folder / f"{name}.jsonl").write_bytes(b"".join(lines))
    if beside:
        (folder / f"{name}.personal").write_bytes(dump_sidecar(beside))
    return folder / f"{name}.jsonl"
