"""How long the supervisor's list takes to answer with 100,000 jobs: median and 95th percentile of each address.

    python tests/list_speed.py [REQUESTS]

Not a test of the default run. The jobs are made rows of the index, and the requests are answered in this process. Exit
code 1 where the plain list takes more than 100 ms at the 95th percentile.
"""
from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from statistics import quantiles

from companion.office.page.desk import Desk
from logmaker import KEY
from made_index import many_jobs
from pagemaker import NOW, Reader

JOBS, MOST_MS = 100_000, 100
LIST = "/jobs?signed=no"
ADDRESSES = (LIST, LIST + "&page=1900", "/jobs?text=outside", "/jobs?card=card-2&mechanic=M7", "/jobs?severity=fault")


def measured(reader: Reader, address: str, requests: int) -> tuple[float, float]:
    """Median and 95th percentile, milliseconds."""
    took = []
    for _ in range(requests):
        begun = time.perf_counter()
        reader.page(address)
        took.append(1000 * (time.perf_counter() - begun))
    found = quantiles(took, n=20)
    return found[9], found[18]


def main(requests: int) -> int:
    """Print the figures; the exit code."""
    index = many_jobs(JOBS)
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk(Path(folder), KEY, lambda: NOW, look=lambda progress, workers: index)
        desk.look()
        reader = Reader(desk)
        found = {address: measured(reader, address, requests) for address in ADDRESSES}
    for address, (middle, most) in found.items():
        print(f"{address}: median {middle:.0f} ms, 95 % within {most:.0f} ms, {JOBS:,} jobs, n = {requests}")
    return 0 if found[LIST][1] <= MOST_MS else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100))
