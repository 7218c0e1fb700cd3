"""Recordings from a manifest: tab-separated, with the columns `file` (relative to the manifest), `set` and `said`."""
from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from companion.core.grammar import Listen
from companion.core.understand import understand
from companion.edge.bench.ear.sets import Utterance, phrases_listen
from companion.edge.hear import ANSWERS, phrases
from companion.errors import BadInput

NOISE = "noise"
MOST_PHRASES = 60
"""Of a set whose phrases are not given, so many of its commonest sayings are live."""
_COLUMNS = ("file", "set", "said")


@dataclass(frozen=True)
class Row:
    """One recording."""

    file: Path
    set: str
    said: str
    """Lower case, single spaces; "" for noise."""


def read_manifest(path: Path) -> list[Row]:
    """Raises BadInput with the line: no columns, no file of that name, nothing at all."""
    try:
        lines = csv.DictReader(path.read_text(encoding="utf-8").splitlines(), delimiter="\t", quoting=csv.QUOTE_NONE)
    except (OSError, UnicodeDecodeError) as fault:
        raise BadInput(str(path), "must be a manifest in UTF-8", str(fault)) from fault
    lacking = [name for name in _COLUMNS if name not in (lines.fieldnames or ())]
    if lacking:
        raise BadInput(f"{path}:1", f"the first line must name the columns {', '.join(_COLUMNS)}, parted by tabs",
                       f"without {', '.join(lacking)}")
    rows = [_row(path, lines.line_num, row) for row in lines]
    if not rows:
        raise BadInput(str(path), "must list at least one recording", "none")
    return rows


def _row(path: Path, line: int, row: dict[str, str | None]) -> Row:
    for name in _COLUMNS[:2]:
        if not (row[name] or "").strip():
            raise BadInput(f"{path}:{line}", f"{name} must not be empty", "empty")
    file = path.parent / str(row["file"]).strip()
    if not file.is_file():
        raise BadInput(f"{path}:{line}", "the file must be there", str(file))
    return Row(file, str(row["set"]).strip(), " ".join((row["said"] or "").lower().split()))


def live_phrases(options: list[str]) -> dict[str, Listen]:
    """Each SET=PHRASES, the phrases parted by | or a kind of answer. Raises BadInput where one is not of that form."""
    found = {}
    for option in options:
        name, equals, texts = option.partition("=")
        if not equals or not name.strip() or not texts.strip():
            raise BadInput("--live", "must be SET=PHRASES, as in digits=one|two, or SET=KIND", repr(option))
        found[name.strip()] = ANSWERS.get(texts.strip()) or phrases(texts)
    return found


def recordings(rows: list[Row], live: dict[str, Listen], foreign: list[str],
               notice: Callable[[str], None] = lambda text: None) -> list[Utterance]:
    """Everything that was said, set by set. Raises BadInput for a set in `live` or `foreign` that no row has."""
    by_set: dict[str, list[Row]] = {}
    for row in rows:
        if row.set != NOISE and row.said:
            by_set.setdefault(row.set, []).append(row)
    for name in (*live, *foreign):
        if name not in by_set:
            raise BadInput("manifest", f"must have the set {name!r}", ", ".join(by_set) or "none that is said")
    found = []
    for name, said in by_set.items():
        if name in foreign:
            found += [Utterance(name, row.said, row.file, None, False) for row in said]
        else:
            found += _set(name, said, live.get(name), notice)
    return found


def _set(name: str, rows: list[Row], given: Listen | None, notice: Callable[[str], None]) -> list[Utterance]:
    """With phrases given, what none of them means is foreign speech for which they are live; else it is left out."""
    common = Counter(row.said for row in rows).most_common(MOST_PHRASES)
    listen = given or phrases_listen(tuple(said for said, _ in common))
    found = []
    for row in rows:
        if understand(listen, row.said) is not None:
            found.append(Utterance(name, row.said, row.file, listen))
        elif given is not None:
            found.append(Utterance(f"{name} (others)", row.said, row.file, listen, False))
    if len(found) < len(rows):
        notice(f"{name}: the {MOST_PHRASES} commonest sayings are live; {len(rows) - len(found)} recordings of others "
               f"are left out. Name the phrases with --live")
    return found


def noise_files(rows: list[Row]) -> list[Path]:
    """The recordings in which nothing is said."""
    return [row.file for row in rows if row.set == NOISE or not row.said]
