"""What a log says, in a form to be written down once: run by the program that wrote it, and by every later one.

`python tests/formats/state.py FOLDER` prints the facts of each log of a folder, and the vocabulary of the program."""
from __future__ import annotations

import io
import json
import sys
from contextlib import redirect_stdout
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, Iterable, get_type_hints

from companion.__main__ import main
from companion.core.events import ValueLogged
from companion.core.log.chain import Chain, replay
from companion.core.log.codec import vocabulary
from companion.core.log.journal import beside_name, pieces
from companion.core.log.sidecar import read_sidecar
from companion.edge.loop import replayed


def facts(log: Path) -> dict[str, Any]:
    """Entries, closing seal, and the state that the entries lead to."""
    chain, beside = Chain(log.name), log.with_name(beside_name(log.name))
    texts = read_sidecar(beside.read_bytes().splitlines(keepends=True)).texts if beside.exists() else {}
    with open(log, "rb") as file:
        entries = list(replay(pieces(file), texts, chain))
    found = verified(log)
    return {**{name: found[name] for name in ("entries", "finished", "closing_seal")}, "torn_bytes": len(chain.torn),
            "values": values(entries), "state": state(replayed(entries))}


def verified(log: Path, *more: str) -> dict[str, Any]:
    """What `companion verify --json` says of a log: the one way to ask that every version has."""
    with redirect_stdout(io.StringIO()) as printed:
        main(["verify", "--json", str(log), *more])
    return json.loads(printed.getvalue())


def values(entries: Iterable[Any]) -> dict[str, str]:
    """The value logged last under each name, with unit and verdict."""
    logged = (entry.event for entry in entries if isinstance(entry.event, ValueLogged))
    return {event.name: f"{_plain(event.value)} {event.unit} {event.verdict}" for event in logged}


def state(job: Any) -> dict[str, Any]:
    """The state of a job as plain data: where it stands, what was answered, what the clocks show."""
    return {"mode": job.mode, "step": job.at, "mechanic": job.mechanic, "answers": dict(job.answers),
            "outcomes": dict(job.outcomes), "trail": list(job.trail), "open": list(job.open),
            "safeguards": list(job.safeguards), "cautions": list(job.cautions), "proofs": list(job.proofs),
            "clocks": {name: {"kind": clock.kind, "lasts_ms": clock.lasts_ms, "left_ms": clock.left(job.last_up_ms),
                              "ended": clock.ended, "used": clock.used} for name, clock in job.clocks.items()}}


def words() -> dict[str, dict[str, dict[str, Any]]]:
    """Every event this program knows: each field with its type, and whether a log may lack it."""
    return {name: {field.name: {"type": _named(get_type_hints(kind)[field.name]), "may_lack": field.default is not MISSING}
                   for field in fields(kind) if field.name not in ("step", "heard")}
            for name, kind in sorted(vocabulary().items())}


def _named(hint: Any) -> str:
    return hint.__name__ if isinstance(hint, type) and "[" not in str(hint) else (
        str(hint).replace("typing.", "").replace("companion.core.events.root.", "").replace("companion.core.events.", "")
        .replace("decimal.", ""))


def _plain(value: Any) -> str:
    return value if isinstance(value, str) else value.text


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    print(json.dumps({"logs": {log.name: facts(log) for log in sorted(folder.glob("*.jsonl"))}, "vocabulary": words()}))
