"""One utterance in several noises, heard by every ear; and the same work shared out to one process a core.

Each process loads the ears once, on one thread. An ear keeps no memory of earlier utterances, so that the results do not
depend on how many processes there are.
"""
from __future__ import annotations

import functools
import os
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from companion.core.grammar import Listen
from companion.core.understand import understand
from companion.edge.bench.ear import level
from companion.edge.bench.ear.ears import load_ears
from companion.edge.bench.ear.noises import NOISES
from companion.edge.bench.ear.outcomes import Heard, Outcome, spoken_words
from companion.edge.bench.ear.sets import Utterance, step_listens
from companion.edge.bench.ear.word_errors import word_errors
from companion.edge.ear import RATE, Ear, Guess, LivePath
from companion.edge.hear import said
from companion.edge.sound import read_sound
from companion.errors import BrokenMachine

PIECE_S = 10.0
"""Noise alone is heard in pieces of at most so many seconds."""
_MANY = 16

Noise = str
"""A key of `NOISES`, or the path of a file."""


@dataclass(frozen=True)
class Trial:
    """One utterance, or a piece of noise where there is none, in some conditions."""

    number: int
    """Seeds the mixing and turns the steps; one a trial."""
    utterance: Utterance | None
    conditions: tuple[tuple[float | None, Noise], ...]
    """The ratio in dB, None for clean, and the noise ("" for clean)."""


