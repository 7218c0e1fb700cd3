"""`companion review --cluster`: a real scheduler and two real worker processes on this machine's loopback."""
from __future__ import annotations

import shutil
import socket
import subprocess
import sys
from pathlib import Path
from typing import Iterator

import pytest

pytest.importorskip("distributed")

from companion.office.review import indexing
from companion.office.review.indexing import update
from companion.office.review.opening import open_index
from companion.office.review.store import Store
from officemaker import session, write_log
from test_review import parts


class Cluster:
    """A scheduler with two workers of one thread each."""

    def __init__(self) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        self.scheduler = _dask("scheduler", "--host", "127.0.0.1", "--port", self.address.rsplit(":", 1)[1], "--no-dashboard")
        self.workers = [_dask("worker", self.address, "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard",
                              "--death-timeout", "30") for _ in range(2)]

    def close(self) -> None:
        """End all of them."""
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


def _dask(*words: str) -> subprocess.Popen:
    return subprocess.Popen([sys.executable, "-m", "distributed.cli.dask_" + words[0], *words[1:]],
                            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    """One for all tests here; the last of them kills a worker."""
    made = Cluster()
    yield made
    made.close()


@pytest.fixture()
def logs(tmp_path: Path) -> Path:
    """Ten small logs."""
    job = session("learning")
    for count in range(10):
        write_log(tmp_path, f"learning-{count}", job, later_ms=count * 1000)
    return tmp_path


def alone(logs: Path) -> dict[str, bytes]:
    """The index as one process makes it, taken away again."""
    update(Store(str(logs)), workers=1)
    found = parts(logs)
    shutil.rmtree(logs / "office")
    return found


def test_a_cluster_makes_the_same_index_byte_for_byte(cluster: Cluster, logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The per-log function is the same, so the files are."""
    monkeypatch.setattr(indexing, "BATCH", 2)
    expected = alone(logs)
    assert update(Store(str(logs)), cluster=cluster.address) == 10
    assert parts(logs) == expected


def test_a_worker_killed_in_the_middle_costs_nothing(cluster: Cluster, logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it had begun is done by the other one; every job stands once, in the same bytes."""
    monkeypatch.setattr(indexing, "BATCH", 1)
    expected = alone(logs)
    killed = []

    def kill(done: int, of: int) -> None:
        if done and not killed:
            cluster.workers[0].kill()
            killed.append(done)

    assert update(Store(str(logs)), cluster=cluster.address, progress=kill) == 10
    assert killed and killed[0] < 10
    assert parts(logs) == expected
    assert open_index(Store(str(logs))).count() == 10
