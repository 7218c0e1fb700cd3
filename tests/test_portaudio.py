"""How a stream is opened: its rate, its channels, and what is left behind where that fails."""
from __future__ import annotations

import numpy as np
import pytest

from companion.edge.sound import SpeakerSink
from companion.edge.sound.portaudio import LATENCIES, open_stream, own_rate
from companion.errors import BrokenMachine
from fake_portaudio import FakePortAudio

PARTS = {"microphone": 16_000, "loudspeaker": 48_000}


def nothing(*_: object) -> None:
    """A callback."""


@pytest.mark.parametrize("part", PARTS)
def test_a_device_is_opened_at_its_own_rate(part: str) -> None:
    """One channel of float32, with as little latency as the part allows, and it runs."""
    sounds = FakePortAudio()
    stream = open_stream(sounds, part, "box", own_rate(sounds, "box", part), nothing)
    assert stream.running and stream.part == part
    assert stream.options == {"device": "box", "samplerate": PARTS[part], "channels": 1, "dtype": "float32",
                              "blocksize": 320 if part == "microphone" else 0, "latency": LATENCIES[part][0],
                              "callback": nothing}


def test_a_device_without_one_channel_is_opened_with_two() -> None:
    """Some have nothing else."""
    sounds = FakePortAudio()
    sounds.channels = {2}
    assert open_stream(sounds, "loudspeaker", None, 48_000, nothing).channels == 2


def test_more_room_is_given_where_it_was_asked_for() -> None:
    """Each of the latencies, rising."""
    latencies = [open_stream(FakePortAudio(), "loudspeaker", None, 48_000, nothing, wider).options["latency"]
                 for wider in range(len(LATENCIES["loudspeaker"]))]
    assert latencies == sorted(set(latencies)) == list(LATENCIES["loudspeaker"])


@pytest.mark.parametrize("part", PARTS)
def test_a_stream_that_does_not_start_is_closed_and_told(part: str) -> None:
    """Left open, it would keep the device from the next attempt."""
    sounds = FakePortAudio()
    sounds.stuck.add(part)
    with pytest.raises(BrokenMachine, match=f"{part}: a device must be there, not the {part} does not start"):
        open_stream(sounds, part, None, 48_000, nothing)
    assert len(sounds.streams) == 2 and all(stream.closed for stream in sounds.streams)


@pytest.mark.parametrize("part", PARTS)
def test_where_no_device_is_there_the_part_is_named(part: str) -> None:
    """With what to do."""
    sounds = FakePortAudio()
    sounds.seen.clear()
    with pytest.raises(BrokenMachine, match=f"{part}: a device must be there.*Connect one.*--typed"):
        own_rate(sounds, None, part)
    with pytest.raises(BrokenMachine, match=part):
        open_stream(sounds, part, None, 48_000, nothing)


def test_a_loudspeaker_alone_sounds_and_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    """With its stream's latency; it closes its own stream."""
    sounds = FakePortAudio()
    monkeypatch.setattr("companion.edge.sound.portaudio.library", lambda: sounds)
    sink = SpeakerSink("box")
    stream = sounds.running("loudspeaker")
    assert sink.latency == stream.latency
    sink.write(np.full(480, 0.5, np.float32))
    sink.drain(lambda: True)
    stream.call(7.0)
    assert max(np.abs(sound).max() for _, _, sound in sink.played) > 0.4
    sink.close()
    assert stream.closed
