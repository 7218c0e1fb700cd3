"""Both devices on a thread of their own: its beginning, what it hands on, and its end. `test_streams` watches the devices."""
from __future__ import annotations

import queue
import threading

import numpy as np
import pytest

from companion.edge.sound import SoundDevices, devices
from companion.errors import BrokenMachine
from fake_portaudio import FakePortAudio

SECONDS = 5.0
"""So long a test waits for what comes at once."""


@pytest.fixture
def sounds(monkeypatch: pytest.MonkeyPatch) -> FakePortAudio:
    """A library, and looks that come so seldom that none comes."""
    sounds = FakePortAudio()
    monkeypatch.setattr("companion.edge.sound.streams.library", lambda: sounds)
    monkeypatch.setattr(devices, "LOOK", 3_600.0)
    return sounds


def owners() -> list[threading.Thread]:
    """The threads that own devices."""
    return [thread for thread in threading.enumerate() if thread.name == "sound devices"]


def test_sound_goes_out_and_comes_in_until_they_are_closed(sounds: FakePortAudio) -> None:
    """Frames come while callbacks come; `close` ends whoever waits for one, the thread, and both streams."""
    both, taken = SoundDevices(), []
    listener = threading.Thread(target=lambda: taken.extend(both.frames()), daemon=True)
    listener.start()
    both.sink.write(np.full(480, 0.5, np.float32))
    both.sink.drain(lambda: True)
    for now in (7.0, 7.1, 7.2):
        sounds.call(now)
    assert len(owners()) == 1
    both.close()
    listener.join(SECONDS)
    assert not listener.is_alive() and owners() == []
    assert len(taken) == 15 and all(stream.closed for stream in sounds.streams)
    assert max(np.abs(frame.played).max() for frame in taken) > 0.3


def test_the_devices_that_were_asked_for_are_opened(sounds: FakePortAudio) -> None:
    """By name or number, each at its own rate."""
    both = SoundDevices("headset", 7)
    both.close()
    assert [(stream.part, stream.options["device"], stream.options["samplerate"]) for stream in sounds.streams] == [
        ("microphone", "headset", 16_000), ("loudspeaker", 7, 48_000)]


@pytest.mark.parametrize("part", ["microphone", "loudspeaker"])
def test_a_device_that_is_missing_at_the_start_is_named_and_nothing_is_left(sounds: FakePortAudio, part: str) -> None:
    """No thread, no stream."""
    sounds.seen.discard(part)
    with pytest.raises(BrokenMachine, match=f"{part}: a device must be there"):
        SoundDevices()
    for thread in owners():
        thread.join(SECONDS)
    assert owners() == [] and all(stream.closed for stream in sounds.streams)


def test_the_thread_looks_and_tells(sounds: FakePortAudio, monkeypatch: pytest.MonkeyPatch) -> None:
    """A doubted part is told lost at the next look, on the owner's thread."""
    monkeypatch.setattr(devices, "LOOK", 0.001)
    news: "queue.Queue[tuple[str, bool, str]]" = queue.Queue()
    both = SoundDevices(notice=lambda part, there, why: news.put((part, there, threading.current_thread().name)))
    both.doubt("loudspeaker")
    assert news.get(timeout=SECONDS) == ("loudspeaker", False, "sound devices")
    both.close()
