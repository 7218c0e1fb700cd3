"""The room: levels against sounds of known level, every verdict, and the conversation that asks again."""
from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from companion.core.job.inputs import RoomHeard
from companion.edge import room
from companion.edge.ear.base import RATE
from companion.edge.room import ADVICE, COUNT, KEEP_QUIET, Room, measure, printed, room_check, weight


def level(decibels: float) -> float:
    """The root mean square of so many dB below full scale."""
    return 10 ** (decibels / 20)


def noise(seconds: float, decibels: float, seed: int = 1) -> np.ndarray:
    """White noise of an A-weighted level."""
    sound = np.random.default_rng(seed).normal(size=int(seconds * RATE))
    bands = np.fft.rfft(sound) * weight(np.fft.rfftfreq(len(sound), 1 / RATE))
    return (sound / np.sqrt(np.square(np.fft.irfft(bands, len(sound))).mean()) * level(decibels)).astype(np.float32)


def words(decibels: float, count: int = 4) -> np.ndarray:
    """Four seconds with `count` bursts of 0.3 s at 1 kHz, where the weighting is 1."""
    burst = level(decibels) * np.sqrt(2) * np.sin(2 * np.pi * 1000 * np.arange(int(0.3 * RATE)) / RATE)
    sound = np.zeros(4 * RATE, np.float32)
    for number in range(count):
        sound[int((0.5 + 0.6 * number) * RATE):][:len(burst)] = burst
    return sound


@pytest.mark.parametrize("step, decibels", [
    (-15, -39.4), (-12, -26.2), (-9, -16.1), (-6, -8.6), (-3, -3.2), (0, 0.0), (3, 1.2), (6, 1.0), (9, -1.1)])
def test_the_weighting_is_the_standard_curve(step: int, decibels: float) -> None:
    """IEC 61672-1's table of the A-weighting from 31.5 Hz to 8 kHz, from memory: 31.5 Hz is 1000 Hz by 10^(-15/10)."""
    assert 20 * np.log10(weight(np.array([1000 * 10 ** (step / 10)])))[0] == pytest.approx(decibels, abs=0.06)


@settings(max_examples=40, deadline=None)
@given(st.floats(-75, -30), st.floats(12, 40), st.integers(0, 5))
def test_levels_are_measured_as_they_were_made(quiet: float, ratio: float, seed: int) -> None:
    """Noise, speech and the distance between them come out within 1 dB of what they were put together from."""
    speech = min(quiet + ratio, -6.0)
    found = measure(noise(2, quiet, seed), words(speech) + noise(4, quiet, seed + 9))
    assert float(found.noise_db) == pytest.approx(quiet, abs=1)
    assert float(found.speech_db) == pytest.approx(speech, abs=1)
    assert float(found.ratio_db) == pytest.approx(speech - quiet, abs=1)


ROOMS = {
    "good": (noise(2, -60), words(-25) + noise(4, -60, 2)),
    "good through a gate": (np.zeros(2 * RATE), words(-25)),
    "noisy": (noise(2, -30), words(-22) + noise(4, -30, 2)),
    "faint": (noise(2, -95), words(-74) + noise(4, -95, 2)),
    "faint, over the microphone's own noise": (noise(2, -66), words(-58) + noise(4, -66, 2)),
    "clipped": (noise(2, -50), np.clip(8 * words(-12), -1, 1)),
    "muted": (np.zeros(2 * RATE), np.zeros(4 * RATE)),
    "nobody spoke": (noise(2, -60), noise(4, -60, 2)),
    "nobody spoke, one click": (noise(2, -60), words(-20, count=1) + noise(4, -60, 2)),
    "nobody spoke, not asked": (noise(2, -60), None),
    "nobody spoke, no sound": (noise(2, -60), np.zeros(0)),
}


@pytest.mark.parametrize("kind", ROOMS)
def test_each_room_gets_its_verdict(kind: str) -> None:
    """Every verdict is reached, and its advice is at most two short sentences that a voice can say."""
    found = measure(*ROOMS[kind])
    assert found.verdict == kind.partition(" through")[0].partition(",")[0]
    assert found.advice == ADVICE[found.verdict]
    assert (found.speech_db is None) == (found.verdict in ("muted", "nobody spoke"))


