"""A second opinion on the same sound: which letters were heard, and when.

The recogniser writes a sentence piece by piece and is swayed by what it likes to write; this small network looks at its
frames and at the spectrum of each and says for each 24 ms which letter begins there, if any (connectionist temporal
classification, Graves 2006). It likes nothing, and noise holds no letters. How likely a sentence is in its eyes is the
sum over all ways to spread the sentence's letters over the frames. `bench.letters` trains it; the shipped one
on synthetic voices and on recordings of people ("Carnegie Mellon University, AN4").
"""
from __future__ import annotations

import zlib
from functools import lru_cache
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
from threadpoolctl import threadpool_limits

from companion.core.numbers import say_digits, say_number
from companion.core.words import words
from companion.edge.ear.base import RATE
from companion.errors import BrokenMachine

ALPHABET = " abcdefghijklmnopqrstuvwxyz'"
"""The network's outputs after the first, which stands for nothing."""
FRAME = 384
"""Samples, as many as the recogniser's frames have."""
BANDS = 40
_OF_RECOGNISER = 288
_HALF, _WINDOW, _FFT, _LOWEST, _HIGHEST = FRAME // 2, 400, 512, 80, 7600
_FILE = Path(__file__).with_name("letters.npz")
_NEVER = -1e9
_MOST_FORMS = 3


class Letters:
    """The network. Raises BrokenMachine when its file is missing or damaged.

    From then on this process multiplies matrices on one thread.
    """

    def __init__(self, file: Path = _FILE) -> None:
        _on_one_thread()
        try:
            with np.load(file, allow_pickle=False) as found:
                self._w = {name: found[name].astype(np.float32) for name in found.files}
            self._layers = int(self._w["layers"])
            self.hear(np.zeros((1, 2, _OF_RECOGNISER), np.float32), np.zeros(2 * FRAME, np.float32))
        except (OSError, EOFError, ValueError, KeyError, BadZipFile, zlib.error) as fault:
            raise BrokenMachine(str(file), "the network's file must be whole", f"{type(fault).__name__}: {fault}",
                                "Install the companion again") from fault

    def hear(self, frames: np.ndarray, sound: np.ndarray) -> np.ndarray:
        """Log probabilities (t, letters and nothing) for the recogniser's frames (1, t, 288) of `sound`."""
        w = self._w
        x = _norm(columns(frames, sound), w["in.scale"], w["in.shift"]) @ w["in.w"] + w["in.b"]
        for layer in range(self._layers):
            y = _norm(x + _along(x, w[f"{layer}.along.w"], w[f"{layer}.along.b"]), w[f"{layer}.scale"], w[f"{layer}.shift"])
            y = np.maximum(y @ w[f"{layer}.wide.w"] + w[f"{layer}.wide.b"], 0)
            x = x + y @ w[f"{layer}.back.w"] + w[f"{layer}.back.b"]
        out = _norm(x, w["out.scale"], w["out.shift"]) @ w["out.w"] + w["out.b"]
        out -= out.max(1, keepdims=True)
        return out - np.log(np.exp(out).sum(1, keepdims=True))


@lru_cache(maxsize=1)
def _on_one_thread() -> None:
    """On two, beside other work on both cores, one utterance in ten took 94 ms instead of 7 (n = 30): they wait for each other."""
    threadpool_limits(1, user_api="blas")


def columns(frames: np.ndarray, sound: np.ndarray) -> np.ndarray:
    """What the network is given: the recogniser's frames (1, t, 288) of `sound` beside its spectrum, float32 (t, 368)."""
    return np.concatenate([frames[0], spectrum(sound, frames.shape[1])], axis=1)


def spectrum(sound: np.ndarray, frames: int) -> np.ndarray:
    """The log energy of 40 mel bands, twice a frame: float32 (frames, 80), the sound's own mean taken off."""
    places = 2 * frames
    before = (_WINDOW - _HALF) // 2
    sound = np.pad(sound, (before, max(0, (places - 1) * _HALF + _WINDOW - len(sound) - before)))
    pieces = sound[np.arange(_WINDOW) + _HALF * np.arange(places)[:, None]] * np.hanning(_WINDOW).astype(np.float32)
    energy = np.log(np.square(np.abs(np.fft.rfft(pieces, _FFT))) @ _bands() + 1e-5).reshape(frames, 2 * BANDS)
    return (0.5 * (energy - energy.mean(0)) / (energy.std() + 1e-3)).astype(np.float32)


