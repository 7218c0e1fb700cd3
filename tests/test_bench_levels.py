"""The sound of the ear's bench: levels against closed forms, mixes measured again, noises as they are called."""
from __future__ import annotations

import numpy as np
import pytest

from companion.edge.bench.ear.level import (HISS_DB, SIDE_S, SPEECH_DB, active_level, at_level, mixed, noise_level,
                                            stretch, unclipped)
from companion.edge.bench.ear.noises import NOISES, telephone
from companion.edge.ear import RATE

SIDE = int(SIDE_S * RATE)


def tone(seconds: float, amplitude: float = 0.1, hertz: float = 440) -> np.ndarray:
    """A sine, whose level is 20 lg(amplitude) − 3.01 dB."""
    return amplitude * np.sin(2 * np.pi * hertz * np.arange(int(seconds * RATE)) / RATE)


@pytest.mark.parametrize("amplitude", [0.001, 0.02, 0.5])
def test_a_lasting_tone_has_its_own_level(amplitude: float) -> None:
    """Always active: the active level is the root mean square, and the activity nearly 1 (the envelope has to rise)."""
    level, activity = active_level(tone(5, amplitude))
    assert level == pytest.approx(20 * np.log10(amplitude) - 3.01, abs=0.1) and activity == pytest.approx(1, abs=0.02)


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_pauses_do_not_count(share: float) -> None:
    """A tone of known activity: pauses lower the mean power, but the active level only by the hangover of 0.2 s and the
    time in which the envelope falls by 15.9 dB, at 0.03 s a smoother about 0.13 s."""
    burst = np.concatenate([tone(8 * share), np.zeros(int(8 * (1 - share) * RATE))])
    level, activity = active_level(burst)
    longer = (8 * share + 0.33) / 8
    assert activity == pytest.approx(longer, abs=0.03)
    assert level == pytest.approx(-23.01 - 10 * np.log10(longer / share), abs=0.2)


def test_silence_has_no_level() -> None:
    """Neither zeros nor nothing at all is speech."""
    assert active_level(np.zeros(RATE)) == active_level(np.zeros(0)) == (-np.inf, 0.0)
    assert noise_level(np.zeros(9)) == -np.inf and not at_level(np.zeros(9), -20).any()


@pytest.mark.parametrize("snr", [20.0, 0.0, -5.0])
def test_a_mix_has_the_ratio_that_was_asked_for(snr: float) -> None:
    """Measured again: what is left when the speech is taken off has its level below the speech's, over the whole mix,
    and speech stands 0.6 s from each end."""
    speech = np.concatenate([np.zeros(3200), tone(2, 0.3), np.zeros(3200)])
    noise = np.random.default_rng(5).standard_normal(RATE)
    mix = mixed(speech, noise, snr, np.random.default_rng(1))
    assert len(mix) == len(speech) + 2 * SIDE and mix.dtype == np.float32
    alone = mixed(speech, None, None, np.random.default_rng(1))
    assert active_level(alone[SIDE:-SIDE])[0] == pytest.approx(SPEECH_DB, abs=0.05)
    assert noise_level(alone[:SIDE]) == pytest.approx(HISS_DB, abs=0.3)
    rest = mix - np.pad(speech, SIDE) * 10 ** ((SPEECH_DB - active_level(speech)[0]) / 20)
    assert noise_level(rest) == pytest.approx(SPEECH_DB - snr, abs=0.05)
    assert noise_level(rest[:SIDE]) == pytest.approx(SPEECH_DB - snr, abs=0.5)


def test_a_mix_is_always_the_same_for_its_seed() -> None:
    """The same seed takes the same stretch; another takes another."""
    mixes = [mixed(tone(1), NOISES["wind"](), 5, np.random.default_rng(seed)) for seed in (3, 3, 4)]
    assert np.array_equal(mixes[0], mixes[1]) and not np.array_equal(mixes[0], mixes[2])


def test_silent_stretches_are_not_mixed_in() -> None:
    """A bang in a long silence: the mix has it, wherever the seed points."""
    noise = np.zeros(60 * RATE)
    noise[RATE:RATE + 800] = 0.5
    assert all(noise_level(stretch(noise, RATE, np.random.default_rng(seed))) > -40 for seed in range(20))


def test_nothing_clips() -> None:
    """A sum beyond full scale is made fainter as a whole; another is left as it is."""
    assert np.abs(unclipped(np.array([3.0, -1.5]))).max() == pytest.approx(0.99)
    assert unclipped(np.array([0.5]))[0] == 0.5


@pytest.mark.parametrize("name", [name for name in NOISES if name != "radio"])
def test_a_generated_noise_is_the_same_every_time_and_never_silent(name: str) -> None:
    """Twenty seconds, finite, without a silent second but between an impact wrench's bursts."""
    first = NOISES[name]()
    assert np.array_equal(first, NOISES[name]()) and len(first) == 20 * RATE and np.isfinite(first).all()
    seconds = np.sqrt(np.square(first.reshape(20, -1)).mean(1))
    assert seconds.min() > 0.02 * seconds.max()


@pytest.mark.parametrize("hertz, passes", [(100, False), (1000, True), (3000, True), (3700, False), (5000, False)])
def test_the_telephone_band_ends_at_300_and_3400_hertz(hertz: float, passes: bool) -> None:
    """Tones inside come through, others lose more than 20 dB."""
    loss = noise_level(tone(1, hertz=hertz)) - noise_level(telephone(tone(1, hertz=hertz)))
    assert loss < 1 if passes else loss > 20
