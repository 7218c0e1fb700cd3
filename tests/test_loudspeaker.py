"""The loudspeaker's side of a stream, whose callback is called by hand: what sounds, when, and what never does."""
from __future__ import annotations

import threading
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.edge.sound import loudspeaker
from companion.edge.sound.loudspeaker import Loudspeaker
from companion.edge.sound.sinks import AHEAD
from companion.errors import BrokenMachine

RATES = (8_000, 16_000, 44_100, 48_000)
RATE = 24_000
BLOCK = RATE // 50
HELD_S = 0.04
"""The resampler keeps up to so much back: it works in blocks of its own."""
NOT_STOPPED, STOPPED = (lambda: False), (lambda: True)


class Clock:
    """Stands for the module `time`: it passes only in `sleep`, and each sleep may do something."""

    def __init__(self) -> None:
        self.now = 1_000.0
        self.act: Callable[[float], object] = lambda seconds: None

    def monotonic(self) -> float:
        """Seconds."""
        return self.now

    def sleep(self, seconds: float) -> None:
        """Takes no real time."""
        self.now += seconds
        self.act(seconds)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The loudspeaker's."""
    clock = Clock()
    monkeypatch.setattr(loudspeaker, "time", clock)
    return clock


@pytest.fixture
def roomy(monkeypatch: pytest.MonkeyPatch) -> None:
    """A loudspeaker that takes any amount ahead, so that a test need not take turns with it."""
    monkeypatch.setattr(loudspeaker, "AHEAD", 1e9)


def connected(rate: int) -> Loudspeaker:
    """A loudspeaker with a stream of `rate`."""
    sink = Loudspeaker()
    sink.connect(rate)
    return sink


def pull(sink: Loudspeaker, frames: int, at: float = 1.0, channels: int = 1, status: object = None) -> np.ndarray:
    """What the stream's callback is given: (frames,), of the first channel; the others are the same."""
    out = np.full((frames, channels), np.nan, np.float32)
    sink.copy(out, frames, SimpleNamespace(outputBufferDacTime=at), status)
    assert (out == out[:, :1]).all()
    return out[:, 0]


def write(sink: Loudspeaker, sound: np.ndarray) -> None:
    """As the player does, 20 ms at a time."""
    for start in range(0, len(sound), BLOCK):
        sink.write(sound[start:start + BLOCK])


