"""What is kept beside a log about people: texts in its sidecar, each under a name, and sound files."""
from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Iterator, Mapping, Optional

from companion.core.card import CardErrors, Step, load_card
from companion.core.log.codec import is_hidden
from companion.core.log.evidence import examine
from companion.core.log.journal import beside_name, parse
from companion.core.log.sidecar import Sidecar, read_sidecar
from companion.office.place import Folder, lines_in

MOST_BYTES = 8 * 2**20
"""Of a log whose lines are held in memory; an injector's job has 250 kB."""
MECHANIC, OTHER, LEFT_OVER = "mechanic", "other words", "left over"
"""Names for what has none on the card: who works, words said beside a personal answer, and texts that no line of the log
refers to any more."""
_BY_FIELD = {"draft": "memo", "place": "place", "mechanic": MECHANIC}
"""Fields of events that tell by themselves what they hold: a memo's words, where somebody works alone, who works."""


@dataclass(frozen=True)
class Kept:
    """What lies beside one log. No text is in here, only where it belongs."""

    log: Path
    texts: Mapping[str, tuple[str, ...]]
    """Name to the hashes of its texts in the sidecar; names without any are left out."""
    damaged: bool
    """Whether lines of the sidecar do not hold: what stands in them cannot be told apart."""
    sounds: tuple[Path, ...]
    """Sound files of memos and clips, finished or not."""
    papers: tuple[Path, ...]
    """Records and sheets that were made of the log and lie beside it."""

    @property
    def sidecar(self) -> Path:
        """Where the texts lie."""
        return self.log.with_name(beside_name(self.log.name))


def kept_beside(log: Path) -> Kept:
    """What lies beside a log, also of one that does not hold. Raises OSError."""
    place, beside = Folder(log.parent), beside_name(log.name)
    sidecar = read_sidecar(lines_in(place, beside)) if place.has(beside) else None
    texts: dict[str, list[str]] = {}
    if sidecar is not None:
        owners = _owners(_lines_of(place, log, sidecar))
        for found in sidecar.texts:
            texts.setdefault(owners.get(found, LEFT_OVER), []).append(found)
    return Kept(log, {name: tuple(some) for name, some in texts.items()}, bool(sidecar and sidecar.bad),
                tuple(_named_like(log, r"\.(memo|clip)-[0-9]+\.(flac|wav|part)")),
                tuple(_named_like(log, r"(-customer|-claim)?\.(html|pdf)")))


def _lines_of(place: Folder, log: Path, sidecar: Sidecar) -> tuple[dict[str, Any], ...]:
    """The log's lines that hold; none of one too long to be kept in memory, whose texts are then all left over."""
    if log.stat().st_size > MOST_BYTES:
        return ()
    return examine(partial(lines_in, place, log.name), log.name, sidecar.texts, dict).kept


def without(kept: Kept, names: frozenset[str]) -> bytes:
    """The sidecar's lines without the texts of those names; an unfinished line, which nothing refers to, goes too."""
    gone = {found for name in names for found in kept.texts.get(name, ())}
    lines = lines_in(Folder(kept.log.parent), kept.sidecar.name)
    return b"".join(line for line in lines if line.endswith(b"\n") and parse(line)["sha256"] not in gone)


def _named_like(log: Path, ending: str) -> Iterator[Path]:
    form = re.compile(re.escape(log.name.removesuffix(".jsonl")) + ending)
    return (path for path in sorted(log.parent.iterdir()) if form.fullmatch(path.name))


def _owners(lines: tuple[dict[str, Any], ...]) -> dict[str, str]:
    """The name that each personal text goes by, by its hash."""
    steps = _steps(lines)
    owners, who_asked = {}, False
    for line in lines:
        who_asked = line["event"] == "job_resumed" or who_asked and line["event"] != "same_mechanic_stated"
        said_by = MECHANIC if who_asked else _asked(steps.get(line["step"]))
        owners |= {value["sha256"]: _BY_FIELD.get(field, said_by) for field, value in line["data"].items()
                   if type(value) is dict and is_hidden(value)}
        who_asked = who_asked and line["event"] != "taken_over"
    return owners


def _asked(step: Optional[Step]) -> str:
    """What a personal step asks for."""
    return (getattr(step.answer, "name", "") or OTHER) if step and step.personal else OTHER


def _steps(lines: tuple[dict[str, Any], ...]) -> dict[str, Step]:
    """The steps of the card in the log; none where it cannot be read."""
    try:
        card = load_card(lines[0]["data"]["card_text"], "the card in the log", checked=False)
    except (CardErrors, IndexError):
        return {}
    return {step.id: step for step in card.steps}
