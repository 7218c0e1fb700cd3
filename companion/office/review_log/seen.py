"""What this machine has seen of the office's log of a folder, kept apart from it: so a log that was shortened, replaced or
deleted is noticed, and so is a list of trusted keys that was changed.

It lies in the companion's own folder (`$COMPANION_HOME/seen`), and once more beside the index of the logs, for machines
that come to the folder later. A machine that sees a folder for the first time has nothing to compare it with, and whoever
may write in both places can put both right."""
from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Iterator, Optional

from companion.edge.device import home
from companion.office.place import OFFICE
from companion.office.review_log.reviewed import Reviewed

NAME = "seen.json"


@dataclass(frozen=True)
class Seen:
    """What was there at the last look."""

    folder: str
    """Its address."""
    at: str
    """RFC 3339, UTC, by this machine's clock."""
    lines: int
    last: str
    """SHA-256, hex, of the last of those lines."""
    keys: str
    """SHA-256, hex, of what the list of trusted keys says; "" where there was none."""


class Memory:
    """What is remembered of one folder of logs."""

    def __init__(self, address: str, folder: Optional[Path] = None) -> None:
        """`address`: of the logs; `folder`: theirs, where it is on this machine."""
        self.address = str(folder.resolve()) if folder else address
        name = hashlib.sha256(self.address.encode("utf-8", "surrogateescape")).hexdigest()[:32]
        self.own = home() / "seen" / f"{name}.json"
        self.beside = folder / OFFICE / "index" / NAME if folder else None

    def compared(self, found: Reviewed) -> Reviewed:
        """The log with what is missing of it, or changed, since it was seen. Where a line does not hold, that is enough.
        Raises OSError."""
        if found.broken:
            return found
        return replace(found, doubts=tuple(dict.fromkeys(doubt for seen in self._recalled() for doubt in _doubts(found, seen))))

    def keep(self, found: Reviewed, at: str) -> None:
        """Remember the log as it is, at the time `at`, unless something about it is in doubt. Raises OSError."""
        if found.broken or found.doubts:
            return
        now = Seen(self.address, at, len(found.hashes), found.last, _sha(found))
        for path in self._places():
            seen = _read(path)
            if not isinstance(seen, Seen) or replace(seen, at=at, folder=self.address) != now:
                _write(path, now)

    def _places(self) -> Iterator[Path]:
        yield self.own
        if self.beside and os.access(self.beside.parent, os.W_OK):  # logs that may only be read have an index elsewhere
            yield self.beside

    def _recalled(self) -> Iterator[Seen | str]:
        for path in filter(None, (self.own, self.beside)):
            seen = _read(path)
            if seen is not None:
                yield seen


def _doubts(found: Reviewed, seen: Seen | str) -> Iterator[str]:
    if isinstance(seen, str):
        yield seen
        return
    there, day = len(found.hashes), seen.at[:10]
    if there < seen.lines:
        yield (f"The office's log had {seen.lines} lines on {day} and has {there} now: it was "
               + ("shortened" if there else "deleted"))
    elif seen.lines and found.hashes[seen.lines - 1] != seen.last:
        yield f"Line {seen.lines} of the office's log is not the one that was there on {day}: the log was replaced"
    if seen.keys and seen.keys != _sha(found):
        yield f"The list of trusted keys was {'changed' if found.trusted else 'deleted'} since {day}"


def _sha(found: Reviewed) -> str:
    if found.trusted is None:
        return ""
    return hashlib.sha256(json.dumps([asdict(key) for key in found.trusted.keys]).encode()).hexdigest()


def _read(path: Path) -> Seen | str | None:
    """What is remembered there; why it cannot be told; None for nothing. Raises OSError."""
    try:
        with open(path, "rb") as file:
            data = json.loads(file.read(10_000))
        seen = Seen(**data)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (ValueError, TypeError, RecursionError):
        return f"What was remembered of the office's log in {path} cannot be read"
    right = all(type(getattr(seen, field.name)) is (int if field.name == "lines" else str) for field in fields(Seen))
    return seen if right and seen.lines >= 0 else f"What was remembered of the office's log in {path} makes no sense"


def _write(path: Path, seen: Seen) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    draft.unlink(missing_ok=True)  # a link that came with the folder does not say where it is written
    fd = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with open(fd, "w", encoding="utf-8") as file:
        json.dump(asdict(seen), file)
    os.replace(draft, path)