@pytest.mark.parametrize("advice", [*ADVICE.values(), room.OVER_NOISE])
def test_advice_can_be_spoken(advice: tuple[str, ...]) -> None:
    """Two sentences at most, of plain words and at most ten of them."""
    assert len(advice) <= 2
    for sentence in advice:
        assert sentence.replace(",", "").replace(" ", "")[:-1].isalpha() and sentence[-1] in ".?"
        assert len(sentence.split()) <= 10


def test_words_lost_in_loud_noise_are_not_taken_for_a_muted_microphone() -> None:
    """Where the noise is as strong as a voice, the advice is the headset and not the switch."""
    found = measure(noise(2, -20), noise(4, -20, 2))
    assert (found.verdict, found.advice) == ("nobody spoke", room.OVER_NOISE)


def test_rumble_does_not_count_as_noise() -> None:
    """A hum at 40 Hz as strong as the speech leaves the room good; the same strength at 1 kHz does not."""
    for hertz, verdict in ((40, "good"), (1000, "noisy")):
        hum = (level(-28) * np.sqrt(2) * np.sin(2 * np.pi * hertz * np.arange(4 * RATE) / RATE)).astype(np.float32)
        assert measure(hum[:2 * RATE], words(-25) + hum).verdict == verdict


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 4000), st.integers(0, 40_000), st.floats(0, 4), st.integers(0, 9))
def test_any_sound_gets_a_verdict(quiet: int, speech: int, size: float, seed: int) -> None:
    """Sound of any length and strength is judged, and always as something the log can hold."""
    random = np.random.default_rng(seed)
    found = measure(random.normal(0, size, quiet), random.normal(0, size, speech))
    assert found.verdict in ADVICE and vars(RoomHeard(**vars(found))) == vars(found)
    assert all(number is None or number.is_finite() for number in (found.noise_db, found.speech_db, found.ratio_db))


def test_the_full_scale_share_is_of_the_spoken_part() -> None:
    """One spoken sample in eight at full scale reads 12.5 % (1.2 s of the four are speech), and is too much."""
    sound = words(-25)
    spoken = np.flatnonzero(sound)[::8]
    sound[spoken] = 1.0
    found = measure(noise(2, -60), sound)
    assert float(found.clipped) == pytest.approx(12.5, abs=1) and found.verdict == "clipped"


class Conversation:
    """Plays the person: gives the rooms in order, notes what was said."""

    def __init__(self, *kinds: str) -> None:
        self.said: list[str] = []
        self._sounds = [sound for kind in kinds for sound in ROOMS[kind]]

    def hear(self, seconds: float) -> np.ndarray:
        sound = self._sounds.pop(0)
        assert len(sound) == seconds * RATE
        return sound

    def check(self) -> Room:
        return room_check(self.said.append, self.hear)


def test_a_good_room_is_asked_once() -> None:
    """Quiet, four words, the verdict."""
    talk = Conversation("good")
    assert talk.check().verdict == "good"
    assert talk.said == [KEEP_QUIET, COUNT, "I hear you well."]


def test_where_nobody_is_heard_it_asks_again() -> None:
    """The second time it may be the right microphone."""
    talk = Conversation("muted", "good")
    assert talk.check().verdict == "good"
    assert talk.said[2] == "No sound comes from the microphone. Is it muted, or is it the wrong one?"


def test_it_does_not_ask_for_ever() -> None:
    """Three times, then the verdict stands."""
    talk = Conversation("nobody spoke", "muted", "nobody spoke")
    assert talk.check().verdict == "nobody spoke" and len(talk.said) == 9


@pytest.mark.parametrize("kind, headset", [("good", False), ("noisy", True), ("faint", True), ("muted", False)])
def test_the_longer_text_says_which_headset_and_why(kind: str, headset: bool) -> None:
    """Figures always; the headset where it helps."""
    text = printed(measure(*ROOMS[kind]))
    assert text.startswith(f"Room: {kind}. Noise ") and ("off on the road" in text) == headset
