"""A synthetic mechanic: speaks a script, line by line, into the live path of a job on a simulated clock.

The companion hears it as it would hear a person: samples, pause detector, recogniser. Its voice is another than the
companion's.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Callable, Generator, Iterable, Iterator

import numpy as np
import soxr

from companion.core.events import Asked, NotUnderstood
from companion.core.understand import understand
from companion.edge.clock import SimulatedClock
from companion.edge.ear import LivePath
from companion.edge.loop import guessed
from companion.edge.sessions import CHUNK_MS, waiting
from companion.edge.simulation import Simulation
from companion.edge.sound import CHUNK, EAR_RATE, Sink
from companion.edge.voice import Voice

#: Peak-free speech level at the microphone and the hiss under it: a quiet workshop, 40 dB apart (own choice).
_HISS = 1e-3
#: Silence before and after each line; longer than any pause the endpoint waits for.
_BEFORE_S, _AFTER_S = 0.6, 1.2


#: A line that was not accepted is said again, as a person would, so often at the most.
_SAYINGS = 3


@dataclass(frozen=True)
class Exchange:
    """One saying of a scripted line and what became of it."""

    line: str
    heard: str
    score: float
    accepted: bool
    """Heard as the line means, and acted upon, or asked back."""
    asked_back: bool
    ms: float
    """From the endpoint decision to the ear's answer."""


@dataclass
class Mechanic:
    """Speaks to `path`, which hears for `simulation`'s companion."""

    voice: Voice
    path: LivePath
    simulation: Simulation
    clock: SimulatedClock
    sink: Sink
    """Where the mechanic's voice is played for whoever listens."""
    about_to: Callable[[str], None] = lambda line: None
    """Told each line as it is said."""

    def __post_init__(self) -> None:
        self._noise = np.random.default_rng(1)

    def work(self, script: Iterable[str]) -> Iterator[Exchange]:
        """Work through the script, one exchange for each saying; stops where a line is not accepted in the end."""
        for line in lines_of(script):
            if self.simulation.companion.over:
                return
            pause = waiting(line)
            if pause is not None:
                self.simulation.wait(pause)
            elif not (yield from self._insist(line)):
                return

    def _insist(self, line: str) -> Generator[Exchange, None, bool]:
        """A line that was not accepted is said again, and a doubt is answered, as a person would."""
        for _ in range(_SAYINGS):
            exchange = self.say(line)
            yield exchange
            if not exchange.asked_back:
                if exchange.accepted:
                    return True
                continue
            answer = self.say("affirm" if exchange.accepted else "negative")
            yield answer
            if exchange.accepted and answer.accepted:
                return True
        return False

    def say(self, line: str) -> Exchange:
        """Speak one line and let the companion answer."""
        self.about_to(line)
        companion = self.simulation.companion
        meant = understand(companion.listening, line)
        guesses = list(self._hear(self.sound(line)))
        made = [event for guess in guesses for event in self.simulation.take(guessed(guess, self.path.ear.name))]
        if not guesses:
            return Exchange(line, "", 0.0, False, False, 0.0)
        guess = next((guess for guess in guesses if guess.accepted), guesses[0])
        right = guess.accepted and meant is not None and guess.reading == meant
        failed = any(isinstance(event, NotUnderstood) for event in made)
        asked = any(isinstance(event, Asked) and event.about == "doubt" for event in made)
        return Exchange(line, guess.text, guess.score, right and not failed, asked, guess.ms)

    def sound(self, line: str) -> np.ndarray:
        """The line as a microphone would give it: float32 at 16 kHz with a little hiss and silence around it."""
        voice = self.voice.render(line)
        self._play(voice)
        speech = soxr.resample(voice, self.voice.rate, EAR_RATE)
        samples = np.concatenate([np.zeros(int(_BEFORE_S * EAR_RATE)), speech, np.zeros(int(_AFTER_S * EAR_RATE))])
        return (samples + self._noise.normal(0, _HISS, len(samples))).astype(np.float32)

    def _play(self, voice: np.ndarray) -> None:
        sound = soxr.resample(voice, self.voice.rate, self.sink.rate).astype(np.float32)
        block = self.sink.rate // 50
        for start in range(0, len(sound), block):
            self.sink.write(sound[start:start + block])

    def _hear(self, samples: np.ndarray) -> Iterator:
        self.path.listen(self.simulation.companion.listening)
        for start in range(0, len(samples) - CHUNK + 1, CHUNK):
            yield from self.path.feed(samples[start:start + CHUNK])
            self.clock.advance(CHUNK_MS)


def lines_of(script: Iterable[str]) -> Iterator[str]:
    """The lines of a script, without comments and blank ones."""
    for line in script:
        line = line.split("#", 1)[0].strip()
        if line:
            yield line
