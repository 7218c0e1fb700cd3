"""The air of a workshop: carries a loudspeaker's sound to a microphone, with a talker and noise, between two null sinks.

    the program's loudspeaker ─▶ null sink ─▶ parec ─▶ echo ─┐
                                              talker, noise ─┴─▶ pacat ─▶ null sink ─▶ its monitor, the microphone

Sound moves in blocks of 10 ms. The pipes alone delay it by 15 to 30 ms (measured with clicks, n = 10, both cores busy),
as 5 to 10 m of air would; the first tap of the echo adds nothing to that.
"""
from __future__ import annotations

import contextlib
import os
import subprocess
import threading
from collections.abc import Callable

import numpy as np

RATE = 48_000
BLOCK = RATE // 100
TALKER_DB = -26.0
"""Active speech level of the talker at the microphone, dBFS (own choice: 26 dB below the clipping point)."""
VOICE_DB = -20.0
"""Active level of every rendered voice (`companion.edge.voice.base`)."""
QUIET_DB = -60.0
"""A block of the loudspeaker below this is silent; also the microphone's own hiss (own choice)."""

_TAPS = ((0.0, 0.0), (7.3, -7.0), (19.1, -11.0), (34.7, -15.0), (71.9, -21.0))
"""Milliseconds and decibels of the direct sound and its reflections: a bench against a wall (own choice)."""
_LATENCY_MS = 20
_PIPE = 8192
_SET_PIPE_SIZE = 1031  # Linux's F_SETPIPE_SZ, which Python names only from 3.10's later builds on
_STEADY = 50
"""So many blocks in a row must have found room before the path counts as running: a null sink rests for up to 2 s."""


def gain(decibels: float) -> float:
    """Decibels as a factor on samples."""
    return 10 ** (decibels / 20)