def tone(rate: int, seconds: float, hertz: float = 1_000) -> np.ndarray:
    """Of level 0.3."""
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate)).astype(np.float32)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate", RATES)
def test_a_tone_keeps_its_pitch_level_and_length_at_every_rate(roomy: None, rate: int, channels: int) -> None:
    """At most 1 % of its level beside the same tone made at the stream's rate, and at most one sample longer or shorter;
    nothing but silence follows."""
    sink = connected(rate)
    write(sink, tone(RATE, 1.01))
    sink.drain(STOPPED)
    sound = np.concatenate([pull(sink, rate // 100, channels=channels) for _ in range(120)])
    length = round(1.01 * rate)
    assert abs(np.flatnonzero(sound)[-1] + 1 - length) <= 1
    inside = slice(rate // 50, length - rate // 50)
    assert np.abs(sound - np.pad(tone(rate, 1.01), (0, len(sound) - length)))[inside].max() < 0.003


def test_what_a_stream_cannot_hold_is_filtered_out_not_folded_back(roomy: None) -> None:
    """A tone of 6 kHz leaves nothing on a device of 8 kHz (merely dropping samples gives 2 kHz)."""
    sink = connected(8_000)
    write(sink, tone(RATE, 1, 6_000))
    assert np.abs(pull(sink, 7_000)[500:]).max() < 0.001


def test_a_callback_that_finds_too_little_gets_silence_for_the_rest() -> None:
    """Before the first sound, in the middle of it and after it; what stood there before never sounds."""
    sink = connected(RATE)
    assert (pull(sink, 100) == 0).all()
    sink.write(np.full(150, 0.5, np.float32))
    assert (pull(sink, 100) == 0.5).all()
    assert pull(sink, 100).tolist() == [0.5] * 50 + [0.0] * 50
    assert (pull(sink, 100) == 0).all()


def test_each_time_the_device_starved_is_counted() -> None:
    """By what PortAudio tells the callback."""
    sink = connected(RATE)
    for status in (None, "output underflow", None, "output underflow"):
        pull(sink, 10, status=status)
    assert sink.starved == 2


@pytest.mark.parametrize("rate", RATES)
def test_no_more_than_a_little_is_taken_ahead_and_then_the_fault_is_told(monkeypatch: pytest.MonkeyPatch,
                                                                        rate: int) -> None:
    """Where no callback comes, `write` takes what it may hold and a block more, and then raises BrokenMachine."""
    monkeypatch.setattr(loudspeaker, "STARTING", 0.0)
    monkeypatch.setattr(loudspeaker, "LOST_AFTER", 0.0)
    sink, taken = connected(rate), 0
    with pytest.raises(BrokenMachine, match="loudspeaker: the device must keep running.*--typed"):
        while taken < RATE:
            sink.write(np.zeros(BLOCK, np.float32))
            taken += BLOCK
    assert AHEAD <= taken / RATE <= AHEAD + HELD_S + 0.02 + (0.08 if rate < 16_000 else 0)


def test_without_a_stream_nothing_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before the first stream, and after one has gone."""
    monkeypatch.setattr(loudspeaker, "LOST_AFTER", 0.0)
    never, gone = Loudspeaker(), connected(RATE)
    monkeypatch.setattr(gone, "_patient_until", 0.0)
    gone.disconnect()
    for sink in (never, gone):
        with pytest.raises(BrokenMachine, match="loudspeaker"):
            sink.write(np.zeros(BLOCK, np.float32))


def test_a_writer_waits_for_room_and_goes_on_when_the_stream_takes_sound() -> None:
    """Two seconds are written while the stream takes them 10 ms at a time; all of it sounds, in order."""
    sink, sound = connected(RATE), tone(RATE, 2)
    writer = threading.Thread(target=write, args=(sink, sound), daemon=True)
    writer.start()
    got = np.zeros(0, np.float32)
    while len(got) < len(sound) and (writer.is_alive() or sink._waiting):
        got = np.concatenate([got, pull(sink, min(RATE // 100, sink._waiting))])
    writer.join(5)
    assert not writer.is_alive() and np.array_equal(got, sound)


def test_drain_returns_when_the_last_sample_has_sounded(clock: Clock, roomy: None) -> None:
    """0.5 s of sound and the stream's latency of 0.2 s, to 20 ms."""
    sink = connected(48_000)
    sink.latency = 0.2
    clock.act = lambda seconds: pull(sink, round(48_000 * seconds))
    write(sink, tone(RATE, 0.5))
    start = clock.now
    sink.drain(NOT_STOPPED)
    assert clock.now - start == pytest.approx(0.7, abs=0.02)


def test_drain_ends_when_it_is_stopped_and_raises_where_the_stream_stands_still(clock: Clock) -> None:
    """Stopped at once, and lost after five seconds just after the start, after two later."""
    sink = connected(48_000)
    sink.write(tone(RATE, 0.1))
    sink.drain(STOPPED)
    for patience in (loudspeaker.STARTING, loudspeaker.LOST_AFTER):
        start = clock.now
        with pytest.raises(BrokenMachine, match="loudspeaker"):
            sink.drain(NOT_STOPPED)
        assert clock.now - start == pytest.approx(patience, abs=0.02)


@settings(max_examples=60, deadline=None)
@given(rate=st.sampled_from(RATES), blocks=st.lists(st.integers(1, 900), max_size=30), pulled=st.floats(0, 1.2),
       drained=st.booleans())
def test_what_is_dropped_and_what_sounds_are_together_what_was_written(rate: int, blocks: list[int], pulled: float,
                                                                     drained: bool) -> None:
    """Silence from 5 ms after `drop`; the number it returns is, to two samples, what never sounds."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loudspeaker, "AHEAD", 1e9)
        sink = connected(rate)
        for size in blocks:
            sink.write(np.full(size, 0.5, np.float32))
        if drained:
            sink.drain(STOPPED)
        there = sink._waiting
        before = min(there, int(pulled * there))
        pull(sink, before)
        dropped, rest = sink.drop(), pull(sink, rate)
    fade = min(there - before, int(0.005 * rate))
    assert (rest[fade:] == 0).all()
    assert dropped == pytest.approx(sum(blocks) - (before + fade) * RATE / rate, abs=2)


@pytest.mark.parametrize("rate", RATES)
def test_a_drop_fades_evenly_to_silence_within_five_milliseconds(roomy: None, rate: int) -> None:
    """From the level that sounds to nothing without a jump, which would click."""
    sink = connected(rate)
    write(sink, np.full(RATE, 0.5, np.float32))
    pull(sink, rate // 2)
    sink.drop()
    fade, silence = np.split(pull(sink, rate // 50), [rate // 200])
    assert fade == pytest.approx(np.linspace(0.5, 0, len(fade)), abs=0.001) and not silence.any()


@pytest.mark.parametrize("rate", RATES)
def test_what_is_dropped_is_told_rightly_after_a_long_utterance_too(roomy: None, rate: int) -> None:
    """After a minute in 20 ms blocks, the count is as exact as after one: rounding does not add up."""
    sink = connected(rate)
    for _ in range(3_000):
        sink.write(np.full(BLOCK, 0.5, np.float32))
    there = sink._waiting
    pull(sink, there)
    assert sink.drop() == pytest.approx(60 * RATE - there * RATE / rate, abs=2)
    assert sink.drop() == 0


def test_after_a_drop_only_the_fade_is_waited_for(clock: Clock, roomy: None) -> None:
    """What was dropped takes neither time nor room."""
    sink = connected(48_000)
    clock.act = lambda seconds: pull(sink, round(48_000 * seconds))
    write(sink, tone(RATE, 0.3))
    sink.drop()
    start = clock.now
    sink.drain(NOT_STOPPED)
    assert clock.now - start <= 0.02


def test_after_a_drop_new_sound_is_heard_from_its_first_sample(roomy: None) -> None:
    """Nothing of what was dropped comes before it."""
    sink = connected(48_000)
    write(sink, tone(RATE, 0.3))
    sink.drop()
    pull(sink, 480)
    write(sink, np.full(RATE // 10, 0.25, np.float32))
    sink.drain(STOPPED)
    sound = pull(sink, 9_600)
    assert np.count_nonzero(sound) == pytest.approx(4_800, abs=1) and np.abs(sound[200:4_600] - 0.25).max() < 0.001


def test_a_stream_that_is_replaced_goes_on_at_its_own_rate(roomy: None) -> None:
    """What waited for the old one never sounds; what is written later sounds at the new one's pitch."""
    sink = connected(48_000)
    write(sink, tone(RATE, 0.1, 5_000))
    sink.disconnect()
    sink.connect(16_000)
    write(sink, tone(RATE, 0.5))
    sink.drain(STOPPED)
    sound = pull(sink, 8_000)
    assert np.abs(sound - tone(16_000, 0.5))[300:-300].max() < 0.003


def test_a_writer_that_waits_for_a_lost_stream_goes_on_with_the_next() -> None:
    """It is not told of a fault if the next one comes soon."""
    sink, faults = connected(RATE), []

    def speak() -> None:
        try:
            write(sink, np.full(RATE // 5, 0.5, np.float32))
        except BrokenMachine as fault:
            faults.append(fault)

    sink.disconnect()
    writer = threading.Thread(target=speak, daemon=True)
    writer.start()
    sink.connect(RATE)
    while writer.is_alive():
        pull(sink, 100)
    assert faults == []


def test_what_went_out_is_kept_with_its_time_and_rate(clock: Clock, roomy: None) -> None:
    """Silence too, in order, as copies; where PortAudio gives no time, the callback's own and the latency stand for it."""
    sink = connected(48_000)
    write(sink, tone(RATE, 0.1))
    outs = [pull(sink, 480, at=2 + 0.01 * count, channels=2) for count in range(3)]
    sink.connect(16_000)
    sink.latency = 0.3
    outs.append(pull(sink, 160, at=0.0))
    times, rates, sounds = zip(*sink.played)
    assert times == pytest.approx([2, 2.01, 2.02, clock.now + 0.3]) and rates == (48_000,) * 3 + (16_000,)
    assert all(np.array_equal(sound, out) for sound, out in zip(sounds, outs))
    assert np.abs(sounds[1]).max() > 0.1 and not sounds[3].any()


def test_what_nobody_takes_is_kept_for_a_while_only() -> None:
    """A program that only speaks never takes what was played."""
    sink = connected(RATE)
    for count in range(2_000):
        pull(sink, 10, at=count)
    assert len(sink.played) <= 500 and sink.played[-1][0] == 1_999


def test_closing_leaves_the_stream_to_whoever_owns_it() -> None:
    """The sink's own part of the interface does nothing."""
    sink = connected(RATE)
    sink.close()
    sink.write(np.full(10, 0.5, np.float32))
    assert (pull(sink, 10) == 0.5).all()
