"""What carries sound through a workshop's air, in a process of its own: no other thread of the tests makes it late.

    the program's loudspeaker ─▶ null sink ─▶ parec ─▶ echo ─┐
                                              talker, noise ─┴─▶ pacat ─▶ null sink ─▶ its monitor, the microphone

Every 10 ms, by its own clock, a block goes out. What the program plays comes in bursts and is held for `HELD` blocks,
so that an echo always follows its cause after the same time, as in air: some 0.1 s with the sound server's own buffers.
Handed on just as they came, bursts changed that time by 10 to 20 ms nearly whenever the program began to speak.
"""
from __future__ import annotations

import contextlib
import os
import subprocess
import time
from dataclasses import dataclass, field
from multiprocessing.connection import Connection

import numpy as np

from sound_server import never_late

RATE = 48_000
BLOCK = RATE // 100
TAPS = ((0.0, 0.0), (7.3, -7.0), (19.1, -11.0), (34.7, -15.0), (71.9, -21.0))
"""Milliseconds and decibels of the direct sound and its reflections: a bench against a wall (own choice)."""
HELD = 4
"""Blocks, 40 ms: a burst is 10 or 20 ms long."""
_RESTS, _SETTLES = 50, 50
"""After so many blocks without sound the sink rests; for so many it gives more than its time when it begins."""
_BYTES = 4 * BLOCK


@dataclass(frozen=True)
class Route:
    """From the monitor of sink `loudspeaker` to sink `microphone` of the sound server that `env` names."""

    loudspeaker: str
    microphone: str
    env: dict[str, str]
    echo: float
    """Factor from the loudspeaker's sound to the microphone's."""
    noise: np.ndarray
    """Float32 at 48 kHz, repeated for ever."""


@dataclass(frozen=True)
class Carried:
    """10 ms of sound."""

    played: np.ndarray
    """Int16 (480,): the loudspeaker."""
    heard: np.ndarray
    """The same: the microphone."""
    arrived: bool
    """Whether the microphone had room for it."""
    talk: bool
    """Whether a talker began in it."""


def carry(route: Route, control: Connection) -> None:
    """Sends a `Carried` for each block; takes sound (float32, 48 kHz) for the talker to say, and ends on None."""
    never_late(os.getpid())
    env, fmt = os.environ | route.env, ["--raw", "--format=float32le", f"--rate={RATE}", "--channels=1"]
    source = subprocess.Popen(["parec", "-d", f"{route.loudspeaker}.monitor", *fmt, "--latency-msec=20"], env=env,
                              stdout=subprocess.PIPE)
    target = subprocess.Popen(["pacat", "-p", "-d", route.microphone, *fmt, "--latency-msec=40"], env=env,
                              stdin=subprocess.PIPE)
    played, heard = Loudspeaker(source.stdout.fileno()), target.stdin.fileno()
    _shorten(heard)
    for process in (source, target):
        never_late(process.pid)
    mixture, begin, count = Mixture(route), time.monotonic(), 0
    with contextlib.suppress(EOFError, OSError):  # whoever listened is gone
        while (begun := _told(control, mixture)) is not None:
            count += 1
            time.sleep(max(0.0, begin + count * BLOCK / RATE - time.monotonic()))
            block = played.next()
            mixed = mixture.of(block)
            control.send(Carried(_short(block), _short(mixed), _given(heard, mixed), begun))
    for process in (source, target):
        process.terminate()
        process.wait()


def _told(control: Connection, mixture: "Mixture") -> bool | None:
    """Whether the talker was given something to say; None at the end."""
    begun = False
    while control.poll():
        sound = control.recv()
        if sound is None:
            return None
        mixture.talk, begun = np.concatenate([mixture.talk, sound]), True
    return begun


class Loudspeaker:
    """Reads `file`, which fills in bursts; gives a block for each call, always as long after it was written."""

    def __init__(self, file: int) -> None:
        os.set_blocking(file, False)
        self._file = file
        self._sound, self._late, self._settling, self._silent = b"", 0, _SETTLES, 0

    def next(self) -> np.ndarray:
        """10 ms of float32; silence while the sink rests, or begins, and in the place of what comes too late."""
        with contextlib.suppress(BlockingIOError):
            self._sound += os.read(self._file, 1 << 20)
        if self._settling:
            self._settling -= bool(self._sound)
            self._sound, self._late = self._sound[-HELD * _BYTES:], 0
            return np.zeros(BLOCK, np.float32)
        dropped = min(self._late, len(self._sound))
        block, self._sound = self._sound[dropped:dropped + _BYTES], self._sound[dropped + _BYTES:]
        self._late += _BYTES - len(block) - dropped
        self._silent = 0 if block else self._silent + 1
        self._settling = _SETTLES if self._silent == _RESTS else 0
        return np.frombuffer(block.ljust(_BYTES, b"\0"), np.float32)


@dataclass
class Mixture:
    """What reaches the microphone: the echo of what is played, the talker, the noise."""

    route: Route
    talk: np.ndarray = field(default_factory=lambda: np.zeros(0, np.float32))
    _past: np.ndarray = field(default_factory=lambda: np.zeros(int(TAPS[-1][0] * RATE / 1000) + BLOCK, np.float32))
    _at: int = 0

    def of(self, played: np.ndarray) -> np.ndarray:
        """The next block, for the loudspeaker's."""
        now, self.talk = self.talk[:BLOCK], self.talk[BLOCK:]
        noise = np.take(self.route.noise, np.arange(self._at, self._at + BLOCK), mode="wrap")
        self._at += BLOCK
        sound = self._echo(played) + np.pad(now, (0, BLOCK - len(now))) + noise
        return np.clip(sound, -1, 1).astype(np.float32)

    def _echo(self, played: np.ndarray) -> np.ndarray:
        self._past = np.concatenate([self._past[BLOCK:], played])
        total = np.zeros(BLOCK, np.float32)
        for ms, decibels in TAPS:
            start = len(self._past) - BLOCK - int(ms * RATE / 1000)
            total += gain(decibels) * self._past[start:start + BLOCK]
        energy = sum(gain(decibels) ** 2 for _, decibels in TAPS)
        return total * (self.route.echo / energy ** 0.5)


def gain(decibels: float) -> float:
    """Decibels as a factor on samples."""
    return 10 ** (decibels / 20)


def _shorten(pipe: int) -> None:
    """A pipe that fills while its reader starts would stay full: 0.3 s of delay for ever. So it holds 40 ms."""
    import fcntl  # not on Windows, where the tests that need air skip

    fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, 8_192)
    os.set_blocking(pipe, False)


def _given(pipe: int, block: np.ndarray) -> bool:
    try:
        return os.write(pipe, block.tobytes()) == _BYTES
    except BlockingIOError:
        return False


def _short(sound: np.ndarray) -> np.ndarray:
    return (np.clip(sound, -1, 1) * 32767).astype(np.int16)
