"""Voices for the bench: throats of the built-in voice that nothing was tuned on, and espeak-ng's accents if there."""
from __future__ import annotations

import functools
import io
import shutil
import subprocess
from dataclasses import dataclass

import numpy as np
import soundfile
import soxr

from companion.edge.ear import RATE
from companion.edge.voice.builtin import BuiltinVoice, Throat
from companion.errors import BrokenMachine

THROATS = (Throat("tall", tract=1.10, pitch=0.72), Throat("small", tract=0.93, pitch=1.12),
           Throat("deep", tract=1.20, pitch=0.55), Throat("plain", tract=1.05, pitch=0.85))
SPEEDS = (0.95, 1.15, 1.3)
ACCENTS = ("en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-029", "en-us+f2", "en-gb+m3", "en-gb-x-gbclan+f4")
PACES = (140, 165, 190)
"""Words a minute."""

CHATTER = tuple(line.strip() for line in """
    Did you watch the match on Saturday?
    They say it will rain until the weekend.
    I left my lunch in the van again.
    The coffee machine is broken, somebody should look at it.
    And now the traffic: slow on the ring road, both ways.
    My sister is moving house, so I will be away on Monday.
    Can you lend me twenty for the parking?
    That was the oldest song in the world, and here comes another one.
    He bought it second hand and never once washed it.
    The delivery comes between nine and eleven, if it comes at all.
    She wants the blue one, not the grey one.
    We were at the seaside for a week with the children.
    Has anybody seen my other glove?
    There is a dog in the yard, close the gate.
    Call your mother when you have a minute.
    Prices went up by four percent, the minister told reporters.
    What are you having for dinner tonight?
    It was cheaper last year, I am sure of it.
    The phone in the office is ringing.
    Good morning, is the boss about?
""".strip().splitlines())
"""Talk that is not for the program."""


@dataclass(frozen=True)
class BenchVoice:
    """One way of talking."""

    engine: str
    """"built-in" or "espeak-ng"."""
    name: str
    speed: float
    """A factor for the built-in voice, words a minute for espeak-ng."""


@dataclass(frozen=True)
class Spoken:
    """Words in a voice, rendered when they are needed."""

    voice: BenchVoice
    text: str
    narrow: bool = False
    """Through the band of a telephone line."""

    def sound(self) -> np.ndarray:
        """Float32 at 16 kHz; the same every time."""
        from companion.edge.bench.ear.noises import telephone

        sound = _builtin(self.voice, self.text) if self.voice.engine == "built-in" else _espeak(self.voice, self.text)
        return telephone(sound) if self.narrow else sound


@functools.lru_cache(maxsize=1)
def builtin_voices() -> tuple[BenchVoice, ...]:
    """Every throat at every speed."""
    return tuple(BenchVoice("built-in", throat.name, speed) for speed in SPEEDS for throat in THROATS)


@functools.lru_cache(maxsize=1)
def bench_voices() -> tuple[BenchVoice, ...]:
    """All there are here, engines by turns."""
    builtin = builtin_voices()
    if shutil.which("espeak-ng") is None:
        return builtin
    other = [BenchVoice("espeak-ng", accent, pace) for pace in PACES for accent in ACCENTS][:len(builtin)]
    return tuple(voice for pair in zip(builtin, other) for voice in pair)


def _builtin(voice: BenchVoice, text: str) -> np.ndarray:
    throat = next(throat for throat in THROATS if throat.name == voice.name)
    spoken = BuiltinVoice(throat, voice.speed)
    return soxr.resample(spoken.render(text), spoken.rate, RATE).astype(np.float32)


def _espeak(voice: BenchVoice, text: str) -> np.ndarray:
    command = ["espeak-ng", "-v", voice.name, "-s", str(int(voice.speed)), "--stdin", "--stdout"]
    try:
        made = subprocess.run(command, input=text.encode(), capture_output=True, timeout=30, check=True).stdout
        sound, rate = soundfile.read(io.BytesIO(made), dtype="float32")
    except (OSError, subprocess.SubprocessError, soundfile.LibsndfileError) as fault:
        raise BrokenMachine("espeak-ng", f"must speak in the voice {voice.name}", str(fault),
                            "Install it again, or take it away") from fault
    return soxr.resample(sound, rate, RATE).astype(np.float32)
