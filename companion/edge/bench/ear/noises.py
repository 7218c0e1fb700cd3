"""Generated noises of a workshop, each from a seed. How they are made is our own choice, no source."""
from __future__ import annotations

from collections.abc import Callable

import numpy as np
import soxr

from companion.edge.ear import RATE

SECONDS = 20.0


def diesel(seconds: float = SECONDS, seed: int = 1) -> np.ndarray:
    """An idling four-cylinder diesel: 800 turns a minute, 26.7 firings a second, each a short knock in broadband noise
    that falls with frequency."""
    random = np.random.default_rng(seed)
    size = int(seconds * RATE)
    firing = np.arange(size) / RATE * 800 / 60 * 2 % 1
    hiss, hertz = _spectrum(random, size)
    knock = np.fft.irfft(hiss * ((hertz > 800) & (hertz < 3000)), size)
    rumble = np.fft.irfft(hiss / np.maximum(1, hertz / 150), size)
    hum = np.sin(2 * np.pi * firing) + 0.5 * np.sin(4 * np.pi * firing)
    return (rumble / rumble.std() + 0.6 * hum + 0.8 * knock / knock.std() * np.exp(-firing * 8)).astype(np.float32)


def grinder(seconds: float = SECONDS, seed: int = 2) -> np.ndarray:
    """An angle grinder: a whine near 180 Hz with many harmonics that sinks under load, and the hiss of the disc."""
    random = np.random.default_rng(seed)
    size = int(seconds * RATE)
    load = _slow(random, size, 0.7)
    phase = 2 * np.pi * np.cumsum(180 * (1 - 0.15 * load)) / RATE
    whine = sum(np.sin(order * phase) / order ** 0.7 for order in range(1, 25))
    hiss = _band(random, size, 2000, 7800)
    return _even(0.6 * whine / np.std(whine) + (0.4 + load) * hiss)


def compressor(seconds: float = SECONDS, seed: int = 3) -> np.ndarray:
    """A piston air compressor: sixteen strokes a second with a clack of the valves, a motor's hum, and air."""
    random = np.random.default_rng(seed)
    size = int(seconds * RATE)
    at = np.arange(size) / RATE
    stroke = at * 16 % 1
    thump = np.exp(-stroke * 6) * np.sin(2 * np.pi * 70 * at)
    clack = np.exp(-((stroke + 0.5) % 1) * 25) * _band(random, size, 900, 4000)
    hum = np.sin(2 * np.pi * 50 * at) + 0.5 * np.sin(2 * np.pi * 100 * at)
    return _even(thump / thump.std() + 0.8 * clack / clack.std() + 0.3 * hum + 0.3 * _band(random, size, 300, 6000))


def impact_wrench(seconds: float = SECONDS, seed: int = 4) -> np.ndarray:
    """An impact wrench: bursts of half a second to two, twenty-two ringing blows a second, air between them."""
    random = np.random.default_rng(seed)
    size = int(seconds * RATE)
    ring = np.arange(int(0.06 * RATE)) / RATE
    blow = sum(np.sin(2 * np.pi * hertz * ring) for hertz in (1250, 2310, 3720, 5400)) * np.exp(-ring * 90)
    hits, place = np.zeros(size), 0.2
    while place < seconds - 0.3:
        end = min(seconds - 0.1, place + random.uniform(0.5, 2))
        at = (np.arange(place, end, 1 / 22) * RATE).astype(int)
        hits[at] = random.uniform(0.6, 1, len(at))
        place = end + random.uniform(0.3, 1)
    return _even(np.convolve(hits, blow)[:size] + 0.05 * _band(random, size, 1000, 7800))


def wind(seconds: float = SECONDS, seed: int = 5) -> np.ndarray:
    """Wind at a microphone: a low roar in gusts."""
    random = np.random.default_rng(seed)
    size = int(seconds * RATE)
    spectrum, hertz = _spectrum(random, size)
    roar = np.fft.irfft(spectrum / np.maximum(20, hertz) ** 1.2, size)
    return _even(roar / roar.std() * (0.2 + _slow(random, size, 1.5)) ** 2)


def radio(seconds: float = SECONDS, seed: int = 6) -> np.ndarray:
    """A radio in the shop: synthetic voices talking without a stop, through a small loudspeaker."""
    from companion.edge.bench.ear.voices import CHATTER, Spoken, builtin_voices

    random = np.random.default_rng(seed)
    parts: list[np.ndarray] = []
    while sum(map(len, parts)) < seconds * RATE:
        voice = builtin_voices()[int(random.integers(len(builtin_voices())))]
        parts.append(Spoken(voice, CHATTER[int(random.integers(len(CHATTER)))], narrow=True).sound())
    return _even(np.concatenate(parts)[:int(seconds * RATE)])


NOISES: dict[str, Callable[[], np.ndarray]] = {
    "diesel idle": diesel, "grinder": grinder, "compressor": compressor, "impact wrench": impact_wrench, "wind": wind,
    "radio": radio}


def telephone(sound: np.ndarray) -> np.ndarray:
    """Through the band of a telephone line: 300 to 3400 Hz at 8 kHz, back at 16 kHz."""
    narrow = soxr.resample(sound.astype(np.float32), RATE, 8000)
    hertz = np.fft.rfftfreq(len(narrow), 1 / 8000)
    narrow = np.fft.irfft(np.fft.rfft(narrow) * ((hertz >= 300) & (hertz <= 3400)), len(narrow))
    return soxr.resample(narrow.astype(np.float32), 8000, RATE)


def _spectrum(random: np.random.Generator, size: int) -> tuple[np.ndarray, np.ndarray]:
    return np.fft.rfft(random.standard_normal(size)), np.fft.rfftfreq(size, 1 / RATE)


def _band(random: np.random.Generator, size: int, low: float, high: float) -> np.ndarray:
    spectrum, hertz = _spectrum(random, size)
    sound = np.fft.irfft(spectrum * ((hertz >= low) & (hertz <= high)), size)
    return sound / sound.std()


def _slow(random: np.random.Generator, size: int, seconds: float) -> np.ndarray:
    """A curve between 0 and 1 that wanders, by about once in so many seconds."""
    count = int(size / RATE / seconds) + 2
    return np.interp(np.linspace(0, count - 1, size), np.arange(count), random.uniform(0, 1, count))


def _even(sound: np.ndarray) -> np.ndarray:
    return (sound / np.std(sound) * 0.1).astype(np.float32)
