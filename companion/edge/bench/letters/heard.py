"""What the ear gets of a sentence in training: through a room, in noise, at some distance, as the recogniser's frames."""
from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from companion.edge.bench.ear.noises import NOISES
from companion.edge.bench.letters.spoken import Sounds
from companion.edge.ear import RATE
from companion.edge.ear.crops import LEVEL, even, loudness
from companion.edge.ear.letters import ALPHABET, columns, spoken_forms
from companion.edge.ear.model import Model, model_folder

_LONGEST_S = 8
_COLOURS, _NOISE_S = 60, 10
_CLEAN, _SNR = 0.15, (-6.0, 18.0)
_CUT, _SHORTEST_CUT_S = 0.3, 0.45


@dataclass(frozen=True)
class Example:
    """One sentence as it is trained on."""

    frames: np.ndarray
    """(t, 288 + 80), float16: the recogniser's frames and the spectrum."""
    letters: tuple[int, ...]
    """Places in `letters.ALPHABET`, counted from 1."""


def examples(sounds: Sounds) -> list[Example]:
    """One for each that is short enough, and whose words fit into its frames; the noises are drawn always alike. A sound
    of nothing, said to hold no words, becomes noise alone."""
    with ProcessPoolExecutor(initializer=_begin) as pool:
        made = pool.map(_example, enumerate(sounds), chunksize=20)
        return [example for example in made if example is not None]


def _begin() -> None:
    global _model, _noises
    _model, _noises = Model(model_folder(), 1), [*_workshop(), *_coloured(np.random.default_rng(9))]


def _example(numbered: tuple[int, tuple[np.ndarray, str]]) -> Example | None:
    number, (sound, text) = numbered
    form = next(iter(spoken_forms(text)), "")
    if bool(form) != bool(text) or len(sound) > _LONGEST_S * RATE:
        return None
    chance = np.random.default_rng([number, 1])
    mixed = even(_mixed(_through(sound, chance), chance) if text else _stretch(len(sound), chance))
    if mixed is None:
        return None
    given = columns(_model.encode(mixed), mixed).astype(np.float16)
    letters = tuple(ALPHABET.index(c) + 1 for c in form)
    return Example(given, letters) if len(letters) < 0.9 * len(given) else None


