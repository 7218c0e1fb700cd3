"""The built-in voice: the speech model inside the wheel `hibari-tts` (its module is called `hibari`).

The wheel holds one voice, an American woman's; the package fetches its others from the network, so they are not used.
The second voice here is the same model through another throat: a lower pitch and a longer vocal tract, made by changing
the model's own pitch curve and spectra before they become sound. Changing the phonemes to British ones was tried and
left out: the model never learned them, and "pressure gone" was heard as "press again".
"""
from __future__ import annotations

import functools
import re
import threading
from dataclasses import dataclass

import numpy as np

from companion.edge.voice.base import RATE, spoken
from companion.edge.voice.wording import for_voice, sentences
from companion.errors import BrokenMachine


@dataclass(frozen=True)
class Throat:
    """A way of sounding. `tract` and `pitch` are factors on the vocal tract's length and the pitch."""

    name: str
    tract: float = 1.0
    pitch: float = 1.0


COMPANION = Throat("built-in")
MECHANIC = Throat("built-in low", tract=1.15, pitch=0.6)

# The model's speed setting that gives 150 to 170 words a minute over a paragraph, pauses included; numbers slower.
_SPEED = {"prose": 0.72, "number": 0.60}
# Found by reading the phonemes of every word in the shipped cards: "reseat" came out as "receipt", the rest was right.
_RESPELLED = {"reseat": "re-seat", "reseated": "re-seated"}
_WRONG = re.compile(rf"\b({'|'.join(_RESPELLED)})\b", re.IGNORECASE)


class BuiltinVoice:
    """The built-in voice; the same words always give the same samples. Raises BrokenMachine without its files."""

    rate = RATE

    def __init__(self, throat: Throat = COMPANION, speed: float = 1.0) -> None:
        """`speed` 1 is the house rate, 2 twice as fast."""
        self.name, self._throat, self._factor = throat.name, throat, speed
        self._model, self._lock = _model()

    @classmethod
    def afresh(cls, speed: float = 1.0) -> BuiltinVoice:
        """One that shares nothing with those made before, should one of them hang in its model."""
        _model.cache_clear()
        return cls(speed=speed)

    def render(self, text: str, pace: str = "prose", speed: float = 1.0) -> np.ndarray:
        """See `Voice.render`."""
        factor = _SPEED[pace] * self._factor * speed
        return spoken(sentences(_respelled(for_voice(text))), pace, lambda part: self._sound(part, factor))

    def _sound(self, sentence: str, speed: float) -> np.ndarray:
        with self._lock:
            parts = [self._vocalise(phonemes, speed) for phonemes in self._model.phonemize(sentence)]
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    def _vocalise(self, phonemes: str, speed: float) -> np.ndarray:
        from hibari import dsp

        feed = {"ids": np.array([self._model.ids(phonemes)], np.int64), "speed": np.array([speed], np.float32)}
        *spectra, pitch = (part[0] for part in self._model.sess.run(None, feed))
        if self._throat.tract != 1:
            spectra = [_stretch(part, self._throat.tract) for part in spectra]
        return dsp.synth(*spectra, (pitch * self._throat.pitch).astype(np.float32), np.random.default_rng(1))


def _respelled(text: str) -> str:
    """Words the model says wrongly, written so that it says them right."""
    return _WRONG.sub(lambda word: _RESPELLED[word[0].lower()], text)


@functools.lru_cache(maxsize=1)
def _model():  # type: ignore[no-untyped-def]
    """The model, loaded once for all throats (0.2 s), and who may use it now."""
    try:
        from hibari import Hibari

        model = Hibari("heart", threads=1)
        model.phonemize("Ready.")
        return model, threading.Lock()
    except Exception as fault:  # a missing package, a missing file or the runtime's own kinds
        raise BrokenMachine("built-in voice", "the package hibari-tts must be whole", str(fault).splitlines()[0],
                            "Install it again: pip install --force-reinstall hibari-tts") from fault


def _stretch(spectra: np.ndarray, factor: float) -> np.ndarray:
    """Spectra (bins, frames) with every frequency divided by `factor`."""
    place = np.minimum(np.arange(len(spectra)) * factor, len(spectra) - 1)
    below = place.astype(int)
    above = np.minimum(below + 1, len(spectra) - 1)
    share = (place - below).astype(np.float32)[:, None]
    return spectra[below] * (1 - share) + spectra[above] * share
