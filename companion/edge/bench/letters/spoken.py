"""The sound of what is said in training: three engines in many throats, and recordings."""
from __future__ import annotations

import io
import random
import subprocess
import tempfile
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import soundfile
import soxr

from companion.edge.ear import RATE
from companion.edge.voice.builtin import BuiltinVoice, Throat
from companion.errors import BrokenMachine

_ACCENTS = ("en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-us-nyc")
_VARIANTS = ("", "+m1", "+m2", "+m4", "+m5", "+m6", "+m7", "+m8", "+f1", "+f3", "+f4", "+f5", "+klatt", "+klatt2")
_FLITE = ("kal16", "awb", "rms", "slt")
_ESPEAK_SHARE, _FLITE_SHARE = 0.42, 0.3
_SLOWER = (0.86, 1.16)
_PEAK, _EDGE_S, _FAINT = 0.5, 0.05, 0.01

Sounds = list[tuple[np.ndarray, str]]
"""Float32 at 16 kHz, and the words."""


def spoken(texts: list[str]) -> Sounds:
    """Each in a voice of its own. Raises BrokenMachine where an engine is missing."""
    with ProcessPoolExecutor() as pool:
        return [(sound, text) for sound, text in zip(pool.map(_speak, enumerate(texts), chunksize=20), texts) if len(sound)]


def recorded(found: Iterable[tuple[np.ndarray, str]], times: int) -> Sounds:
    """Recordings at the level of the spoken ones, each so many times, slower and faster as if by other people."""
    chance = np.random.default_rng(5)
    taken = [(_trimmed(soxr.resample(sound, RATE * chance.uniform(*_SLOWER), RATE).astype(np.float32)), text)
             for sound, text in found for _ in range(times)]
    return [(sound, text) for sound, text in taken if len(sound)]


def silent(count: int) -> Sounds:
    """So many stretches in which nothing is said, 0.5 to 3 s."""
    chance = np.random.default_rng(6)
    return [(np.zeros(int(RATE * chance.uniform(0.5, 3)), np.float32), "") for _ in range(count)]


def _speak(numbered: tuple[int, str]) -> np.ndarray:
    number, text = numbered
    chance = random.Random(number)
    share = chance.random()
    if share < _ESPEAK_SHARE:
        sound, rate = _espeak(text, chance)
    elif share < _ESPEAK_SHARE + _FLITE_SHARE:
        sound, rate = _flite(text, chance)
    else:
        throat = Throat(f"{number}", tract=chance.uniform(0.88, 1.22), pitch=chance.uniform(0.5, 1.25))
        voice = BuiltinVoice(throat, chance.uniform(0.85, 1.4))
        sound, rate = voice.render(text), voice.rate
    longer = chance.uniform(0.9, 1.12) if chance.random() < 0.6 else 1.0
    return _trimmed(soxr.resample(sound, rate * longer, RATE).astype(np.float32))


def _espeak(text: str, chance: random.Random) -> tuple[np.ndarray, int]:
    voice = chance.choice(_ACCENTS) + chance.choice(_VARIANTS)
    return _run(["espeak-ng", "-v", voice, "-s", str(chance.randint(110, 205)), "-p", str(chance.randint(25, 75)),
                 "--stdout", text])


def _flite(text: str, chance: random.Random) -> tuple[np.ndarray, int]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "said.wav"
        _run(["flite", "-voice", chance.choice(_FLITE), "--setf", f"duration_stretch={chance.uniform(0.8, 1.35):.2f}",
              "-t", text, "-o", str(file)], spoken_to=file)
        return soundfile.read(file, dtype="float32")


def _run(command: list[str], spoken_to: Path | None = None) -> tuple[np.ndarray, int]:
    try:
        made = subprocess.run(command, capture_output=True, timeout=30, check=True).stdout
        return soundfile.read(spoken_to or io.BytesIO(made), dtype="float32")
    except (OSError, subprocess.SubprocessError, soundfile.LibsndfileError) as fault:
        raise BrokenMachine(command[0], "must be installed and speak", str(fault), "Install it (Linux packages)") from fault


def _trimmed(sound: np.ndarray) -> np.ndarray:
    """Without the silence around it, at one peak level; nothing for nothing."""
    loud = np.flatnonzero(np.abs(sound) > _FAINT * np.abs(sound).max(initial=0) + 1e-6)
    if not len(loud):
        return sound[:0]
    edge = int(_EDGE_S * RATE)
    sound = sound[max(0, loud[0] - edge):loud[-1] + edge]
    return sound * np.float32(_PEAK / np.abs(sound).max())
