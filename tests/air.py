"""The air of a workshop as the tests see it: lets a talker talk, keeps what loudspeaker and microphone had."""
from __future__ import annotations

import threading
from collections.abc import Callable
from multiprocessing import get_context

import numpy as np

from carrier import BLOCK, RATE, Carried, Route, carry, gain

TALKER_DB = -26.0
"""Active speech level of the talker at the microphone, dBFS (own choice: 26 dB below the clipping point)."""
VOICE_DB = -20.0
"""Active level of every rendered voice (`companion.edge.voice.base`)."""
QUIET_DB = -60.0
"""A block of the loudspeaker below this is silent; also the microphone's own hiss (own choice)."""


class Air:
    """Between the sinks `loudspeaker` and `microphone` of the sound server that `env` names.

    Seconds count the sound carried; while the air is closed they stand still. `echo_db`: the loudspeaker's level at
    the microphone relative to the talker's. `noise`: sound at 48 kHz, repeated for ever, `snr_db` below the talker.
    All that was played and heard in the last `keep_s` can be read back.
    """

    def __init__(self, loudspeaker: str, microphone: str, env: dict[str, str], echo_db: float = -10.0,
                 noise: np.ndarray | None = None, snr_db: float = 20.0, keep_s: float = 600.0) -> None:
        echo = gain(TALKER_DB + echo_db - VOICE_DB)
        self._route = Route(loudspeaker, microphone, env, echo, _levelled(noise, TALKER_DB - snr_db))
        self._keep = int(keep_s * RATE / BLOCK)
        self._change = threading.Condition()
        self._played: list[np.ndarray] = []
        self._heard: list[np.ndarray] = []
        self._levels: list[float] = []
        self._talks: list[float] = []
        self.lost: list[float] = []
        """Seconds of the blocks that the microphone lost so far: the machine was too busy."""

    def open(self) -> None:
        """Joins the sinks, which must be there; returns when sound runs."""
        context = get_context("spawn")
        self._control, theirs = context.Pipe()
        self._process = context.Process(target=carry, args=(self._route, theirs), daemon=True)
        self._process.start()
        theirs.close()
        self._thread = threading.Thread(target=self._listen, name="air", daemon=True)
        self._thread.start()
        before = self.now
        if not self.wait(lambda: self.now > before, 20):
            raise AssertionError("the air carries no sound")

    def close(self) -> None:
        """Leaves the sinks; the recordings stay."""
        self._control.send(None)
        self._process.join()
        self._thread.join()
        self._control.close()

    @property
    def now(self) -> float:
        """Seconds of sound carried."""
        return len(self._levels) * BLOCK / RATE

    def talk(self, sound: np.ndarray) -> float:
        """Lets the talker say `sound` (48 kHz) now; the second at which that begins."""
        count = len(self._talks)
        self._control.send((sound * gain(TALKER_DB - VOICE_DB)).astype(np.float32))
        if not self.wait(lambda: len(self._talks) > count, 10):
            raise AssertionError("the talker does not talk")
        return self._talks[count]

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

    def _listen(self) -> None:
        while True:
            try:
                carried: Carried = self._control.recv()
            except (EOFError, OSError):
                return
            with self._change:
                self._keep_block(carried)
                self._change.notify_all()

    def _keep_block(self, carried: Carried) -> None:
        """What is older than `keep_s` is forgotten, but for its level."""
        if carried.talk:
            self._talks.append(self.now)
        if not carried.arrived:
            self.lost.append(self.now)
        self._levels.append(float(np.sqrt(np.square(carried.played / 32767).mean())))
        for kept, block in ((self._played, carried.played), (self._heard, carried.heard)):
            kept.append(block)
            del kept[:-self._keep]

    def _part(self, kept: list[np.ndarray], begin: float, end: float) -> np.ndarray:
        with self._change:
            gone = len(self._levels) - len(kept)
            blocks = kept[max(0, _block(begin) - gone):max(0, _block(end) - gone)]
        return np.concatenate([*blocks, np.zeros(0, np.int16)]).astype(np.float32) / 32767


def _block(second: float) -> int:
    return max(0, round(second * RATE / BLOCK))


def _levelled(noise: np.ndarray | None, decibels: float) -> np.ndarray:
    """`noise` at that level; without any, the microphone's own hiss."""
    if noise is None:
        noise, decibels = np.random.default_rng(1).normal(0, 1, 10 * RATE), QUIET_DB
    return (noise * (gain(decibels) / np.sqrt(np.square(noise).mean()))).astype(np.float32)
