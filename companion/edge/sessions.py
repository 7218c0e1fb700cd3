"""Ways of working a job: typed or by sound, on the real clock or a simulated one. Each drives whatever takes inputs.

A session owns the clock, the mouth and the inputs. `begin` hands over the first input, `drive` goes on until the job is
over or the inputs come to an end.
"""
from __future__ import annotations

import queue
import threading
import time
from typing import Iterable, Optional, TextIO

from companion.core.job.inputs import Input, SpokenToEnd
from companion.core.understand import understand
from companion.core.commands import RULES
from companion.core.grammar import Listen, Phrase, Rule, Sequence
from companion.edge.clock import RealClock, SimulatedClock
from companion.edge.loop import Closed, Simulation, guessed, run, typed
from companion.edge.mouth import Mouth, PrintedMouth, SimulatedMouth, SpokenMouth, spoken_to_end
from companion.edge.player import Ended, Player
from companion.edge.screen import screen_for
from companion.edge.sound import CHUNK, EAR_RATE, Sink, Source
from companion.edge.voice import Voice

CHUNK_MS = CHUNK * 1000 // EAR_RATE
_WAIT = Listen((Rule("wait", Sequence((Phrase("wait"), RULES["timer"].expr.parts[1]))),))
_UNIT_MS = {"s": 1_000, "min": 60_000, "h": 3_600_000}


def waiting(line: str) -> Optional[int]:
    """Milliseconds of a typed "wait 3 min", or None for any other line."""
    reading = understand(_WAIT, line)
    return int(reading.get("number")) * _UNIT_MS[reading.get("unit")] if reading else None


class TypedSimulation:
    """Typed lines on a simulated clock; "wait 3 min" lets that much time pass."""

    def __init__(self, lines: Iterable[str], player: Optional[Player], clock: SimulatedClock, shown: TextIO) -> None:
        self.clock, self._lines = clock, iter(lines)
        self._simulation = Simulation(clock)
        printed = PrintedMouth(self._simulation.report if player is None else _nobody, shown)
        self.mouth: Mouth = printed if player is None else SimulatedMouth(player, clock, self._simulation.report, printed)

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
        self.mouth: Mouth = SimulatedMouth(player, clock, self._simulation.report, PrintedMouth(_nobody, shown))

    def begin(self, worker, first: Input) -> None:
        """See `TypedSimulation`."""
        self._simulation.companion = worker
        self._simulation.take(first)

    def drive(self, worker) -> Optional[Closed]:
        """Go on until over, or until the sound ends."""
        self._simulation.companion = worker
        while not worker.over:
            self._path.listen(worker.listening)
            chunk = next(self._chunks, None)
            guesses = self._path.finish() if chunk is None else self._path.feed(chunk)
            self._simulation.wait(CHUNK_MS)
            for guess in guesses:
                self._simulation.take(guessed(guess, self._path.ear.name))
            if chunk is None and not worker.over:
                return Closed("the sound file")
        return None


class Live:
    """Real time: a thread listens, a thread reads the keyboard, the player's thread speaks, this one decides."""

    def __init__(self, keyboard: Optional[TextIO], source: Optional[Source], path,
                 voice: Optional[Voice], sink: Optional[Sink], shown: TextIO, turns: bool = False,
                 lines: bool = False) -> None:
        self.clock = RealClock()
        self._inbox: queue.Queue = queue.Queue()
        self._worker = None
        self._source, self._path, self._turns = source, path, turns
        silent = voice is None or sink is None
        self.screen = screen_for(self._report if silent else _nobody, shown, keyboard is not None, lines)
        self.mouth: Mouth = self.screen if silent else self._made_mouth(voice, sink)
        if keyboard is not None:
            threading.Thread(target=self._read, args=(keyboard,), name="keyboard", daemon=True).start()
        if source is not None:
            threading.Thread(target=self._listen, name="microphone", daemon=True).start()

    def _made_mouth(self, voice: Voice, sink: Sink) -> Mouth:
        self._player = Player(voice, sink, self._spoken)
        return SpokenMouth(self._player, self.screen)

    def _report(self, tag: str) -> None:
        self._inbox.put(SpokenToEnd(tag))

    def _spoken(self, ended: Ended) -> None:
        """A companion that can no longer speak does not go on in silence: its cautions would never be heard."""
        spoken_to_end(ended, self._report)
        if ended.fault is not None and ended.text:
            self._inbox.put(Closed("the loudspeaker", ended.fault))

    def begin(self, worker, first: Input) -> None:
        """See `TypedSimulation`."""
        self._worker = worker
        worker.take(first)
        self.screen.show(worker)

    def drive(self, worker) -> Optional[Closed]:
        """Go on until over, or until the last input closes."""
        self._worker = worker
        self.screen.show(worker)
        return run(worker, self._inbox, lambda what, made: self.screen.took(worker, what, made))

    def _read(self, keyboard: TextIO) -> None:
        fault = None
        try:
            for line in keyboard:
                self._inbox.put(typed(line))
        except (OSError, ValueError) as error:  # ValueError: it was closed, or these bytes are no text
            fault = error
        if self._source is None:
            self._inbox.put(Closed("the keyboard", fault))

    def _listen(self) -> None:
        """Feeds the ear while the companion is silent; what it would hear of itself is dropped."""
        try:
            for chunk in self._source.chunks():
                self._hear(chunk)
            self._hear(None)
            self._inbox.put(Closed("the sound"))
        except Exception as fault:  # handed to the deciding thread, which says it
            self._inbox.put(Closed("the microphone", fault))

    def _hear(self, chunk) -> None:
        speaking = isinstance(self.mouth, SpokenMouth) and not self._player.idle
        self.screen.state("speaking" if speaking else "listening")
        if speaking and not self._turns:
            return self._path.reset()
        while self._turns and not self._player.idle:
            time.sleep(CHUNK_MS / 1000)
        self._path.listen(self._worker.listening if self._worker is not None else Listen())
        for guess in self._path.finish() if chunk is None else self._path.feed(chunk):
            self._inbox.put(guessed(guess, self._path.ear.name))
        if self._turns:
            time.sleep(CHUNK_MS / 1000)


def _nobody(tag: str) -> None:
    """Where somebody else reports the end of speech."""
