"""Ways of working a job on a simulated clock: typed, or by sound. (On the real clock: `live`.) Each drives whatever takes inputs.

A session owns the clock, the mouth and the inputs. `begin` hands over the first input, `drive` goes on until the job is
over or the inputs come to an end.
"""
from __future__ import annotations

from typing import Iterable, Optional, TextIO

from companion.core.job.inputs import Input
from companion.core.understand import understand
from companion.core.commands import RULES, span_ms
from companion.core.grammar import Listen, Phrase, Rule, Sequence
from companion.edge.clock import SimulatedClock
from companion.edge.live.memo import Recorder
from companion.edge.loop import Closed, guessed, typed
from companion.edge.mouth import Mouth, PrintedMouth, SimulatedMouth
from companion.edge.player import Player
from companion.edge.simulation import Simulation
from companion.edge.sound import CHUNK, EAR_RATE, Source

CHUNK_MS = CHUNK * 1000 // EAR_RATE
_WAIT = Listen((Rule("wait", Sequence((Phrase("wait"), RULES["timer"].expr.parts[1]))),))


def waiting(line: str) -> Optional[int]:
    """Milliseconds of a typed "wait 3 min", or None for any other line."""
    reading = understand(_WAIT, line)
    return span_ms(reading) if reading else None


class TypedSimulation:
    """Typed lines on a simulated clock; "wait 3 min" lets that much time pass."""

    def __init__(self, lines: Iterable[str], player: Optional[Player], clock: SimulatedClock, shown: TextIO) -> None:
        self.clock, self._lines = clock, iter(lines)
        self._simulation = Simulation(clock)
        printed = PrintedMouth(self._simulation.report if player is None else _nobody, shown)
        self.mouth: Mouth = printed if player is None else SimulatedMouth(player, clock, self._simulation.report, printed)

    def close(self) -> None:
        """Falls silent."""
        self.mouth.close()

    def begin(self, worker, first: Input) -> None:
        """Take the first input."""
        self._simulation.companion = worker
        self._simulation.take(first)

    def drive(self, worker) -> Optional[Closed]:
        """Go on until over, or until the lines end."""
        self._simulation.companion = worker
        while not worker.over:
            line = next(self._lines, None)
            if line is None:
                return Closed("the typed lines")
            pause = waiting(line)
            if pause is None:
                self._simulation.take(typed(line))
            else:
                self._simulation.wait(pause)
        return None


class SoundSimulation:
    """A source of sound on a simulated clock: time passes with the sound, which stands still while the companion speaks."""

    def __init__(self, source: Source, path, player: Player, clock: SimulatedClock, shown: TextIO) -> None:
        self.clock, self._path, self._chunks = clock, path, source.chunks()
        self._simulation = Simulation(clock)
        self._recorder = Recorder(path.ear.draft)
        printed = PrintedMouth(_nobody, shown)
        self.mouth: Mouth = SimulatedMouth(player, clock, self._simulation.report, printed, self._recorder)

    def close(self) -> None:
        """See `TypedSimulation`."""
        self.mouth.close()

    def begin(self, worker, first: Input) -> None:
        """See `TypedSimulation`."""
        self._simulation.companion = worker
        self._simulation.take(first)

    def drive(self, worker) -> Optional[Closed]:
        """Go on until over, or until the sound ends."""
        self._simulation.companion = worker
        self._recorder.log = worker.log.path if hasattr(worker, "log") else None
        while not worker.over:
            self._path.listen(worker.listening)
            chunk = next(self._chunks, None)
            guesses = self._path.finish() if chunk is None else self._path.feed(chunk)
            self._simulation.wait(CHUNK_MS)
            for guess in guesses:
                self._simulation.take(guessed(guess, self._path.ear.name))
            memo = self._recorder.feed(chunk, self._path.speaking) if chunk is not None else None
            if memo is not None and not self._simulation.take(memo):
                self._recorder.forget(memo)
            if chunk is None and not worker.over:
                return Closed("the sound file")
        return None


def _nobody(tag: str) -> None:
    """Where somebody else reports the end of speech."""