class Air:
    """From the monitor of sink `loudspeaker` to sink `microphone`. Seconds count from the first block carried.

    `echo_db`: the loudspeaker's level at the microphone relative to the talker's. `noise`: sound at 48 kHz that is
    repeated for ever, `snr_db` below the talker. All that was played and heard in the last `keep_s` can be read back.
    """

    def __init__(self, loudspeaker: str, microphone: str, echo_db: float = -10.0, noise: np.ndarray | None = None,
                 snr_db: float = 20.0, keep_s: float = 600.0) -> None:
        self._sinks = (loudspeaker, microphone)
        self.echo_db = echo_db
        self._noise = _levelled(noise, TALKER_DB - snr_db)
        self._keep = int(keep_s * RATE / BLOCK)
        self._change = threading.Condition()
        self._talk = np.zeros(0, np.float32)
        self._talk_ends = 0
        self._past = np.zeros(_reach(), np.float32)
        self._played: list[np.ndarray] = []
        self._heard: list[np.ndarray] = []
        self._levels: list[float] = []
        self._steady = 0
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Joins the sinks; returns when sound runs."""
        import fcntl  # not on Windows, where the tests that need air skip

        fmt = ["--raw", "--format=float32le", f"--rate={RATE}", "--channels=1", f"--latency-msec={_LATENCY_MS}"]
        self._from = subprocess.Popen(["parec", "-d", f"{self._sinks[0]}.monitor", *fmt], stdout=subprocess.PIPE)
        self._to = subprocess.Popen(["pacat", "-p", "-d", self._sinks[1], *fmt], stdin=subprocess.PIPE, bufsize=0)
        for process in (self._from, self._to):
            _never_late(process.pid)
        fcntl.fcntl(self._to.stdin, _SET_PIPE_SIZE, _PIPE)  # a full pipe would delay all that follows by a second
        os.set_blocking(self._to.stdin.fileno(), False)
        self._steady = 0
        self._thread = threading.Thread(target=self._carry, name="air", daemon=True)
        self._thread.start()
        if not self.wait(lambda: self._steady >= _STEADY, 20):
            raise AssertionError("the air between the two sinks does not carry sound")

    def stop(self) -> None:
        """Leaves the sinks; the recordings stay."""
        for process in (self._from, self._to):
            process.terminate()
            process.wait()
        self._thread.join()
        self._from.stdout.close()
        self._to.stdin.close()

    @property
    def now(self) -> float:
        """Seconds of sound carried."""
        return len(self._levels) * BLOCK / RATE

    def talk(self, sound: np.ndarray) -> float:
        """Puts a talker's `sound` (48 kHz) after what is still to be said; the second at which it will have sounded."""
        with self._change:
            self._talk = np.concatenate([self._talk, sound * gain(TALKER_DB - VOICE_DB)]).astype(np.float32)
            self._talk_ends = len(self._levels) + -(-len(self._talk) // BLOCK)
            return self._talk_ends * BLOCK / RATE

    def wait(self, until: Callable[[], bool], seconds: float) -> bool:
        """Waits until `until()`, asked after each block; False after `seconds`."""
        with self._change:
            return self._change.wait_for(until, seconds)

    def played(self, begin: float, end: float) -> np.ndarray:
        """What the loudspeaker gave between two seconds, 48 kHz."""
        return self._part(self._played, begin, end)

    def heard(self, begin: float, end: float) -> np.ndarray:
        """What the microphone got between two seconds, 48 kHz."""
        return self._part(self._heard, begin, end)

    def sounding(self, begin: float, end: float) -> np.ndarray:
        """Whether the loudspeaker sounded, one truth value for each 10 ms."""
        return np.array(self._levels[_block(begin):_block(end)]) > gain(QUIET_DB)

    def first_sound(self, after: float) -> float | None:
        """The second of the loudspeaker's first sound not before `after`."""
        loud = np.flatnonzero(self.sounding(after, self.now))
        return (_block(after) + int(loud[0])) * BLOCK / RATE if len(loud) else None

    def last_sound(self, after: float) -> float | None:
        """The second at which the loudspeaker's last sound since `after` ended; it may go on."""
        loud = np.flatnonzero(self.sounding(after, self.now))
        return (_block(after) + int(loud[-1]) + 1) * BLOCK / RATE if len(loud) else None

    def _carry(self) -> None:
        _never_late(threading.get_native_id())
        while len(block := self._from.stdout.read(4 * BLOCK)) == 4 * BLOCK:
            played = np.frombuffer(block, np.float32)
            with self._change:
                heard = np.clip(self._echo(played) + self._talker() + self._noise_now(), -1, 1).astype(np.float32)
                self._keep_block(played, heard)
                self._steady = self._steady + 1 if self._given(heard) else 0
                self._change.notify_all()

    def _given(self, heard: np.ndarray) -> bool:
        """False where there was no room: the microphone lost this block."""
        with contextlib.suppress(BrokenPipeError):
            return self._to.stdin.write(heard.tobytes()) is not None
        return False

    def _echo(self, played: np.ndarray) -> np.ndarray:
        self._past = np.concatenate([self._past, played])[-(_reach() + BLOCK):]
        total = np.zeros(BLOCK, np.float32)
        for ms, decibels in _TAPS:
            start = len(self._past) - BLOCK - int(ms * RATE / 1000)
            total += gain(decibels) * self._past[start:start + BLOCK]
        energy = sum(gain(decibels) ** 2 for _, decibels in _TAPS)
        return total * (gain(TALKER_DB + self.echo_db - VOICE_DB) / energy ** 0.5)

    def _talker(self) -> np.ndarray:
        now, self._talk = self._talk[:BLOCK], self._talk[BLOCK:]
        return np.pad(now, (0, BLOCK - len(now)))

    def _noise_now(self) -> np.ndarray:
        return np.take(self._noise, np.arange(BLOCK) + len(self._levels) * BLOCK, mode="wrap")

    def _keep_block(self, played: np.ndarray, heard: np.ndarray) -> None:
        """Recordings are kept as 16-bit samples; what is older than `keep_s` is forgotten."""
        self._levels.append(float(np.sqrt(np.square(played).mean())))
        for kept, block in ((self._played, played), (self._heard, heard)):
            kept.append((np.clip(block, -1, 1) * 32767).astype(np.int16))
            del kept[:-self._keep]

    def _part(self, kept: list[np.ndarray], begin: float, end: float) -> np.ndarray:
        with self._change:
            gone = len(self._levels) - len(kept)
            blocks = kept[max(0, _block(begin) - gone):max(0, _block(end) - gone)]
        return np.concatenate([*blocks, np.zeros(0, np.int16)]).astype(np.float32) / 32767


def _never_late(task: int) -> None:
    """Real-time scheduling where the system allows it: air does not wait for a busy processor."""
    with contextlib.suppress(PermissionError):
        os.sched_setscheduler(task, os.SCHED_FIFO, os.sched_param(3))


def _block(second: float) -> int:
    return max(0, round(second * RATE / BLOCK))


def _reach() -> int:
    return int(max(ms for ms, _ in _TAPS) * RATE / 1000)


def _levelled(noise: np.ndarray | None, decibels: float) -> np.ndarray:
    """`noise` at that level; without any, the microphone's own hiss."""
    if noise is None:
        noise, decibels = np.random.default_rng(1).normal(0, 1, 10 * RATE), QUIET_DB
    return (noise * (gain(decibels) / np.sqrt(np.square(noise).mean()))).astype(np.float32)
