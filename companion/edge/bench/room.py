"""A room on paper: the companion speaks into it, a talker interrupts, and `Turns` hears both. No device, no waiting.

The loudspeaker sounds 60 ms after it was given sound and cannot take that back; the microphone hears it through 41 taps
over 0.12 s, as loud as the talker or a given number of decibels less, with a hiss 60 dB below the talker.
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from companion.core.grammar import Listen
from companion.edge.ear import Guess, LivePath
from companion.edge.live.turns import Turns
from companion.edge.sound import EAR_RATE, FRAME, Frame

LATENCY = 3 * FRAME
_REWIND = int(0.3 * EAR_RATE)
_TAPS, _LONGEST = 40, int(0.12 * EAR_RATE)
_TALKER_DB, _HISS_DB = -26.0, -86.0


class PaperSpeaker:
    """Plays one long sound, as a `Player` would."""

    def __init__(self, sound: np.ndarray) -> None:
        self._sound, self._at, self._free = sound, 0, True
        self._given = np.zeros(LATENCY, np.float32)

    @property
    def idle(self) -> bool:
        """Whether it has said everything."""
        return self._at >= len(self._sound)

    @property
    def free(self) -> bool:
        """Whether nobody holds it."""
        return self._free

    def hold(self) -> None:
        """See `Player`."""
        self._free = False

    def go_on(self) -> None:
        """See `Player`."""
        if not self._free:
            self._free, self._at = True, max(0, self._at - _REWIND)

    def drop(self) -> None:
        """Says no more."""
        self._at, self._free = len(self._sound), True

    def frame(self) -> tuple[np.ndarray, np.ndarray]:
        """What it is given now, and what of earlier sound is in the air now."""
        more = self._sound[self._at:self._at + FRAME] if self._free else self._sound[:0]
        self._at += len(more)
        self._given = np.concatenate([self._given, np.pad(more, (0, FRAME - len(more)))])
        air, self._given = self._given[:FRAME], self._given[FRAME:]
        return self._given[-FRAME:], air


class Room:
    """Carries sound from loudspeaker to microphone; always the same for the same `seed`."""

    def __init__(self, echo_db: float, seed: int = 1) -> None:
        self._random = np.random.default_rng(seed)
        taps = np.zeros(_LONGEST)
        taps[int(0.004 * EAR_RATE)] = 1
        where = self._random.integers(int(0.006 * EAR_RATE), _LONGEST, _TAPS)
        np.add.at(taps, where, 0.25 * self._random.standard_normal(_TAPS) * np.exp(-where / EAR_RATE / 0.03))
        self._taps = taps / np.sqrt(np.square(taps).sum()) * _factor(_TALKER_DB + 20 + echo_db)  # a voice has -20 dBFS
        self._past = np.zeros(_LONGEST - 1)

    def heard(self, air: np.ndarray, talker: np.ndarray) -> np.ndarray:
        """The microphone's frame."""
        sound = np.concatenate([self._past, air])
        self._past = sound[-(_LONGEST - 1):]
        hiss = self._random.standard_normal(len(air)) * _factor(_HISS_DB)
        return (np.convolve(sound, self._taps, "valid") + talker + hiss).astype(np.float32)


@dataclass(frozen=True)
class Moment:
    """20 ms of the room."""

    second: float
    """At its end."""
    guesses: tuple[tuple[Guess, bool], ...]
    silent: bool
    """Whether nothing of the companion is in the air."""
    held: bool


def live(path: LivePath, speaker: PaperSpeaker, room: Room, talker: np.ndarray, listen: Listen) -> Iterator[Moment]:
    """What happens while `talker` (float32 at 16 kHz, at −26 dBFS) is heard above `speaker`."""
    turns = Turns(path, speaker)
    for start in range(0, len(talker) - FRAME + 1, FRAME):
        given, air = speaker.frame()
        frame = Frame(room.heard(air, talker[start:start + FRAME]), given)
        guesses = turns.feed(frame, listen)
        silent = not np.abs(air).max() > 1e-3
        yield Moment((start + FRAME) / EAR_RATE, tuple(guesses), silent, turns.held)


def _factor(decibels: float) -> float:
    return 10 ** (decibels / 20)
