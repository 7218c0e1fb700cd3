"""The supervisor's desk: the index of a folder of logs with what the office says of it, brought up to date and read by
several threads. Nothing is kept that can go stale: the office's log is looked at again for every page."""
from __future__ import annotations

import os
import threading
import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Callable, Mapping, Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import public_hex
from companion.errors import CompanionError
from companion.office.page.marks import SignOff, mark
from companion.office.place import Folder
from companion.office.review.indexing import Progress, Wait, update
from companion.office.review.live import LIVE, index_of
from companion.office.review.overlay import ANSWERED, apply_register
from companion.office.review.query import Index
from companion.office.review.store import Store
from companion.office.review_log import (
    CardApproved, CardWithdrawn, Fact, Reviewed, Signed, append, read_review, review_path)
from companion.office.review_log.taking import own_fault
from companion.office.trusted import LIST

Look = Callable[[Progress, Optional[int]], Index]
"""Brings the index up to date with so many workers (None: one a core), telling how far it is, and opens it."""


@dataclass(frozen=True)
class Sight:
    """What lies on the desk at one moment."""

    index: Index
    logs: int
    """How many logs the index has."""
    at: str
    """When the folder was last looked at: RFC 3339, UTC."""
    reviewed: Reviewed = field(default_factory=Reviewed)
    signed: Mapping[str, SignOff] = field(default_factory=dict)
    known: Mapping[str, list[str]] = field(default_factory=dict)
    """Every mechanic, card and kind of finding of the index."""


class Desk:
    """One folder of logs. `look` stands in for reading it, in tests; `apart`, `wait`: see `indexing.update`."""

    def __init__(self, folder: Path, key: Ed25519PrivateKey, wall: Callable[[], str],
                 look: Optional[Look] = None, apart: str = "", wait: Wait = time.sleep) -> None:
        self.folder, self.place, self._apart, self._wait = folder, Folder(folder), apart, wait
        self.progress = ""
        """How far a look at the folder is, in words; "" where none is under way."""
        self.failed = ""
        """Why the last look failed; "" where it did not."""
        self._key, self._wall, self._look = key, wall, look or self._read
        self._sight: Optional[Sight] = None
        self._state: tuple[tuple[int, ...], tuple[int, ...]] = (), ()
        self._lock = threading.Lock()
        self._looking = threading.Lock()

    def own_fault(self, reviewed: Reviewed) -> str:
        """Why nothing that is signed here now would count; "" where it would."""
        return own_fault(reviewed, public_hex(self._key), self._wall())

    def look(self, progress: Progress = lambda done, of: None, workers: Optional[int] = None) -> None:
        """Bring the index up to date. Raises CompanionError."""
        index = self._look(progress, workers)
        with self._lock:
            self._state = self._files()
            self._sight = self._laid(Sight(index, index.count(), self._wall()), read_review(self.folder), anew=True)

    def look_again(self) -> bool:
        """Begin to bring the index up to date while pages are served; whether it was not under way already."""
        if not self._looking.acquire(blocking=False):
            return False
        self.progress, self.failed = "has begun", ""
        threading.Thread(target=self._again, name="look again", daemon=True).start()
        return True

    def sight(self) -> Sight:
        """What is there now. Raises CompanionError where the office's log or the index cannot be read."""
        with self._lock:
            return self._fresh()

    def say(self, fact: Fact) -> tuple[Signed, bool]:
        """Write what the office says, durably: its line, and whether it is new. What was said of a job word for word
        before is not written twice, since a form can be sent twice. Raises CompanionError."""
        with self._lock:
            sight = self._fresh()
            before = _said_before(sight.reviewed, fact)
            if before:
                return before, False
            reviewed = append(self.folder, fact, self._key, self._wall())
            self._sight, self._state = self._laid(sight, reviewed), self._files()
            return reviewed.entries[-1], True

    def _fresh(self) -> Sight:
        assert self._sight is not None, "look first"
        state = self._files()
        if state != self._state:  # another program wrote
            index_is_new = state[1] != self._state[1]
            sight = self._renewed(self._sight) if index_is_new else self._sight
            self._sight, self._state = self._laid(sight, read_review(self.folder), anew=index_is_new), state
        return self._sight

    def _read(self, progress: Progress, workers: Optional[int]) -> Index:
        logs = Store(str(self.folder))
        update(logs, workers, progress=progress, apart=self._apart, wait=self._wait)
        return Index.open(logs, self._apart)

    def _again(self) -> None:
        try:
            self.look(self._tell, workers=1)  # the other core serves pages
        except CompanionError as error:
            self.failed = str(error)
        except Exception as error:
            self.failed = f"this program fails on it: {type(error).__name__}: {error}"
            raise
        finally:
            self.progress = ""
            self._looking.release()

    def _tell(self, done: int, of: int) -> None:
        self.progress = f"{done:,} of {of:,} new or changed logs read"

    def _laid(self, sight: Sight, reviewed: Reviewed, anew: bool = False) -> Sight:
        if anew or _lies_on_index(reviewed) != _lies_on_index(sight.reviewed):
            apply_register(sight.index, reviewed)
            sight = replace(sight, known=sight.index.facets())
        return replace(sight, reviewed=reviewed, signed=mark(sight.index, reviewed, self.place))

    def _renewed(self, sight: Sight) -> Sight:
        index = Index.open(Store(str(self.folder)), self._apart)
        return replace(sight, index=index, logs=index.count(), at=self._wall())

    def _files(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Changes whenever what the office says (the first), or the index (the second), does."""
        said, index = review_path(self.folder), index_of(Store(str(self.folder)), self._apart)
        return (*_state(said), *_state(said.with_name(LIST))), _state(Path(index.path(LIVE)))


def _lies_on_index(reviewed: Reviewed) -> tuple[Any, ...]:
    """What of the office's own findings is laid over the index."""
    answers = [entry for entries in reviewed.replies.values() for entry in entries if entry.fact.finding in ANSWERED]
    return reviewed.register, reviewed.holds, reviewed.trusted, answers


def _said_before(reviewed: Reviewed, fact: Fact) -> Optional[Signed]:
    """The line that says of a job just this. A card may be approved again after it was withdrawn, in the same words."""
    if reviewed.broken or isinstance(fact, (CardApproved, CardWithdrawn)):
        return None
    counted = (entry for entry in reversed(reviewed.entries) if entry.n not in reviewed.uncounted)
    return next((entry for entry in counted if entry.fact == fact), None)


def _state(path: Path) -> tuple[int, ...]:
    try:
        found = os.stat(path)
    except OSError:
        return ()
    return found.st_mtime_ns, found.st_size, found.st_ino
