"""Speech rendered ahead of need, sentence by sentence, on one thread, and kept for the next time."""
from __future__ import annotations

import threading
from collections import OrderedDict, deque
from concurrent.futures import Future
from dataclasses import dataclass

import numpy as np
import soxr

from companion.edge.voice.base import Voice, pauses
from companion.edge.voice.wording import for_voice, sentences
from companion.edge.threads import tell
from companion.errors import BrokenMachine

_MOST_BYTES = 32_000_000

Key = tuple[str, str, str, float]
"""Voice, pace, sentence, speed."""
Sound = Future  # of np.ndarray: float32 at the sink's rate


@dataclass(frozen=True)
class Piece:
    """One sentence of something to be said."""

    pause: float
    """Seconds of silence before it."""
    sound: Sound


class Prerender:
    """Renders for a sink of `rate` samples a second. What is wanted now goes before what may be wanted later."""

    def __init__(self, voice: Voice, rate: int | None = None, most_bytes: int = _MOST_BYTES) -> None:
        self.voice, self.rate, self._most = voice, rate or voice.rate, most_bytes
        self.speed = 1.0
        """Of what is asked for from now on; 1 is the voice's own."""
        self._cache: OrderedDict[Key, Sound] = OrderedDict()
        self._now: deque[Key] = deque()
        self._later: deque[Key] = deque()
        self.stored = 0
        """Bytes of sound kept."""
        self._change = threading.Condition()
        self._open = True
        threading.Thread(target=self._work, name="render", daemon=True).start()

    def pieces(self, text: str, pace: str = "prose") -> list[Piece]:
        """The sentences of `text` in order, being rendered. Their sound raises BrokenMachine if the voice fails."""
        parts = sentences(for_voice(text))
        return list(map(Piece, pauses(parts, pace), self._ask(parts, pace, self._now)))

    def prepare(self, text: str, pace: str = "prose") -> None:
        """Renders `text` when nothing more urgent waits, so that a later `pieces` has it ready."""
        self._ask(sentences(for_voice(text)), pace, self._later)

    def postpone(self) -> None:
        """Whatever was wanted now is only wanted later: the speech it belonged to was cut off."""
        with self._change:
            self._later.extend(self._now)
            self._now.clear()

    def close(self) -> None:
        """Ends the thread after the sentence it is at; what was not rendered never will be."""
        with self._change:
            self._open = False
            self._change.notify()

    def _ask(self, parts: list[str], pace: str, line: deque[Key]) -> list[Sound]:
        keys = [(self.voice.name, pace, part, self.speed) for part in parts]
        with self._change:
            for key in keys:
                if key not in self._cache:
                    self._cache[key] = Future()
                elif line is self._now and key in self._later:
                    self._later.remove(key)
                elif self._cache[key].done() or line is self._later:
                    continue
                line.append(key)
            for key in keys:
                self._cache.move_to_end(key)
            self._change.notify()
            return [self._cache[key] for key in keys]

    def _work(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._now or self._later or not self._open)
                if not self._open:
                    return
                key = (self._now or self._later).popleft()
                piece = self._cache.get(key)
            if piece is not None and not piece.done():
                try:
                    self._render(key, piece)
                except Exception as fault:  # it renders on: without this thread the companion would be dumb
                    tell(fault)

    def _render(self, key: Key, piece: Sound) -> None:
        try:
            sound = self._sound(key)
        except Exception as fault:  # handed to whoever waits for the piece
            with self._change:
                self._cache.pop(key, None)
            if isinstance(fault, MemoryError) or isinstance(fault.__cause__, MemoryError):
                self._forget_all()
            piece.set_exception(fault if isinstance(fault, BrokenMachine) else _mute(fault))
            return
        piece.set_result(sound.astype(np.float32))
        with self._change:
            self.stored += sound.nbytes
            self._trim()

    def _sound(self, key: Key) -> np.ndarray:
        sound = self.voice.render(key[2], key[1], key[3])
        return sound if self.rate == self.voice.rate else soxr.resample(sound, self.voice.rate, self.rate)

    def _forget_all(self) -> None:
        """Memory ran out: what is kept for later can be rendered again."""
        with self._change:
            for key in [key for key, piece in self._cache.items() if piece.done()]:
                del self._cache[key]
            self.stored = 0

    def _trim(self) -> None:
        """Forgets the sentences used longest ago, but never one that is still awaited."""
        for key in [key for key, piece in self._cache.items() if piece.done()]:
            if self.stored <= self._most:
                return
            self.stored -= self._cache.pop(key).result().nbytes


def _mute(fault: Exception) -> BrokenMachine:
    return BrokenMachine("voice", "must be able to speak", repr(fault), "Install the program again")
