"""A spoken note: recorded as it was heard, kept beside the log, with its hash and a machine's guess at its words."""
from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Optional

import numpy as np
import soundfile

from companion.core.job.effects import Record
from companion.core.job.inputs import MemoTaken
from companion.core.log.journal import memo_name
from companion.edge.clips import as_flac, write_private
from companion.edge.durable import settle_folder
from companion.edge.ear.endpoint import FULL_S, PRE_ROLL_S
from companion.edge.sound.sources import EAR_RATE

SILENCE_S = 2.0
"""Silence that ends a memo."""
NOTHING_S = 8.0
"""Silence that ends one in which nothing has been said."""
MOST_S = 60.0
"""A longer memo is cut here: say another."""

Draft = Callable[[np.ndarray], str]


class Recorder:
    """Takes the microphone's sound while a memo is being spoken. `begin` and `stop` may come from another thread.

    `draft` writes down what was said in up to a minute of sound, as well as a machine can.
    """

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        self.log: Optional[Path] = None
        """The log beside which memos are kept."""
        self._memo: Optional[Record] = None
        self._end_once = threading.Lock()
        self._stopped = False
        self._sound: list[np.ndarray] = []
        self._seconds = self._first_s = self._last_s = 0.0
        self._spoken = False

    @property
    def busy(self) -> bool:
        """Whether a memo is wanted or being recorded."""
        return self._memo is not None

    @property
    def running(self) -> bool:
        """Whether some of it has been recorded: from then on it goes on whatever else sounds."""
        return self.busy and bool(self._sound)

    def begin(self, memo: Record) -> None:
        """From the next sound on."""
        self._sound, self._spoken = [], False
        self._seconds = self._first_s = self._last_s = 0.0
        self._stopped, self._memo = False, memo

    def stop(self) -> None:
        """Ends the one that is being recorded with what there is of it."""
        self._stopped = True

    def feed(self, sound: np.ndarray, speaking: bool) -> Optional[MemoTaken]:
        """`sound` is float32 at 16 kHz; `speaking`: whether an utterance is running. The memo, once it has ended."""
        if self._memo is None:
            return None
        self._sound.append(sound)
        self._seconds += len(sound) / EAR_RATE
        if speaking:
            self._first_s = self._first_s if self._spoken else self._seconds
            self._spoken, self._last_s = True, self._seconds
        silence = self._seconds - self._last_s + (FULL_S if self._spoken else 0)
        if self._stopped or silence >= (SILENCE_S if self._spoken else NOTHING_S) or self._seconds >= MOST_S:
            return self._end(self._draft)
        return None

    def forget(self, memo: MemoTaken) -> None:
        """Nobody waits for it any more: its sound is not kept."""
        if memo.file and self.log is not None:
            self.log.with_name(memo.file).unlink(missing_ok=True)

    def cut(self) -> Optional[MemoTaken]:
        """Ends the one that is being recorded at once, without a draft: no more sound will come. From any thread."""
        return self._end(lambda sound: "")

    def _end(self, draft: Draft) -> Optional[MemoTaken]:
        with self._end_once:
            memo, self._memo = self._memo, None
        if memo is None:
            return None
        if not self._spoken or self.log is None:
            return MemoTaken(memo.memo)
        begin, end = max(0.0, self._first_s - PRE_ROLL_S), self._last_s
        sound = np.concatenate(self._sound)[int(EAR_RATE * begin):int(EAR_RATE * end)]
        path = self.log.with_name(memo_name(self.log.name, memo.memo, "flac"))
        words = draft(sound)  # first, so that no file is there long before the log names it
        try:
            kept = _keep(path, sound)
        except (OSError, soundfile.LibsndfileError) as fault:
            return MemoTaken(memo.memo, fault=f"it cannot be written: {getattr(fault, 'strerror', None) or 'the disk failed'}")
        return MemoTaken(memo.memo, path.name, kept, round(1000 * len(sound) / EAR_RATE), words)


def _keep(path: Path, sound: np.ndarray) -> str:
    """Writes a FLAC file, whole or not at all, durable before this returns; gives its SHA-256."""
    part, made = path.with_suffix(".part"), as_flac(sound)
    try:
        write_private(part, made)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    settle_folder(path.parent)
    return hashlib.sha256(made).hexdigest()
