"""Where the speech lies in an utterance, and at what level the recogniser gets it."""
from __future__ import annotations

import numpy as np
import pytest
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from companion.edge.ear import RATE
from companion.edge.ear.crops import Crops, even
from companion.edge.ear.endpoint import CHUNK
from companion.edge.voice import mechanic_voice


@pytest.fixture(scope="module")
def crops() -> Crops:
    """One for all."""
    return Crops()


def spoken(text: str) -> np.ndarray:
    """At 16 kHz."""
    voice = mechanic_voice()
    return soxr.resample(voice.render(text), voice.rate, RATE).astype(np.float32)


@pytest.mark.parametrize("before_s, after_s", [(0.5, 0.2), (1.0, 0.8), (0.0, 1.0)])
def test_noise_around_a_word_is_cut_away_and_the_word_is_kept(crops: Crops, before_s: float, after_s: float) -> None:
    """At 20 dB: what is left holds the word, and at most a quarter of a second on either side of it."""
    word = spoken("emergency")
    loud = np.flatnonzero(np.abs(word) > 0.02)
    hiss = 0.1 * word.std() * np.random.default_rng(1).standard_normal(len(word) + int((before_s + after_s) * RATE))
    begin = int(before_s * RATE)
    hiss[begin:begin + len(word)] += word
    close = crops.close(hiss.astype(np.float32))
    start = int(np.flatnonzero(hiss.astype(np.float32) == close[0])[0])
    assert start <= begin + loud[0] and start + len(close) >= begin + loud[-1]
    assert begin - start <= 0.25 * RATE and start + len(close) - begin - len(word) <= 0.25 * RATE


def test_what_is_too_short_to_judge_is_kept(crops: Crops) -> None:
    """Less than one look of the pause detector."""
    short = np.ones(CHUNK - 1, np.float32)
    assert crops.close(short) is short


@settings(max_examples=25, deadline=None)
@given(samples=hnp.arrays(np.float32, st.integers(0, 4 * CHUNK), elements=st.floats(width=32)))
def test_any_samples_are_survived(crops: Crops, samples: np.ndarray) -> None:
    """Also infinite ones: a part of what came is given back."""
    assert len(crops.close(samples)) <= len(samples)


@settings(max_examples=50, deadline=None)
@given(gain=st.floats(0.001, 1.0))
def test_the_level_does_not_count(gain: float) -> None:
    """A voice near or far reaches the recogniser alike."""
    tone = np.sin(np.arange(RATE) / 5).astype(np.float32)
    np.testing.assert_allclose(even(tone * np.float32(gain)), even(tone), atol=1e-3)
