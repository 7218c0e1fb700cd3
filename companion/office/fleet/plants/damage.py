"""Plants that befall a log after the job: a changed line, a forged one, a torn end, a file that is no log."""
from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

from companion.core.log.journal import canonical
from companion.office.fleet.plants.plant import Plant

if TYPE_CHECKING:
    from companion.office.fleet.plan import Plan


def _changed(log: bytes, plan: "Plan") -> bytes:
    """One character of the time on a line that ended a step, somewhere in the middle."""
    lines = log.splitlines(keepends=True)
    place = _a_step_end(lines, plan)
    line = json.loads(lines[place])
    line["at"] = line["at"][:-2] + ("1" if line["at"][-2] != "1" else "2") + "Z"
    lines[place] = canonical(line) + b"\n"
    return b"".join(lines)


def _forged(log: bytes, plan: "Plan") -> bytes:
    """A line is changed and the chain after it made to fit again; the seals, without the device's key, do not."""
    lines = log.splitlines(keepends=True)
    place = _a_step_end(lines, plan)
    for number in range(place, len(lines)):
        line = json.loads(lines[number])
        if number == place:
            line["at"] = line["at"][:-2] + ("1" if line["at"][-2] != "1" else "2") + "Z"
        line["prev"] = hashlib.sha256(lines[number - 1][:-1]).hexdigest()
        lines[number] = canonical(line) + b"\n"
    return b"".join(lines)


def _a_step_end(lines: list[bytes], plan: "Plan") -> int:
    """A line, from 0, at which a step has ended: what stands before it is as a job is left at its best."""
    ends = [place for place, line in enumerate(lines) if b'"event":"step_ended"' in line]
    return plan.random("damage").choice(ends[len(ends) // 3:-1])


def _torn(log: bytes, plan: "Plan") -> bytes:
    """The machine lost its power while a line was being written."""
    lines = log.splitlines(keepends=True)
    place = _a_step_end(lines, plan)
    return b"".join(lines[:place]) + lines[place][:len(lines[place]) // 2]


def _unreadable(log: bytes, plan: "Plan") -> bytes:
    """A part of the disk was overwritten: noise where the first line was."""
    random = plan.random("damage")
    return bytes(random.randrange(1, 256) for _ in range(4096)) + log[4096:]


PLANTS = (
    Plant("a line is changed", ("chain-broken",), damage=_changed),
    Plant("a line is forged", ("seal-broken",), damage=_forged),
    Plant("the last line is torn", ("log-torn",), damage=_torn),
    Plant("the file is overwritten", ("log-unreadable",), damage=_unreadable),
)
