"""Who does the batches: this process, several processes of this machine, or the workers of a cluster."""
from __future__ import annotations

import multiprocessing
import os
import sys
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from typing import Iterator, Optional, Sequence

from companion.errors import BadInput, BrokenMachine
from companion.office.review.batch import Batch, Done, index_batch

PATIENCE = "10s"
"""How long a scheduler may take to answer."""
_TRIES = 3
"""How often a batch is begun again after a worker was lost."""


def done(batches: Sequence[Batch], workers: Optional[int] = None, cluster: str = "") -> Iterator[Done]:
    """Do the batches; what became of each as it is done. `workers`: processes, default one a core.

    Raises BrokenMachine where workers are lost again and again, OSError or duckdb.IOException where the index cannot be
    written."""
    if cluster:
        yield from _on_cluster(batches, cluster)
    elif len(batches) == 1 or workers == 1:
        yield from map(index_batch, batches)
    else:
        yield from _on_cores(batches, workers or os.cpu_count() or 1)


def _on_cores(batches: Sequence[Batch], workers: int) -> Iterator[Done]:
    """A process that is killed takes the pool with it; what it had not done is begun again in a new one."""
    left = list(batches)
    for _ in range(_TRIES):
        with ProcessPoolExecutor(min(workers, len(left)), mp_context=multiprocessing.get_context("spawn")) as pool:
            begun = {pool.submit(index_batch, batch): batch for batch in left}
            try:
                for future in as_completed(begun):
                    yield future.result()
                    left.remove(begun[future])
            except BrokenProcessPool:
                continue
        return
    raise BrokenMachine("review", f"lost its worker processes {_TRIES} times", do="See whether memory runs out; try --workers 1")


def _on_cluster(batches: Sequence[Batch], address: str) -> Iterator[Done]:
    try:
        from dask.distributed import Client, as_completed as completed
    except ImportError:
        raise BadInput("--cluster", "needs the package distributed", do=f'Install it: "{sys.executable}" -m pip install distributed') from None
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise BadInput(address, f"must be the address of a scheduler that answers: {error}") from None
    with client, client.as_current():
        futures = client.map(index_batch, list(batches), pure=False, retries=_TRIES)
        for future in completed(futures):
            yield future.result()
