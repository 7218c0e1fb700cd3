"""Keeping the index up to date: only logs that are new or changed are read again.

The index is a folder: `TABLE/RUN-BATCH.parquet` for every batch of every run, and `live.parquet`, which says of each log in
which run it was last read. A run that dies leaves files that `live.parquet` does not know; the next run writes them anew.
"""
from __future__ import annotations

import os
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Callable, Iterator, Optional

import duckdb

from companion.edge.durable import once_free
from companion.edge.lock import Held, lock
from companion.errors import BadInput, BrokenMachine
from companion.office.record.markup import clean
from companion.office.review.batch import Batch
from companion.office.review.compacting import compact
from companion.office.review.cut import ends_of, note_cut
from companion.office.review.gone import note_gone
from companion.office.review.live import index_of, live, run_of, whole, write_live
from companion.office.review.store import Store, logs_in
from companion.office.review.tables import TABLES
from companion.office.review.workers import done

BATCH = 250
"""Logs of one part at most."""

Progress = Callable[[int, int], None]
"""Takes how many logs are done, and of how many."""
Wait = Callable[[float], None]


def update(logs: Store, workers: Optional[int] = None, cluster: str = "", progress: Progress = lambda done, of: None,
           apart: str = "", wait: Optional[Wait] = None) -> int:
    """Bring the index of the folder `logs` up to date; how many logs were read. `apart`: the index's folder, where it is
    not in that of the logs. `wait`: waits so many seconds, where another program's turn is waited for.

    Raises BadInput where there is no such folder or another program is at it, BrokenMachine where the index cannot be
    written."""
    listed = _listed(logs)
    index = index_of(logs, apart)
    with _held(index, wait), _written(index):
        known = _known(index)
        new = [name for name, mark in listed.items() if known.get(name, ("", 0))[0] != mark]
        ends = ends_of(index, new) if new else []
        note_gone(index, listed)
        if new or known.keys() != listed.keys():
            run = max((run for _, run in known.values()), default=0) + 1
            _clear(index, {run for _, run in known.values()})
            unread = _read(_batches(logs, index, listed, new, run), workers, cluster, progress)
            unread |= note_cut(index, logs, ends, run)
            kept = {name: known[name] for name in listed if name in known}
            now = {**kept, **{name: ("" if name in unread else listed[name], run) for name in new}}
            write_live(index, now)
            compact(index, now)
    return len(new)


def _listed(logs: Store) -> dict[str, str]:
    """The logs of the folder; see `logs_in`."""
    if not logs.is_folder():
        raise BadInput(clean(logs.address), "must be a folder of job logs that can be read")
    try:
        return logs_in(logs.listing())
    except OSError as error:
        raise BadInput(clean(logs.address), f"must be a folder that can be read: {error.strerror or error}") from None


def _known(index: Store) -> dict[str, tuple[str, int]]:
    """What the index has; nothing where a part of it is missing, so that it is made anew."""
    known = live(index)
    return known if whole(index, {run for _, run in known.values()}) else {}


@contextmanager
def _written(index: Store) -> Iterator[None]:
    """Says where the index could not be written, and what to do."""
    try:
        yield
    except (OSError, duckdb.IOException) as error:
        where, why = getattr(error, "filename", None) or index.address, getattr(error, "strerror", None) or str(error)
        raise BrokenMachine(where, f"cannot be written: {why}", do="Make room, or see who may write there, and run it "
                            "again: what is done stays done") from None


def _read(batches: list[Batch], workers: Optional[int], cluster: str, progress: Progress) -> set[str]:
    """Do the batches; the logs that the place did not give, and that are asked for again next time."""
    count, of, unread = 0, sum(len(batch.marks) for batch in batches), set()
    progress(0, of)
    for some in done(batches, workers, cluster) if batches else ():
        count += some.logs
        unread |= set(some.unread)
        progress(count, of)
    return unread


@contextmanager
def _held(index: Store, wait: Optional[Wait] = None) -> Iterator[None]:
    """One program at a time brings an index of this machine up to date; elsewhere nothing can be locked by name."""
    if not index.local:
        yield
        return
    path = Path(index.path("lock"))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.parent.chmod(0o700)  # it holds who worked when, and on which vehicle
        fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise BrokenMachine(str(path), f"cannot be written: {error.strerror}", do="See who may write there, or keep the "
                            "index elsewhere: --index FOLDER") from None
    try:
        try:
            once_free(partial(lock, fd, str(path)), wait) if wait else lock(fd, str(path))
        except Held:
            raise BadInput(index.address, "is being brought up to date by another program",
                           do="Try again when it is done") from None
        yield
    finally:
        os.close(fd)


def _clear(index: Store, runs: set[int]) -> None:
    """Remove parts that no log of the index stands in: of runs that died, or of an index of another form."""
    for table in TABLES:
        part = index.within(table)
        for name in part.listing():
            if run_of(name) not in runs:
                part.remove(name)


def _batches(logs: Store, index: Store, listed: dict[str, str], new: list[str], run: int) -> list[Batch]:
    some = [tuple((name, listed[name]) for name in new[place:place + BATCH]) for place in range(0, len(new), BATCH)]
    return [Batch(logs, index, f"{run:06d}-{number:05d}", marks) for number, marks in enumerate(some)]


def forget_old_rows(logs: Store, apart: str = "") -> None:
    """Bring the index of the folder `logs` up to date where there is one, and remove all rows that no longer count: what
    was erased beside a log stands in none that is left. Raises as `update`."""
    index = index_of(logs, apart)
    if not index.is_folder():
        return
    update(logs, apart=apart)
    with _held(index), _written(index):
        compact(index, live(index), most=0)
        _clear(index, {run for _, run in live(index).values()})