def planned(utterances: list[Utterance], noises: list[Noise], snrs: list[float | None], pieces: int) -> list[Trial]:
    """Every utterance once at every ratio, the noises by turns; then `pieces` of noise alone, at one level each."""
    trials = []
    for number, utterance in enumerate(utterances):
        turns = [(snr, "" if snr is None else noises[(number + turn) % len(noises)]) for turn, snr in enumerate(snrs)]
        trials.append(Trial(number, utterance, tuple(turns)))
    noisy = [snr for snr in snrs if snr is not None] if pieces else []
    alone = [(noisy[number // len(noises) % len(noisy)], noises[number % len(noises)])
             for number in range(pieces) if noisy]
    return trials + [Trial(len(trials) + number, None, (condition,)) for number, condition in enumerate(alone)]


def samples(trial: Trial, turn: int) -> tuple[np.ndarray, float]:
    """What the ears hear in a trial's condition, float32 at 16 kHz, and the seconds of speech or noise that count."""
    snr, noise = trial.conditions[turn]
    random = np.random.default_rng([trial.number, turn])
    if trial.utterance is None:
        found = load_noise(noise)
        size = min(len(found), int(PIECE_S * RATE))
        piece = level.at_level(level.stretch(found, size, random), level.SPEECH_DB - (snr or 0))
        return level.unclipped(piece), size / RATE
    sound = trial.utterance.sound()
    return level.mixed(sound, load_noise(noise) if noise else None, snr, random), len(sound) / RATE


def listen_of(trial: Trial, turn: int) -> Listen:
    """What is live."""
    own = trial.utterance.listen if trial.utterance else None
    return own or step_listens()[(trial.number * 7 + turn) % len(step_listens())]


@functools.lru_cache(maxsize=32)
def load_noise(name: Noise) -> np.ndarray:
    """Generated, or read. Raises BadInput for a file that is none or that is silent."""
    return NOISES[name]() if name in NOISES else read_sound(name)


def outcomes(trial: Trial, paths: dict[str, LivePath]) -> list[Outcome]:
    """What every ear made of a trial."""
    found = []
    for turn, (snr, noise) in enumerate(trial.conditions):
        listen, (sound, seconds) = listen_of(trial, turn), samples(trial, turn)
        text = trial.utterance.text if trial.utterance else ""
        meant = understand(listen, text) if text else None
        if meant is not None and trial.utterance and not trial.utterance.meant:
            continue  # by chance it means something at this step
        for name, path in paths.items():
            path.reset()
            path.listen(listen)
            guesses = path.feed(sound) + path.finish()
            wrong = word_errors(spoken_words(text), spoken_words(" ".join(guess.text for guess in guesses)))
            found.append(Outcome(_kind(trial), trial.utterance.set if trial.utterance else "noise", text,
                                 trial.utterance.voice if trial.utterance else "", snr, noise_name(noise), name,
                                 round(seconds, 3), tuple(_heard(listen, guess, meant) for guess in guesses), wrong))
    return found


def _kind(trial: Trial) -> str:
    return "noise" if trial.utterance is None else "said" if trial.utterance.meant else "foreign"


def _heard(listen: Listen, guess: Guess, meant: object) -> Heard:
    reads = guess.reading is not None
    records = any(rule.records for rule in listen.rules if reads and rule.name == guess.reading.rule)
    return Heard(said(listen, guess), guess.score, guess.accepted, guess.sure, reads, records,
                 reads and guess.reading == meant)


def noise_name(noise: Noise) -> str:
    """For the tables: takes of one noise, numbered, have one name."""
    return noise if noise in NOISES else Path(noise).stem.rstrip("0123456789").rstrip("-_ ") or Path(noise).stem


# -- many processes ----------------------------------------------------------------------------------------------------

_at_work: tuple[dict[str, LivePath], dict[str, Ear]] | None = None


def run(trials: list[Trial], ears: list[str], processes: int, notice: Callable[[str], None]) -> list[Outcome]:
    """All of them in their order. Raises BadInput for a file that is no sound, BrokenMachine as `load_ears`."""
    found: list[Outcome] = []
    lacking: set[str] = set()
    progress = Progress(len(trials))
    for made, lost in _each(trials, ears, processes):
        found += made
        lacking |= lost
        progress.one_more()
    progress.close()
    if lacking:
        notice(f"pocketsphinx does not know {', '.join(sorted(lacking))}: what needs these words it cannot hear")
    return found


def _each(trials: list[Trial], ears: list[str], processes: int) -> Iterator[tuple[list[Outcome], set[str]]]:
    if processes <= 1 or len(trials) < _MANY:
        _begin(ears)
        yield from map(_one, trials)
        return
    with ProcessPoolExecutor(processes, get_context("spawn"), _begin, (ears,)) as pool:
        try:
            yield from pool.map(_one, trials, chunksize=2)
        except BrokenProcessPool:
            raise BrokenMachine("bench ear", "the processes that listen must live", "one was ended",
                                "Measure less at once, or with --processes 1") from None


def _begin(ears: list[str]) -> None:
    global _at_work
    loaded = load_ears(ears, threads=1)
    _at_work = {name: LivePath(ear) for name, ear in loaded.items()}, loaded


def _one(trial: Trial) -> tuple[list[Outcome], set[str]]:
    paths, ears = _at_work or ({}, {})
    found = outcomes(trial, paths)
    return found, set().union(*(getattr(ear, "lacking", ()) for ear in ears.values()))


class Progress:
    """How far it is, on standard error: one line that changes on a terminal, else a line every half minute."""

    def __init__(self, total: int) -> None:
        self._total, self._done, self._begun = total, 0, time.monotonic()
        self._terminal, self._last = sys.stderr.isatty(), time.monotonic()

    def one_more(self) -> None:
        """One part is done."""
        self._done += 1
        now = time.monotonic()
        if now - self._last < (0.5 if self._terminal else 30):
            return
        self._last = now
        left = (now - self._begun) / self._done * (self._total - self._done)
        text = f"heard {self._done} of {self._total}, about {left / 60:.0f} min left"
        before, after = ("\r", "  ") if self._terminal else ("", "\n")
        print(before + text, end=after, file=sys.stderr, flush=True)

    def close(self) -> None:
        """Clears the line."""
        if self._terminal:
            print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)


def cores() -> int:
    """How many processes pay: one a core, at most eight."""
    return min(os.cpu_count() or 1, 8)
