"""How long an ear takes: in a process of its own, which does nothing else, on two threads as in a live job."""
from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from companion.edge.bench.ear.ears import load_ears
from companion.edge.bench.ear.trials import Trial, listen_of, samples
from companion.edge.ear import RATE, LivePath
from companion.edge.ear.endpoint import FULL_S
from companion.edge.sound import CHUNK

COUNT = 40
_THREADS = 2
_TURN_DB = 10.0
_AFTER_S = FULL_S + 0.3


@dataclass(frozen=True)
class Timing:
    """Of one ear; times in milliseconds."""

    count: int
    """Utterances that came to a guess."""
    decision: tuple[float, float, float]
    """From the endpoint decision to the guess, work that still waits counted: median, 95th and 99th percentile."""
    silence: tuple[float, float, float]
    """From the end of speech to the endpoint decision, in the sound."""
    real_time: float
    """Seconds of work for each second of sound, pauses counted."""
    memory_mb: float | None
    """The most that its process held; None where the system does not say."""


def timed(trials: list[Trial], ears: list[str]) -> dict[str, Timing]:
    """Each ear in turn, on the same few of the trials, at 10 dB where that was asked for."""
    said = [trial for trial in trials if trial.utterance is not None and trial.utterance.meant]
    chosen = said[::max(1, len(said) // COUNT)][:COUNT]
    found = {}
    for ear in ears:
        with ProcessPoolExecutor(1, get_context("spawn")) as alone:
            found[ear] = alone.submit(_timed, ear, chosen).result()
    return found


def _timed(ear: str, trials: list[Trial]) -> Timing:
    path = LivePath(load_ears([ear], _THREADS)[ear])
    guesses, work, heard = [], 0.0, 0.0
    for trial in trials[:1] + trials:  # the first one warms up
        turn = next((place for place, (snr, _) in enumerate(trial.conditions) if snr == _TURN_DB), 0)
        sound = np.pad(samples(trial, turn)[0], (0, int(_AFTER_S * RATE)))
        path.reset()
        path.listen(listen_of(trial, turn))
        made, seconds = live(path, sound, heard)
        guesses.append(made)
        work, heard = work + seconds, heard + len(sound) // CHUNK * CHUNK / RATE
    ends = [end for made in guesses[1:] for end in made]
    return Timing(len(ends), _spread([end[0] for end in ends]), _spread([end[1] for end in ends]),
                  round(work / max(heard, 1e-9), 3), memory_mb())


def live(path: LivePath, sound: np.ndarray, begun_s: float = 0.0) -> tuple[list[tuple[float, float]], float]:
    """As if the sound came from a microphone: each chunk is worked on when it is there and the one before is done.

    For each guess the milliseconds from the chunk that decided its end to the guess, and those from the end of speech
    to that chunk; then the seconds of work in all. `begun_s` seconds of sound have gone through `path` before.
    """
    work, done = 0.0, 0.0
    found = []
    for place in range(0, len(sound) - CHUNK + 1, CHUNK):
        there = (place + CHUNK) / RATE
        begun = time.perf_counter()
        guesses = path.feed(sound[place:place + CHUNK])
        took = time.perf_counter() - begun
        work, done = work + took, max(done, there) + took
        found += [((done - there) * 1000, (begun_s + there - guess.end_s) * 1000) for guess in guesses]
    return found, work


def _spread(times: Sequence[float]) -> tuple[float, float, float]:
    if not times:
        return 0.0, 0.0, 0.0
    median, most, nearly_all = (round(float(value), 1) for value in np.percentile(times, [50, 95, 99]))
    return median, most, nearly_all


def memory_mb() -> float | None:
    """The most this process has held. Linux says it of this program alone; elsewhere `resource` says it, or nothing."""
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
        return next(round(int(line.split()[1]) / 1024) for line in lines if line.startswith("VmHWM"))
    except (OSError, StopIteration):
        pass
    try:
        import resource
    except ImportError:
        return None
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform != "darwin" else 1024 ** 2))


def as_json(timing: Timing) -> dict[str, Any]:
    """With the names of the percentiles."""
    names = ("median", "p95", "p99")
    return {"count": timing.count, "decision_ms": dict(zip(names, timing.decision)),
            "silence_ms": dict(zip(names, timing.silence)), "real_time": timing.real_time,
            "memory_mb": timing.memory_mb}