def likelihoods(heard: np.ndarray, texts: list[str]) -> list[float]:
    """Natural log of how likely each sentence is, whichever way it may be said ("15": fifteen, one five)."""
    forms = [(number, form) for number, text in enumerate(texts) for form in spoken_forms(text)]
    found = [-np.inf] * len(texts)
    for (number, _), log_p in zip(forms, _forward(heard, [_indices(form) for _, form in forms])):
        found[number] = max(found[number], float(log_p))
    return found


def likeliest(heard: np.ndarray) -> float:
    """The same of the letters that the network would write by itself."""
    return float(heard.max(1).sum())


@lru_cache(maxsize=4096)
def spoken_forms(text: str) -> tuple[str, ...]:
    """What may be said for a sentence as the recogniser writes it: small letters and blanks alone, figures in words."""
    said: list[tuple[str, ...]] = []
    for word in words(text):
        if word.text[:1].isdigit():
            said.append(_figures(word.text))
        else:
            said.append((" ".join(word.text) if word.code else "".join(c for c in word.text if c in ALPHABET),))
    count = max(map(len, said), default=0)
    forms = (" ".join(filter(None, (ways[min(turn, len(ways) - 1)] for ways in said))) for turn in range(count))
    return tuple(dict.fromkeys(filter(None, forms)))[:_MOST_FORMS]


def _figures(digits: str) -> tuple[str, ...]:
    """"1540": one thousand five hundred and forty, one five four zero, fifteen forty."""
    pairs = [say_number(digits[at:at + 2]) for at in range(0, len(digits), 2)] if digits.isdigit() and len(digits) in (3, 4) else []
    return say_number(digits), say_digits(digits), *([" ".join(pairs)] if pairs else [])


def _indices(form: str) -> list[int]:
    return [ALPHABET.index(c) + 1 for c in form]


def _forward(heard: np.ndarray, sentences: list[list[int]]) -> np.ndarray:
    """The sum over all ways for each sentence, in one go: a place for each letter and for nothing around each."""
    if not sentences:
        return np.zeros(0)
    width = 2 * max(map(len, sentences)) + 1
    places = np.zeros((len(sentences), width), np.int64)
    for row, letters in zip(places, sentences):
        row[1:2 * len(letters):2] = letters
    may_jump = np.zeros(places.shape, bool)
    may_jump[:, 2:] = (places[:, 2:] != 0) & (places[:, 2:] != places[:, :-2])
    jump = np.where(may_jump, 0, _NEVER).astype(np.float32)
    now = np.full(places.shape, _NEVER, np.float32)
    now[:, :2] = heard[0][places[:, :2]]
    for row in heard[1:]:
        before = now
        now = before.copy()
        now[:, 1:] = np.logaddexp(now[:, 1:], before[:, :-1])
        now[:, 2:] = np.logaddexp(now[:, 2:], before[:, :-2] + jump[:, 2:])
        now += row[places]
    ends = np.array([2 * len(letters) for letters in sentences])
    rows = np.arange(len(sentences))
    return np.logaddexp(now[rows, ends], now[rows, ends - 1])


def _along(x: np.ndarray, weights: np.ndarray, bias: np.ndarray) -> np.ndarray:
    """Each column convolved along time with weights of its own, (width, columns)."""
    width = len(weights)
    padded = np.pad(x, ((width // 2, width // 2), (0, 0)))
    return sum(padded[place:place + len(x)] * weights[place] for place in range(width)) + bias


def _norm(x: np.ndarray, scale: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Each frame with mean 0 and variance 1, then scaled."""
    x = x - x.mean(1, keepdims=True)
    return x / np.sqrt(np.square(x).mean(1, keepdims=True) + 1e-5) * scale + shift


@lru_cache(maxsize=1)
def _bands() -> np.ndarray:
    """Triangles evenly spaced on the mel scale (O'Shaughnessy 1987, from memory), (257, 40)."""
    low, high = (2595 * np.log10(1 + hertz / 700) for hertz in (_LOWEST, _HIGHEST))
    corners = 700 * (10 ** (np.linspace(low, high, BANDS + 2) / 2595) - 1) * _FFT / RATE
    place = np.arange(_FFT // 2 + 1)[:, None]
    rising = (place - corners[:-2]) / (corners[1:-1] - corners[:-2])
    falling = (corners[2:] - place) / (corners[2:] - corners[1:-1])
    return np.maximum(0, np.minimum(rising, falling)).astype(np.float32)
