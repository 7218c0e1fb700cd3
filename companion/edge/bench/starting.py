"""From start to first spoken word, memory, and from the endpoint decision to the first sound of the answer.

The first two are measured on a real process (`companion job learning` with sound files instead of devices), the last on
the live loop with the real ear and voice, into a sink that only notes when sound arrives.
"""
from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import wave
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np
import soxr
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import public_hex
from companion.edge.cards import read_card
from companion.edge.clock import RealClock
from companion.edge.ear import LivePath, load_ear
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion, guessed
from companion.edge.mouth import PrintedMouth, SpokenMouth
from companion.edge.opening import opened
from companion.edge.player import Player
from companion.edge.sound import CHUNK, EAR_RATE, NullSink
from companion.edge.voice import load_voice, mechanic_voice

#: What the mechanic says on the learning card, with the words that a step asks for.
LINES = ("repeat", "next", "four", "log value twenty one centimetres", "light turned away", "how long", "options")


@dataclass(frozen=True)
class Starting:
    """Seconds and megabytes of whole processes, medians over `count`."""

    count: int
    first_word_s: float
    memory_mb: float

    @property
    def good(self) -> bool:
        """First word within 3 s, memory within 500 MB."""
        return self.first_word_s <= 3 and self.memory_mb <= 500


def start(count: int = 5) -> Starting:
    """Start the learning card `count` times, in a new process each."""
    found = [_start_once() for _ in range(count)]
    return Starting(count, median(seconds for seconds, _ in found), max(memory for _, memory in found))


def _start_once() -> tuple[float, float]:
    with tempfile.TemporaryDirectory() as place:
        silence, spoken = Path(place, "in.wav"), Path(place, "out.wav")
        _write_silence(silence, seconds=8)
        began = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", "companion", "job", "learning", "--sound-in", str(silence), "--sound-out", str(spoken)],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "COMPANION_HOME": place})
        while not _sounds(spoken) and process.poll() is None and time.perf_counter() - began < 60:
            time.sleep(0.005)
        seconds = time.perf_counter() - began
        time.sleep(1.5)  # let it listen for a while, so that all its parts are in memory
        memory = _peak_mb(process.pid)
        process.kill()
        process.wait()
    return seconds, memory


def _write_silence(path: Path, seconds: int) -> None:
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, EAR_RATE, 0, "NONE", ""))
        file.writeframes(bytes(2 * EAR_RATE * seconds))


def _sounds(path: Path) -> bool:
    """Whether anything but silence has been written."""
    return path.exists() and any(path.read_bytes()[44:])


def _peak_mb(pid: int) -> float:
    """Peak resident memory; Linux only, 0 elsewhere."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), 0.0)


# -- the answer --------------------------------------------------------------------------------------------------------

class _NotingSink(NullSink):
    """Notes when the first sound after a moment arrives."""

    first: float | None = None

    def write(self, samples: np.ndarray) -> None:
        if self.first is None and len(samples) and np.any(samples):
            self.first = time.perf_counter()
        super().write(samples)


@dataclass(frozen=True)
class Answering:
    """Milliseconds from the endpoint decision, medians over `count` answers."""

    count: int
    tone_ms: float
    """To the "heard" tone."""
    word_ms: float
    """To the first spoken word, after the entry is durable."""

    @property
    def good(self) -> bool:
        """The first sound within 0.15 s at the median."""
        return self.tone_ms <= 150


def answer(rounds: int = 3) -> Answering:
    """Speak the learning card's answers to the live loop, `rounds` times over."""
    tones, words = [], []
    path, voice, mechanic = LivePath(load_ear("embedded")), load_voice("builtin"), mechanic_voice()
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as place:
            for tone, word in _answers(Path(place, "job.jsonl"), path, voice, mechanic):
                tones.append(tone)
                words.append(word)
    return Answering(len(tones), median(tones), median(words))


def _answers(log_path: Path, path: LivePath, voice, mechanic):
    sink = _NotingSink()
    player = Player(voice, sink)
    mouth = _SplitMouth(player, sink)
    card, key = read_card("learning"), Ed25519PrivateKey.generate()
    with LogFile.create(log_path, key) as log:
        companion = Companion(log, RealClock(), mouth)
        companion.take(opened(card, boot="bench", key=public_hex(key), ear=path.ear.name, voice=voice.name))
        for line in LINES:
            player.wait()
            sound = soxr.resample(mechanic.render(line), mechanic.rate, EAR_RATE).astype(np.float32)
            path.listen(companion.listening)
            for guess in _hear(path, sound):
                yield mouth.measure(companion, guess, path.ear.name)
    player.close()


def _hear(path: LivePath, sound: np.ndarray):
    sound = np.concatenate([np.zeros(EAR_RATE // 2, np.float32), sound, np.zeros(EAR_RATE, np.float32)])
    for begin in range(0, len(sound) - CHUNK + 1, CHUNK):
        yield from path.feed(sound[begin:begin + CHUNK])


class _SplitMouth(SpokenMouth):
    """A spoken mouth that tells the tone's first sound from the words'."""

    def __init__(self, player: Player, sink: _NotingSink) -> None:
        super().__init__(player, PrintedMouth(lambda tag: None, open(os.devnull, "w", encoding="utf-8")))
        self._sink = sink

    def measure(self, companion: Companion, guess, ear: str) -> tuple[float, float]:
        """Take a guess; milliseconds from its endpoint decision to the tone and to the first word."""
        decided = time.perf_counter() - guess.ms / 1000
        self._sink.first, self._tone = None, None
        companion.take(guessed(guess, ear))
        self.player.wait()
        word = self._sink.first or time.perf_counter()
        return ((self._tone or word) - decided) * 1000, (word - decided) * 1000

    def carry_out(self, effect) -> None:
        from companion.core.job.effects import Tone
        super().carry_out(effect)
        if isinstance(effect, Tone) and self._tone is None:
            self.player.wait()
            self._tone, self._sink.first = self._sink.first, None

    _tone: float | None = None
