"""The microphone's side, and how the loudspeaker's sound is laid beside it: the echo always follows its cause, by how much
is known, and what was lost is told."""
from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.edge.sound import EAR_RATE, FRAME, Frame, loudspeaker
from companion.edge.sound.loudspeaker import Loudspeaker
from companion.edge.sound.microphone import EARLY_S, Line, Microphone, Reference
from companion.errors import BrokenMachine

RATES = (8_000, 16_000, 44_100, 48_000)
ECHO_S = 0.007
"""From the loudspeaker to the microphone: 2.4 m of air."""
CLICK_S = 0.5
"""From one click to the next."""
JITTER_S = 0.015
"""So far a block's time may lie beside the end of the one before it, and nothing counts as lost."""


# -- a line ------------------------------------------------------------------------------------------------------------

def line(*blocks: tuple[float, float]) -> Line:
    """Of a 16 kHz device, each block given by its second and its value, and 0.1 s long."""
    line = Line()
    for at, value in blocks:
        line.add(at, EAR_RATE, np.full(EAR_RATE // 10, value, np.float32))
    return line


def runs(sound: np.ndarray) -> list[tuple[float, int]]:
    """Each value and how often it stands there in a row."""
    edges = [0, *(np.flatnonzero(np.diff(sound)) + 1), len(sound)]
    return [(round(float(sound[begin]), 3), int(end - begin)) for begin, end in zip(edges, edges[1:])]


def test_blocks_that_follow_each_other_stand_side_by_side() -> None:
    """Nothing is lost, nothing is added, and the first stands at its own second."""
    kept = line((7.0, 0.1), (7.1, 0.2), (7.2, 0.3))
    assert runs(kept.sound) == [(0.1, 1600), (0.2, 1600), (0.3, 1600)]
    assert (kept.begin, kept.shifted) == (7.0, False)


def test_a_gap_is_filled_with_silence_and_told() -> None:
    """Half a second was lost: what follows stands at its own time."""
    kept = line((7.0, 0.1), (7.6, 0.2))
    assert runs(kept.sound) == [(0.1, 1600), (0.0, 8000), (0.2, 1600)] and kept.shifted


def test_what_would_stand_twice_is_dropped_and_told() -> None:
    """A block that begins 40 ms before the end of the one before it takes the place of what stands there."""
    kept = line((7.0, 0.1), (7.06, 0.2))
    assert runs(kept.sound) == [(0.1, 960), (0.2, 1600)] and kept.shifted


@given(st.lists(st.floats(-0.9 * JITTER_S / 2, 0.9 * JITTER_S / 2), min_size=1, max_size=20))
def test_jitter_is_ignored(jitter: list[float]) -> None:
    """Times that are a few milliseconds wrong, this way or that, tear nothing apart."""
    kept = line(*[(7 + 0.1 * count + wrong, 0.1) for count, wrong in enumerate(jitter)])
    assert len(kept.sound) == 1600 * len(jitter) and kept.sound.all() and not kept.shifted


@pytest.mark.parametrize("second", [3.5, 5.9, 20.0, 1e6])
def test_after_a_jump_all_begins_anew(second: float) -> None:
    """Over three seconds, or to before the first sample kept: no such silence is made, the new block stands at its time."""
    kept = line((7.0, 0.1), (second, 0.2))
    assert runs(kept.sound) == [(0.2, 1600)] and kept.begin == pytest.approx(second) and kept.shifted


def test_a_device_of_another_rate_begins_anew_and_is_told() -> None:
    """The first device of all is not: nothing was before it."""
    kept = line((7.0, 0.1))
    assert not kept.shifted
    kept.add(7.1, 8_000, np.full(8_000, 0.2, np.float32))
    assert kept.begin == 7.1 and kept.shifted and np.abs(kept.sound[200:] - 0.2).max() < 0.01


def test_what_was_taken_is_gone_and_nothing_is_waited_for() -> None:
    """To the sample, however much is asked for."""
    kept = line((7.0, 0.1), (7.1, 0.2))
    assert runs(kept.take(7.05)) == [(0.1, 800)]
    assert len(kept.take(7.0)) == 0
    assert runs(kept.take(9.0)) == [(0.1, 800), (0.2, 1600)]
    assert len(kept.take(10.0)) == 0 and kept.begin == pytest.approx(7.2)


@settings(max_examples=50, deadline=None)
@given(rate=st.sampled_from(RATES), steps=st.lists(st.tuples(st.floats(0.001, 0.3), st.floats(-4, 4) | st.just(0.0)),
                                                  min_size=1, max_size=12))
def test_whatever_is_lost_or_comes_twice_the_end_stands_at_its_time(rate: int, steps: list[tuple[float, float]]) -> None:
    """The end of the line is never further from the last block's own end than jitter and what the resampler holds back."""
    kept, at = Line(), 100.0
    for seconds, jump in steps:
        at += jump
        block = np.ones(round(seconds * rate), np.float32)
        kept.add(at, rate, block)
        at += len(block) / rate
        assert -JITTER_S - 0.001 <= at - kept.begin - len(kept.sound) / EAR_RATE <= JITTER_S + 0.12


# -- the loudspeaker's sound beside the microphone's -------------------------------------------------------------------

def played(*blocks: tuple[float, float]) -> Reference:
    """A loudspeaker at 16 kHz that has played blocks of 0.1 s at these seconds, of these values."""
    sink = Loudspeaker()
    sink.played.extend((at, EAR_RATE, np.full(EAR_RATE // 10, value, np.float32)) for at, value in blocks)
    return Reference(sink)


def test_the_reference_gives_what_sounds_at_a_time_and_silence_where_nothing_does() -> None:
    """Before the first sound, in part, inside, over an edge, after the last, and never what is past."""
    reference = played((7.0, 0.1), (7.1, 0.2))
    assert runs(reference.take(6.5)[0]) == [(0.0, 320)]
    assert runs(reference.take(6.99)[0]) == [(0.0, 160), (0.1, 160)]
    assert runs(reference.take(7.09)[0]) == [(0.1, 160), (0.2, 160)]
    assert runs(reference.take(7.19)[0]) == [(0.2, 160), (0.0, 160)]
    assert runs(reference.take(7.0)[0]) == [(0.0, 320)]


def test_the_reference_tells_once_that_sound_was_lost() -> None:
    """With the frame in which it comes to know."""
    reference = played((7.0, 0.1), (7.5, 0.2))
    assert [reference.take(7.0)[1], reference.take(7.02)[1]] == [True, False]


# -- both, with callbacks driven by hand -------------------------------------------------------------------------------

@dataclass
class Device:
    """How a simulated device hands over its sound."""

    rate: int
    bursts: tuple[float, ...] = (0.01,)
    """Seconds of sound in one callback after another, again and again."""
    latency: float = 0.05
    """Of the loudspeaker: how long before it sounds it is asked for. Of the microphone: how long after it was heard it
    comes."""
    ppm: float = 0.0
    """So much faster than its rate its clock runs."""
    lost: tuple[tuple[float, float], ...] = ()
    """From second to second what it gives, or what was played, never arrives."""
    late: tuple[float, float] = (0.0, 0.0)
    """What is heard from second to second arrives all at once at the end."""
    ends_at: float = 0.0
    """Second at which the next callback's sound begins."""
    calls: int = 0

    def next_block(self) -> tuple[float, int]:
        """Second of its first sample, on the common clock, and its length in samples."""
        begin, size = self.ends_at, max(1, round(self.bursts[self.calls % len(self.bursts)] * self.rate))
        self.calls += 1
        self.ends_at += size / (self.rate * (1 + self.ppm / 1e6))
        return begin, size

    def loses(self, second: float) -> bool:
        """Whether what begins then never arrives."""
        return any(begin <= second < end for begin, end in self.lost)


class Bench(Microphone):
    """A loudspeaker that clicks, the air, and a microphone. Whoever waits for sound drives the callbacks, in the order of
    the moments at which they come, so that no frame knows more than it would in a live job."""

    def __init__(self, speaker: Device, hearer: Device, seconds: float) -> None:
        super().__init__()
        self._out, self._in, self._seconds = speaker, hearer, seconds
        self.sink = Loudspeaker()
        self.sink.connect(speaker.rate)
        self.connect(hearer.rate)
        self._air = np.zeros((2, 0))
        self._written = 0.0
        self._coming: list[tuple[float, float, np.ndarray]] = []

    def _next(self) -> tuple[float, int, np.ndarray] | None:
        while not self.waiting and self._in.ends_at < self._seconds:
            if not self._coming:
                self._hear()
            if self._out.ends_at - self._out.latency <= self._coming[0][0]:
                self._play()
            else:
                self._arrive(*self._coming.pop(0))
        return super()._next() if self.waiting else None

    def _play(self) -> None:
        while self._written < self._out.ends_at + 1:
            self.sink.write(click_track())
            self._written += CLICK_S
        at, size = self._out.next_block()
        out = np.zeros((size, 1), np.float32)
        self.sink.copy(out, size, SimpleNamespace(outputBufferDacTime=at or 1e-9), None)
        if self._out.loses(at):
            self.sink.played.pop()
        times = np.linspace(at, self._out.ends_at, size, endpoint=False)
        self._air = np.concatenate([self._air, np.stack([times, out[:, 0]])], 1)[:, -self._out.rate:]

    def _hear(self) -> None:
        at, size = self._in.next_block()
        times = np.linspace(at, self._in.ends_at, size, endpoint=False)
        begin, end = self._in.late
        arrives = max(self._in.ends_at + self._in.latency, end if begin <= at < end else 0.0)
        self._coming.append((arrives, at, times))

    def _arrive(self, _now: float, at: float, times: np.ndarray) -> None:
        block = np.interp(times - ECHO_S, *self._air, left=0, right=0).astype(np.float32)
        if not self._in.loses(at):
            self.copy(np.stack([block, block], 1), len(block), SimpleNamespace(inputBufferAdcTime=at or 1e-9), None)

    def run(self) -> list[Frame]:
        """All frames."""
        return list(self.frames(Reference(self.sink)))


def click_track() -> np.ndarray:
    """Half a second with one click of 2 ms in its middle, at 24 kHz; in between a low level, so that a hole shows."""
    track = np.full(12_000, 0.1, np.float32)
    track[5_976:6_025] += np.hanning(49)
    return track


@pytest.fixture(autouse=True, scope="module")
def roomy() -> Iterator[None]:
    """A loudspeaker that takes any amount ahead, so that a bench need not take turns with it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loudspeaker, "AHEAD", 1e9)
        yield


def clicks(sound: np.ndarray) -> np.ndarray:
    """The seconds at which they stand."""
    places = np.flatnonzero(sound > 0.3)
    groups = np.split(places, np.flatnonzero(np.diff(places) > EAR_RATE // 20) + 1)
    return np.array([np.average(group, weights=sound[group]) for group in groups if len(group)]) / EAR_RATE


def holes(sound: np.ndarray) -> float:
    """Seconds without sound once it has begun."""
    return float((np.abs(sound[np.argmax(sound > 0.05):]) < 0.02).sum() / EAR_RATE)


def distances(frames: list[Frame]) -> np.ndarray:
    """Seconds from each click in what was played to the next in what was heard, without those next to a loss."""
    causes = clicks(np.concatenate([frame.played for frame in frames]))
    echoes = clicks(np.concatenate([frame.heard for frame in frames]))
    after = [echoes[echoes > cause - CLICK_S / 4][:1] - cause for cause in causes]
    return np.concatenate([found for found in after if len(found) and found[0] < CLICK_S / 2] or [np.zeros(0)])


@pytest.mark.parametrize("hears", RATES)
@pytest.mark.parametrize("plays", RATES)
def test_an_echo_stands_behind_its_cause_by_the_air_and_thirty_milliseconds(plays: int, hears: int) -> None:
    """At every pair of rates, to 1 ms, for every click; frames are whole, no cause is missing, none counts as shifted."""
    frames = Bench(Device(plays), Device(hears, latency=0.03), 3).run()
    assert {(len(frame.heard), len(frame.played), frame.shifted) for frame in frames} == {(FRAME, FRAME, False)}
    found = distances(frames)
    assert len(found) == 6 and found == pytest.approx(np.full(6, ECHO_S + EARLY_S), abs=0.001)
    assert holes(np.concatenate([frame.played for frame in frames])) == 0


BURSTS = st.lists(st.floats(0.002, 0.04), min_size=1, max_size=8).map(tuple)


@settings(max_examples=10, deadline=None)
@given(plays=st.sampled_from(RATES), hears=st.sampled_from(RATES), out=BURSTS, into=BURSTS)
def test_bursts_of_any_size_move_no_echo(plays: int, hears: int, out: tuple[float, ...], into: tuple[float, ...]) -> None:
    """2 to 40 ms in a callback, other sizes each time, on both sides: each echo stands where it stood, to 2 ms."""
    frames = Bench(Device(plays, out), Device(hears, into, latency=0.03), 2).run()
    found = distances(frames)
    assert len(found) == 4 and found == pytest.approx(np.full(4, ECHO_S + EARLY_S), abs=0.002)
    assert not any(frame.shifted for frame in frames) and holes(np.concatenate([frame.played for frame in frames])) == 0


def test_blocks_that_come_late_are_laid_where_they_belong() -> None:
    """A busy machine hands over 0.7 s of the microphone all at once: no echo moves, and nothing counts as lost."""
    frames = Bench(Device(48_000), Device(44_100, late=(1.4, 2.1)), 4).run()
    assert distances(frames) == pytest.approx(np.full(8, ECHO_S + EARLY_S), abs=0.001)
    assert not any(frame.shifted for frame in frames)


@pytest.mark.parametrize("lost", [(1.9, 2.0), (1.9, 2.4), (2.0, 5.2)])
def test_what_the_microphone_lost_is_told_and_moves_no_echo(lost: tuple[float, float]) -> None:
    """One frame is marked, and every echo that was heard stands where it stood."""
    frames = Bench(Device(48_000), Device(16_000, lost=(lost,)), 7).run()
    assert sum(frame.shifted for frame in frames) == 1
    found = distances(frames)
    assert len(found) >= 6 and found == pytest.approx(np.full(len(found), ECHO_S + EARLY_S), abs=0.001)


@pytest.mark.parametrize("lost", [(1.9, 2.0), (1.9, 2.4), (2.0, 5.2)])
def test_what_was_played_and_is_not_known_is_told_and_moves_no_echo(lost: tuple[float, float]) -> None:
    """Blocks of the loudspeaker that never came to the reference leave silence in their place, and one frame is marked."""
    frames = Bench(Device(44_100, lost=(lost,)), Device(48_000), 7).run()
    assert sum(frame.shifted for frame in frames) == 1
    found = distances(frames)
    assert len(found) >= 6 and found == pytest.approx(np.full(len(found), ECHO_S + EARLY_S), abs=0.001)


@pytest.mark.parametrize("plays, hears", [(100, -100), (-100, 100)])
def test_clocks_that_drift_keep_every_echo_after_its_cause(plays: float, hears: float) -> None:
    """Over two and a half minutes, each clock 100 millionths off: each is put right before it is 15 ms wrong, which is told."""
    frames = Bench(Device(16_000, (0.04,), ppm=plays), Device(16_000, (0.08,), ppm=hears), 160).run()
    found = distances(frames)
    assert len(found) >= 315
    assert found.min() > ECHO_S + EARLY_S - 2 * JITTER_S - 0.001 > 0
    assert found.max() < ECHO_S + EARLY_S + 2 * JITTER_S + 0.001
    assert sum(frame.shifted for frame in frames) == 2


# -- the microphone alone ----------------------------------------------------------------------------------------------

def block(size: int, value: float = 0.1, channels: int = 1) -> np.ndarray:
    """What PortAudio hands to the callback."""
    return np.full((size, channels), value, np.float32)


def given_blocks(microphone: Microphone, *blocks: np.ndarray, at: float = 7.0, rate: int = EAR_RATE) -> None:
    """One after another, from second `at`."""
    for samples in blocks:
        microphone.copy(samples, len(samples), SimpleNamespace(inputBufferAdcTime=at), None)
        at += len(samples) / rate


def frames_of(microphone: Microphone) -> Iterator[Frame]:
    """Beside a loudspeaker that never played."""
    return microphone.frames(Reference(Loudspeaker()))


def test_frames_are_twenty_milliseconds_of_all_channels_until_the_end() -> None:
    """A stereo microphone is heard as the mean of both; a rest that fills no frame is left out; silence was played."""
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    sound = np.stack([np.full(1_000, 0.1), np.full(1_000, 0.3)], 1).astype(np.float32)
    given_blocks(microphone, sound[:500], sound[500:])
    assert microphone.waiting
    microphone.end()
    frames = list(frames_of(microphone))
    assert [runs(frame.heard) for frame in frames] == [[(0.2, FRAME)]] * 3
    assert not any(frame.played.any() or frame.shifted for frame in frames) and not microphone.waiting
    with pytest.raises(dataclasses.FrozenInstanceError):
        frames[0].shifted = True  # type: ignore[misc]


def test_where_nothing_comes_for_too_long_it_is_told() -> None:
    """What had come before is given first."""
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    microphone.patience = 0.0
    given_blocks(microphone, block(FRAME))
    frames = frames_of(microphone)
    assert len(next(frames).heard) == FRAME
    with pytest.raises(BrokenMachine, match="microphone: the device must keep running"):
        next(frames)


def test_another_stream_begins_with_its_own_sound() -> None:
    """What an old one left behind is not heard, and the new one's rate counts."""
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    given_blocks(microphone, block(FRAME, 0.9))
    microphone.connect(48_000)
    given_blocks(microphone, block(48_000), at=9.0, rate=48_000)
    microphone.end()
    heard = np.concatenate([frame.heard for frame in frames_of(microphone)])
    assert 0.9 < len(heard) / EAR_RATE <= 1 and np.abs(heard[200:-200] - 0.1).max() < 0.001


def test_plain_zeros_are_counted_and_any_sound_ends_the_count() -> None:
    """Across streams: a muted microphone that is opened again is still muted."""
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    given_blocks(microphone, block(8_000, 0.0), block(8_000, 0.0))
    assert microphone.zeros_s == 1
    microphone.connect(8_000)
    given_blocks(microphone, block(8_000, 0.0))
    assert microphone.zeros_s == 2
    given_blocks(microphone, block(8, 1e-7))
    assert microphone.zeros_s == 0


def test_without_portaudios_time_the_callbacks_own_stands_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two blocks whose callbacks come as they should follow each other without a gap; a pause between them is one."""
    now = [7.0]
    monkeypatch.setattr("companion.edge.sound.microphone.time", SimpleNamespace(monotonic=lambda: now[0]))
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    for now[0] in (7.1, 7.2, 8.3):
        microphone.copy(block(1_600), 1_600, SimpleNamespace(inputBufferAdcTime=0.0), None)
    microphone.end()
    frames = list(frames_of(microphone))
    assert runs(np.concatenate([frame.heard for frame in frames])) == [(0.1, 3_200), (0.0, 16_000), (0.1, 1_600)]
    assert [frame.shifted for frame in frames].count(True) == 1 and microphone.called_at == 8.3


def test_a_listener_that_sleeps_loses_what_is_too_much_and_can_still_be_ended() -> None:
    """Memory is bounded; the end comes through a full queue."""
    microphone = Microphone()
    microphone.connect(EAR_RATE)
    for count in range(2_100):
        given_blocks(microphone, block(FRAME), at=7 + 0.02 * count)
    microphone.end()
    assert 1_990 <= len(list(frames_of(microphone))) <= 2_000
