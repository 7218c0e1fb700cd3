"""How far a review is, on standard error: a bar on a terminal, else a line now and then."""
from __future__ import annotations

import sys
from typing import Optional

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

_LINES = 10
"""Lines written at most where there is no terminal."""


class Shown:
    """Shows the progress of one review; use it in a `with`. Nothing is shown where nothing is to be read."""

    def __init__(self) -> None:
        self._bar: Optional[Progress] = None
        self._task = None
        self._told = 0

    def progress(self, done: int, of: int) -> None:
        """See `indexing.Progress`."""
        if not of:
            return
        if sys.stderr.isatty():
            self._move(done, of)
        elif done * _LINES // of > self._told:
            self._told = done * _LINES // of
            print(f"review: {done} of {of} logs", file=sys.stderr, flush=True)

    def _move(self, done: int, of: int) -> None:
        if self._bar is None:
            self._bar = Progress(TextColumn("reading logs"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(),
                                 console=Console(stderr=True))
            self._task = self._bar.add_task("", total=of)
            self._bar.start()
        self._bar.update(self._task, completed=done)

    def __enter__(self) -> Shown:
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()
