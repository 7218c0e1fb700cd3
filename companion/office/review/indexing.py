"""Keeping the index up to date: only logs that are new or changed are read again.

The index is a folder: `TABLE/RUN-BATCH.parquet` for every batch of every run, and `live.parquet`, which says of each log in
which run it was last read. A run that dies leaves files that `live.parquet` does not know; the next run writes them anew.
"""
from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import Callable, Optional

import duckdb

from companion import VERSION
from companion.errors import BadInput, BrokenMachine
from companion.office.review.batch import Batch
from companion.office.review.store import Store, logs_in
from companion.office.review.tables import TABLES
from companion.office.review.workers import done

INDEX = "office/index"
"""The index's folder, in the folder of the logs."""
FORM = f"2 {VERSION}"
"""What made the index: its form and the program. Another one's index is made anew, since its rules may differ."""
BATCH = 250
"""Logs of one part at most."""

Progress = Callable[[int, int], None]
"""Takes how many logs are done, and of how many."""


def update(logs: Store, workers: Optional[int] = None, cluster: str = "", progress: Progress = lambda done, of: None) -> int:
    """Bring the index of the folder `logs` up to date; how many logs were read.

    Raises BadInput where there is no such folder, BrokenMachine where the index cannot be written."""
    if not logs.is_folder():
        raise BadInput(logs.address, "must be a folder of job logs that can be read")
    index, listed = logs.within(INDEX), logs_in(logs.listing())
    known = live(index)
    new = [name for name, mark in listed.items() if known.get(name, ("", 0))[0] != mark]
    run = max((run for _, run in known.values()), default=0) + 1
    if new or known.keys() != listed.keys():
        progress(0, len(new))
        _clear(index, {run for _, run in known.values()})
        count = 0
        for some in done(_batches(logs, index, listed, new, run), workers, cluster) if new else ():
            count += some
            progress(count, len(new))
        kept = {name: known[name] for name in listed if name in known}
        _write_live(index, {**kept, **{name: (listed[name], run) for name in new}})
    return len(new)


def _clear(index: Store, runs: set[int]) -> None:
    """Remove parts that no log of the index stands in: of runs that died, or of an index of another form."""
    for table in TABLES:
        part = index.within(table)
        for name in part.listing():
            if run_of(name) not in runs:
                part.remove(name)


def run_of(part: str) -> int:
    """The run that a part's name gives; 0 for any other name."""
    found = re.fullmatch(r"([0-9]{6})-[0-9]{5}\.parquet", part)
    return int(found[1]) if found else 0


def _batches(logs: Store, index: Store, listed: dict[str, str], new: list[str], run: int) -> list[Batch]:
    return [Batch(logs, index, f"{run:06d}-{place // BATCH:05d}", tuple((name, listed[name]) for name in new[place:place + BATCH]))
            for place in range(0, len(new), BATCH)]


def live(index: Store) -> dict[str, tuple[str, int]]:
    """Each log of the index: its fingerprint, and the run it was last read in. {} where there is no index, or another form's."""
    if not index.has("live.parquet"):
        return {}
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder:
        index.fetch("live.parquet", Path(folder) / "live.parquet")
        try:
            with duckdb.connect() as database:
                rows = database.execute("SELECT log, fingerprint, run, form FROM read_parquet(?)",
                                        [f"{folder}/live.parquet"]).fetchall()
        except duckdb.Error as error:
            raise BrokenMachine(f"{index.address}/live.parquet", f"cannot be read: {error}",
                                do="Remove the folder of the index, and run it again: it is made from the logs") from None
    return {log: (mark, run) for log, mark, run, form in rows if form == FORM}


def _write_live(index: Store, logs: dict[str, tuple[str, int]]) -> None:
    names = sorted(logs)
    with tempfile.TemporaryDirectory(prefix="companion-review-") as folder, duckdb.connect() as database:
        made = Path(folder) / "live.parquet"
        database.execute("SET threads = 1")
        database.execute("CREATE TABLE live AS SELECT unnest($logs) AS log, unnest($marks) AS fingerprint, "
                         "unnest($runs) AS run, $form AS form",
                         {"logs": names, "marks": [logs[name][0] for name in names],
                          "runs": [logs[name][1] for name in names], "form": FORM})
        database.execute(f"COPY live TO '{made}' (FORMAT parquet, COMPRESSION zstd)")
        index.put(made, "live.parquet")
