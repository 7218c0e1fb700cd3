"""Sound in and out: files of every rate, a WAV along the job's clock, real devices on a null sink of PulseAudio."""
from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from companion.edge.sound import (CHUNK, EAR_RATE, FRAME, FileSink, FileSource, NullSink, SoundDevices, SpeakerSink,
                                  read_sound)
from companion.edge.sound.loudspeaker import Loudspeaker
from companion.errors import BadInput, BrokenMachine
from parts_needed import SOUND, needs

SETTLED = 25
"""So many frames must have come without a shift: a sound server that wakes gives wrong times at first."""
RATES = (8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000)


def sine(rate: int, seconds: float = 1.3, hertz: float = 440) -> np.ndarray:
    """A quiet tone."""
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(int(rate * seconds)) / rate)).astype(np.float32)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("form, channels", [("wav", 1), ("wav", 2), ("flac", 1), ("flac", 5)])
def test_a_file_of_any_rate_and_channels_gives_the_same_sound(tmp_path: Path, rate: int, form: str,
                                                              channels: int) -> None:
    """A tone keeps its pitch, level and length at 16 kHz; every chunk is 512 samples of float32."""
    path = tmp_path / f"tone.{form}"
    soundfile.write(path, np.tile(sine(rate)[:, None], channels), rate)
    source = FileSource(path)
    chunks = list(source.chunks())
    source.close()
    assert {(len(chunk), chunk.dtype.name) for chunk in chunks} == {(CHUNK, "float32")}
    sound = np.concatenate(chunks)
    assert len(sound) == -(-int(1.3 * EAR_RATE) // CHUNK) * CHUNK
    middle = slice(EAR_RATE // 10, EAR_RATE)
    assert np.abs(sound[middle] - sine(EAR_RATE)[middle]).max() < 0.01


def test_high_sound_is_filtered_out_not_folded_back(tmp_path: Path) -> None:
    """A tone of 11 kHz, beyond what 16 kHz can hold, leaves nothing behind (merely dropping samples gives 5 kHz)."""
    soundfile.write(tmp_path / "high.wav", sine(48_000, hertz=11_000), 48_000)
    assert np.abs(read_sound(tmp_path / "high.wav")[800:-2000]).max() < 0.001


def test_a_source_can_be_closed_while_it_is_read(tmp_path: Path) -> None:
    """After `close` no more chunks come."""
    soundfile.write(tmp_path / "a.wav", sine(16_000), 16_000)
    source = FileSource(tmp_path / "a.wav")
    chunks = source.chunks()
    next(chunks)
    source.close()
    assert list(chunks) == []


HOSTILE = {"empty": b"", "text": b"hello " * 100, "a header alone": b"RIFF\x24\0\0\0WAVEfmt ", "zeros": bytes(999)}


def _write_hostile(folder: Path, kind: str) -> Path:
    path = folder / f"{kind}.wav"
    if kind == "a folder":
        path.mkdir()
    elif kind == "a slow clock":
        soundfile.write(path, sine(1_000), 1_000)
    elif kind != "missing":
        path.write_bytes(HOSTILE[kind])
    return path


@pytest.mark.parametrize("kind", [*HOSTILE, "missing", "a folder", "a slow clock"])
def test_what_is_no_sound_file_is_refused_with_its_name(tmp_path: Path, kind: str) -> None:
    """One clear error that names the file, whatever it is."""
    path = _write_hostile(tmp_path, kind)
    with pytest.raises(BadInput, match="WAV or FLAC") as caught:
        read_sound(path)
    assert str(path) in str(caught.value)


@pytest.mark.parametrize("form", ["wav", "flac"])
def test_a_file_that_breaks_off_gives_what_is_there_or_says_so(tmp_path: Path, form: str) -> None:
    """Cut anywhere, a file is read up to the cut or refused; never anything else, never more sound than it held."""
    soundfile.write(tmp_path / f"whole.{form}", sine(16_000, 3), 16_000)
    whole = (tmp_path / f"whole.{form}").read_bytes()
    for size in range(1, len(whole), len(whole) // 23):
        path = tmp_path / f"cut.{form}"
        path.write_bytes(whole[:size])
        with contextlib.suppress(BadInput):
            assert len(read_sound(path)) <= 3 * EAR_RATE + CHUNK


def test_samples_that_are_no_numbers_become_silence(tmp_path: Path) -> None:
    """A float file may hold NaN and infinity; the ear never sees them."""
    samples = sine(16_000)
    samples[1000:1003] = np.nan, np.inf, -np.inf
    soundfile.write(tmp_path / "nan.wav", samples, 16_000, subtype="FLOAT")
    assert np.all(np.isfinite(read_sound(tmp_path / "nan.wav")))


def test_an_empty_sound_file_has_no_chunks(tmp_path: Path) -> None:
    """No samples, no chunks, no error."""
    soundfile.write(tmp_path / "none.wav", np.zeros(0, np.float32), 16_000)
    assert len(read_sound(tmp_path / "none.wav")) == 0


def test_a_file_sink_keeps_time_and_sample_values(tmp_path: Path) -> None:
    """Blocks stand at the second at which they were written; what would overlap follows on; silence fills the rest."""
    clock = [0.0]
    sink = FileSink(tmp_path / "out.wav", 8_000, lambda: clock[0], lambda seconds: None)
    block = sine(8_000, 0.5)
    for second in (1.0, 1.2, 4.0):
        clock[0] = second
        sink.write(block)
    clock[0] = 6.0
    sink.close()
    samples, rate = soundfile.read(tmp_path / "out.wav", dtype="float32")
    want = np.zeros(6 * 8_000, np.float32)
    for second in (1.0, 1.5, 4.0):
        want[int(second * 8_000):][:len(block)] = block
    assert rate == 8_000 and samples.shape == want.shape and np.abs(samples - want).max() < 1e-4


def test_a_file_sink_is_whole_after_each_utterance(tmp_path: Path) -> None:
    """Were the program killed after `drain`, the file would still open and hold all that was said."""
    sink = FileSink(tmp_path / "out.wav", 8_000, lambda: 0.0, lambda seconds: None)
    assert soundfile.info(tmp_path / "out.wav").frames == 0
    for count in (1, 2):
        sink.write(sine(8_000))
        sink.drain(lambda: False)
        assert soundfile.info(tmp_path / "out.wav").frames == count * len(sine(8_000))
    sink.close()


def test_a_file_that_cannot_be_written_is_told() -> None:
    """A missing folder and a full disk give an error that names the file."""
    with pytest.raises(BrokenMachine, match="/nowhere/out.wav"):
        FileSink("/nowhere/out.wav")
    if Path("/dev/full").exists():
        with pytest.raises(BrokenMachine, match="/dev/full"):
            FileSink("/dev/full")


def test_sound_needs_no_portaudio_until_a_device_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Importing the package leaves PortAudio alone; opening a device without it says what is missing and the way on."""
    script = "import sys, companion.edge.sound, companion.edge.player; sys.exit('sounddevice' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], cwd=Path(__file__).parents[1]).returncode == 0
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    for opened in (SpeakerSink, SoundDevices):
        with pytest.raises(BrokenMachine, match="PortAudio.*--typed"):
            opened()


def test_the_null_sink_counts_and_takes_no_time() -> None:
    """All of the sink's interface, without sound."""
    sink = NullSink()
    sink.write(sine(24_000, 1))
    sink.drain(lambda: False)
    assert (sink.written, sink.drop()) == (24_000, 0)
    sink.close()


@pytest.fixture(params=[44_100, 48_000])
def null_sink(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The name of a PulseAudio null sink: what is played into it can be recorded from its monitor."""
    needs(*SOUND)
    name = f"companion_test_{request.param}"
    loaded = subprocess.run(["pactl", "load-module", "module-null-sink", f"sink_name={name}", f"rate={request.param}"],
                            capture_output=True, text=True, check=True)
    monkeypatch.setenv("PULSE_SINK", name)
    monkeypatch.setenv("PULSE_SOURCE", f"{name}.monitor")
    yield name
    subprocess.run(["pactl", "unload-module", loaded.stdout.strip()], check=True)


def test_loudspeaker_and_microphone_carry_the_same_sound(null_sink: str) -> None:
    """A rising tone on the loudspeaker path arrives on the microphone path unchanged; what was dropped does not."""
    devices = SoundDevices("pulse", "pulse")
    sink, frames = devices.sink, []
    listening = threading.Thread(target=lambda: frames.extend(devices.frames()))
    listening.start()
    while len(frames) < SETTLED or any(frame.shifted for frame in frames[-SETTLED:]) and len(frames) < 20 * SETTLED:
        listening.join(0.05)
    seconds = np.arange(sink.rate) / sink.rate
    played = (0.3 * np.sin(2 * np.pi * (200 + 200 * seconds) * seconds)).astype(np.float32)
    _write(sink, played)
    sink.drain(lambda: False)
    _write(sink, played[:sink.rate // 2])
    dropped = sink.drop()
    sink.drain(lambda: False)
    before = len(frames)
    while len(frames) < before + 0.3 * EAR_RATE / FRAME:
        listening.join(0.05)
    devices.close()
    listening.join(5)
    assert not listening.is_alive()
    assert {(len(frame.heard), len(frame.played)) for frame in frames} == {(FRAME, FRAME)}
    sound = np.concatenate([frame.heard for frame in frames])
    given = np.concatenate([frame.played for frame in frames])
    assert _median_likeness(given, soxr.resample(played, sink.rate, EAR_RATE)) > 0.95
    assert _median_likeness(sound, soxr.resample(played, sink.rate, EAR_RATE)) > 0.95
    assert 0 < dropped <= 0.1 * sink.rate  # what waits, a block more, and what the resampler holds back
    assert (np.abs(sound) > 0.01).sum() / EAR_RATE == pytest.approx(1.5 - dropped / sink.rate, abs=0.06)


def _write(sink: Loudspeaker, sound: np.ndarray) -> None:
    for start in range(0, len(sound), sink.rate // 50):
        sink.write(sound[start:start + sink.rate // 50])


def _median_likeness(heard: np.ndarray, played: np.ndarray) -> float:
    """Of ten stretches of `played`: on a busy machine the device may starve, and skip, once or twice."""
    return float(np.median([_likeness(heard, part) for part in np.array_split(played, 10)]))


def _likeness(heard: np.ndarray, played: np.ndarray) -> float:
    """The greatest correlation of `played` with any stretch of `heard`, 1 for the same sound."""
    size = 1 << (len(heard) + len(played)).bit_length()
    match = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(played, size)))[:len(heard) - len(played)]
    power = np.convolve(np.square(heard), np.ones(len(played)), "valid")[:len(match)]
    return float((match / np.sqrt(np.maximum(power, 1e-9) * np.square(played).sum())).max())
