"""The live path: sound in, guesses out. The same for a microphone and for files."""
from __future__ import annotations

from dataclasses import replace

import numpy as np

from companion.core.grammar import Listen
from companion.edge.ear.base import Ear, Guess
from companion.edge.ear.endpoint import Endpoint, Utterance


class LivePath:
    """Endpoint and ear together.

    `listen(...)` sets what makes sense now; it may change at any moment, also within an utterance. `feed(chunk)` takes
    float32 samples at 16 kHz in pieces of any length and returns the guesses of the utterances that ended in them:
    after 0.25 s of silence when the words are complete, sure and nothing longer is live (0.35 s where they took two seconds
    or more), else after 0.75 s. The guess is made before that and kept while only silence follows. `feed` takes up to
    about 0.3 s when an utterance pauses: call it from a thread that may wait, not from a sound callback. `mute()`
    forgets a running utterance and ignores sound until `listen` or `unmute`; `finish()` ends the stream.
    Not for use by two threads at once.
    """

    def __init__(self, ear: Ear, listen: Listen = Listen()) -> None:
        self.ear = ear
        self._endpoint = Endpoint()
        self._listen = listen
        self._pending: tuple[int, Listen, Guess] | None = None
        self._muted = False
        self.keeps_sound = False
        """Whether each guess carries the sound that it was made of."""

    @property
    def speaking(self) -> bool:
        """Whether somebody is speaking now, as far as the pause detector can tell."""
        return self._endpoint.speaking

    def listen(self, listen: Listen) -> None:
        """From now on `listen` is in force, also for an utterance that is running."""
        self._listen, self._muted = listen, False

    def mute(self) -> None:
        """Ignores sound until `unmute` or `listen`."""
        self.reset()
        self._muted = True

    def unmute(self) -> None:
        """Takes sound again."""
        self._muted = False

    def reset(self) -> None:
        """Forgets a running utterance and all sound before now."""
        self._endpoint.reset()
        self._pending = None

    def feed(self, samples: np.ndarray) -> list[Guess]:
        """The guesses that this sound completed, accepted or not, in order."""
        return [] if self._muted else self._hear(self._endpoint.feed(samples))

    def finish(self) -> list[Guess]:
        """The guesses still due when no more sound comes."""
        return [] if self._muted else self._hear(self._endpoint.finish())

    def _hear(self, utterances) -> list[Guess]:
        guesses = []
        for utterance in utterances:
            guess = self._guess(utterance)
            if utterance.whole or (utterance.may_end and guess.sure and not guess.longer):
                self._endpoint.end()
                self._pending = None
                guesses.append(guess)
        return guesses

    def _guess(self, utterance: Utterance) -> Guess:
        size = len(utterance.samples)
        if self._pending and self._pending[:2] == (size, self._listen):
            return replace(self._pending[2], ms=0.0)
        guess = self.ear.hear(utterance.samples, self._listen)
        guess = replace(guess, start_s=round(utterance.start_s, 3), end_s=round(utterance.end_s, 3),
                        sound=utterance.samples if self.keeps_sound else None)
        self._pending = (size, self._listen, guess)
        return guess