def _through(sound: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    """Edges lost, a telephone or a microphone's tilt; then in a third of the cases a room."""
    sound = _cut(sound, chance)
    kind = chance.random()
    if kind < 0.35:
        sound = _telephone(sound, chance)
    if 0.25 < kind < 0.7:
        tilt = chance.uniform(-0.4, 0.4)
        sound = _filtered(sound, lambda hertz: np.maximum(hertz, 50) ** tilt)
    if chance.random() < 0.35:
        from scipy.signal import fftconvolve

        size = int(RATE * chance.uniform(0.05, 0.4))
        tail = chance.standard_normal(size) * np.exp(-np.arange(size) / (size / 5))
        tail *= chance.uniform(0.1, 0.7) / np.sqrt(np.square(tail).sum())
        tail[0] = 1
        sound = fftconvolve(sound, tail)[:len(sound) + RATE // 10]
    return sound


def _cut(sound: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    """In some cases without its first or last tenth of a second, as recordings are that were cut by loudness."""
    if len(sound) < _SHORTEST_CUT_S * RATE:
        return sound
    if chance.random() < _CUT:
        sound = sound[int(RATE * chance.uniform(0.03, 0.13)):]
    return sound[:-int(RATE * chance.uniform(0.03, 0.15))] if chance.random() < _CUT else sound


def _telephone(sound: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    """Nothing above 3 to 4 kHz; in some cases nothing below 300 Hz either, and in steps as in ITU-T G.711 (µ-law)."""
    top, steep = chance.uniform(3000, 4000), chance.choice((12, 24, 40))
    bottom = 300 if chance.random() < 0.5 else 0
    sound = _filtered(sound, lambda hertz: 1 / (1 + (bottom / hertz) ** 6) / (1 + (hertz / top) ** steep))
    if chance.random() < 0.3:
        most = np.abs(sound).max() + 1e-9
        steps = np.round(127 * np.sign(sound) * np.log1p(255 * np.abs(sound) / most) / np.log(256)) / 127
        sound = np.sign(steps) * (256 ** np.abs(steps) - 1) / 255 * most
    return sound


def _mixed(sound: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    sound = np.pad(sound / loudness(sound), tuple((RATE * chance.uniform((0.05, 0.08), (0.6, 0.45))).astype(int)))
    if chance.random() < _CLEAN:
        return sound * LEVEL + chance.standard_normal(len(sound)) * 10 ** (chance.uniform(-70, -45) / 20)
    noise = _stretch(len(sound), chance)
    if chance.random() < 0.5:
        noise = noise + chance.uniform(0.1, 1) * _stretch(len(sound), chance)
    if chance.random() < 0.7:
        tilt = chance.uniform(-0.6, 0.6)
        noise = _filtered(noise, lambda hertz: np.maximum(hertz, 60) ** tilt)
    if chance.random() < 0.3:
        at = 2 * np.pi * chance.uniform(0.3, 6) * np.arange(len(noise)) / RATE + chance.uniform(0, 6)
        noise = noise * (1 + chance.uniform(0.3, 0.95) * np.sin(at))
    noise = noise / np.sqrt(np.square(noise).mean() + 1e-9)
    return (sound + noise * 10 ** (-chance.uniform(*_SNR) / 20)) * LEVEL


def _stretch(size: int, chance: np.random.Generator) -> np.ndarray:
    noise = _noises[chance.integers(len(_noises))]
    return np.take(noise, np.arange(size) + chance.integers(len(noise)), mode="wrap")


def _filtered(sound: np.ndarray, gain) -> np.ndarray:  # type: ignore[no-untyped-def]
    spectrum = np.fft.rfft(sound)
    return np.fft.irfft(spectrum * gain(np.maximum(np.fft.rfftfreq(len(sound), 1 / RATE), 1)), len(sound))


def _workshop() -> list[np.ndarray]:
    """The bench's machines, with other seeds than the bench's."""
    made = [make(seed=100 + 17 * turn + place) for place, make in enumerate(NOISES.values()) for turn in range(4)]
    return [noise / np.sqrt(np.square(noise).mean()) for noise in made]


def _coloured(chance: np.random.Generator) -> list[np.ndarray]:
    """Noises of any colour, humming, throbbing or full of blows."""
    found, size = [], _NOISE_S * RATE
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    at = np.arange(size) / RATE
    for _ in range(_COLOURS):
        colour = np.maximum(30, hertz) ** -chance.uniform(-0.2, 1.3)
        for centre in chance.uniform(100, 6000, chance.integers(0, 4)):
            colour *= 1 + chance.uniform(0, 8) * np.exp(-((hertz - centre) / (centre * chance.uniform(0.03, 0.4))) ** 2)
        noise = np.fft.irfft(np.fft.rfft(chance.standard_normal(size)) * colour, size)
        noise = noise / noise.std()
        if chance.random() < 0.6:
            noise *= 1 + chance.uniform(0.2, 1) * np.sin(2 * np.pi * chance.uniform(0.3, 40) * at)
        if chance.random() < 0.3:
            pitch, fall = chance.uniform(60, 900), chance.uniform(0.3, 1.5)
            noise += sum(np.sin(2 * np.pi * pitch * order * at + order) / order ** fall for order in range(1, 12))
        if chance.random() < 0.35:
            noise = 0.5 * noise + _blows(size, chance)
        found.append((noise / np.sqrt(np.square(noise).mean())).astype(np.float32))
    return found


def _blows(size: int, chance: np.random.Generator) -> np.ndarray:
    blows = np.zeros(size)
    blows[chance.integers(0, size, chance.integers(10, 120))] = chance.uniform(3, 12)
    ring = np.arange(2400)
    return np.convolve(blows, np.exp(-ring / chance.uniform(100, 900)) * np.sin(ring * chance.uniform(0.1, 2)))[:size]
