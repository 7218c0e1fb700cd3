"""The work on one batch of logs: the same function on this machine and on any worker of a cluster."""
from __future__ import annotations

import gc
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Iterator, NamedTuple

from companion.office.account import Account, account_in
from companion.office.review.parts import write_part
from companion.office.review.rows import Row, rows_of
from companion.office.review.store import Store
from companion.office.review.tables import TABLES

MOST_BYTES = 32 * 2**20
"""Of one log that is read; eight hours of answers have 1.7 million, and its events are held in memory."""


@dataclass(frozen=True)
class Batch:
    """Some logs, and where their rows go. Rows depend on nothing but the logs, so a batch may be done twice."""

    logs: Store
    index: Store
    stem: str
    """Name of the part, without its ending."""
    marks: tuple[tuple[str, str], ...]
    """Names of logs, each with its fingerprint."""


class Done(NamedTuple):
    """What became of a batch."""

    logs: int
    unread: tuple[str, ...]
    """Logs that the place did not give: a disk that fails or a network that is away may give them tomorrow."""


def index_batch(batch: Batch) -> Done:
    """Check and index the logs of a batch. One bad log stops nothing. Raises OSError for the index."""
    rows: dict[str, list[Row]] = {table: [] for table in TABLES}
    unread: list[str] = []
    with _seldom_collected():
        for name, fingerprint in batch.marks:
            for table, made in _rows(batch.logs, name, fingerprint, unread).items():
                rows[table] += made
    write_part(batch.index, batch.stem, rows)
    return Done(len(batch.marks), tuple(unread))


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """A log is half a thousand small objects that go when it is done, without cycles: to look for cycles after every 700
    of them costs a tenth of the time."""
    before = gc.get_threshold()
    gc.set_threshold(50_000, 20, 20)
    try:
        yield
    finally:
        gc.set_threshold(*before)


def _rows(logs: Store, name: str, fingerprint: str, unread: list[str]) -> dict[str, list[Row]]:
    """The rows of one log. Whatever goes wrong with it becomes a finding of its own, with the reason; where the place did
    not give it, its name goes to `unread`."""
    try:
        if int(fingerprint.rsplit(".jsonl ", 1)[1].split(":", 1)[0]) > MOST_BYTES:
            return rows_of(unreadable(name, f"it must be at most {MOST_BYTES} bytes long"), fingerprint)
        return rows_of(account_in(logs, name), fingerprint)
    except FileNotFoundError:
        unread.append(name)
        return rows_of(unreadable(name, "it is gone, leads nowhere, or has a name that is no UTF-8"), fingerprint)
    except (OSError, MemoryError) as error:
        unread.append(name)
        return rows_of(unreadable(name, getattr(error, "strerror", "") or str(error)), fingerprint)
    except ValueError as error:
        return rows_of(unreadable(name, str(error)), fingerprint)
    except Exception as error:  # one log that the program cannot take must not hide ten thousand others
        return rows_of(unreadable(name, f"this program fails on it: {type(error).__name__}: {error}"), fingerprint)


def unreadable(name: str, why: str) -> Account:
    """The account of a log of which nothing could be read. `why` may hold what is no text, such as a file's name."""
    why = why.encode("utf-8", "replace").decode()
    found = {"file": name, "holds": False, "finished": False, "entries": 0, "seals": 0, "format": 0, "last": "", "key": "",
             "first_bad": None, "wrong": [], "notes": [], "memos": [], "not_checked": []}
    return Account(name, found, (), why)
