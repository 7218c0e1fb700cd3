"""Who listens in a live job: to a microphone, above the companion's own speech, or to a file that waits its turn.

Each runs on a thread of its own and hands inputs to the thread that decides.
"""
from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from typing import Optional, Protocol

import numpy as np

from companion.core.grammar import Listen
from companion.core.job.inputs import Input
from companion.edge.attention import Attention, Talk
from companion.edge.ear import Ear, Guess, LivePath
from companion.edge.live.memo import Recorder
from companion.edge.live.turns import Silent, Turns
from companion.edge.loop import Closed, guessed
from companion.edge.player import Player
from companion.edge.sound import CHUNK, EAR_RATE, Frame, SoundDevices, Source
from companion.edge.threads import going_on

_PATIENCE_S, _END_S = 5.0, 5.0


class Hub(Protocol):
    """What a listener needs of the session."""

    player: Optional[Player]

    @property
    def listening(self) -> Listen:
        """What makes sense now."""

    def put(self, what: "Input | Closed") -> None:
        """Hand over an input."""

    def state(self, text: str) -> None:
        """The state of the sound, for the screen."""


class FileListener:
    """A sound file in real time: it stands still while the companion speaks."""

    def __init__(self, source: Source, path: LivePath) -> None:
        self._source, self._path = source, path
        self._thread: Optional[threading.Thread] = None
        self.name = path.ear.name
        self.recorder = Recorder(path.ear.draft)

    @property
    def ear(self) -> Ear:
        """Who listens."""
        return self._path.ear

    def start(self, hub: Hub) -> None:
        """Listens from now on."""
        self._thread = threading.Thread(target=self._run, args=(hub,), name="sound file", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Ends it; a recogniser at work is waited for, since the program's end would tear its threads away."""
        self._source.close()
        if self._thread is not None:
            self._thread.join(_END_S)

    def _run(self, hub: Hub) -> None:
        try:
            for chunk in self._source.chunks():
                self._hear(hub, chunk)
                time.sleep(CHUNK / EAR_RATE)
            self._hear(hub, None)
            hub.put(Closed("the sound"))
        except Exception as fault:  # handed to the deciding thread, which says it
            hub.put(Closed("the sound", fault))

    def _hear(self, hub: Hub, chunk: Optional[np.ndarray]) -> None:
        while hub.player is not None and not hub.player.idle:
            time.sleep(CHUNK / EAR_RATE)
        self._path.listen(hub.listening)
        for guess in self._path.finish() if chunk is None else self._path.feed(chunk):
            hub.put(guessed(guess, self.name))
        taken = self.recorder.feed(chunk, self._path.speaking) if chunk is not None else None
        if taken is not None:
            hub.put(taken)


class MicrophoneListener:
    """The microphone of `devices`, with the companion's own sound taken out while it speaks."""

    def __init__(self, devices: SoundDevices, path: LivePath, attention: Attention = Attention()) -> None:
        self._devices, self._path, self.attention = devices, path, attention
        self.name, self.talk = path.ear.name, Talk()
        self.recorder = Recorder(path.ear.draft)
        self._frames, self._closing = devices.frames(), threading.Event()
        self._turns: Optional[Turns] = None
        self._thread: Optional[threading.Thread] = None
        self._renewed = False

    @property
    def ear(self) -> Ear:
        """Who listens."""
        return self._path.ear

    def start(self, hub: Hub) -> None:
        """Listens from now on."""
        self._turns = self._turns_with(hub)
        self._thread = threading.Thread(target=self._run, args=(hub,), name="microphone", daemon=True)
        self._thread.start()

    def hear(self, hub: Hub, seconds: float) -> np.ndarray:
        """Before `start`: the next seconds of the microphone, as they come. Raises BrokenMachine where nothing comes.

        What came before is only used to learn the room by.
        """
        self._turns = self._turns_with(hub)
        self._devices.microphone.patience = _PATIENCE_S
        while self._devices.microphone.waiting:
            self._learn(next(self._frames))
        heard: list[np.ndarray] = []
        while sum(map(len, heard)) < seconds * EAR_RATE:
            heard.append(self._learn(next(self._frames)))
        self._devices.microphone.patience = None
        return np.concatenate(heard)

    def doubt(self, part: str) -> None:
        """A part that was found failing is opened afresh."""
        self._devices.doubt(part)

    def renew(self) -> None:
        """Other devices than before: the room is learnt again."""
        self._renewed = True

    def close(self) -> None:
        """See `FileListener`."""
        self._closing.set()
        self._devices.close()
        if self._thread is not None:
            self._thread.join(_END_S)

    def _turns_with(self, hub: Hub) -> Turns:
        return self._turns or Turns(self._path, hub.player or Silent(), lambda: hub.state("listening"))

    def _learn(self, frame: Frame) -> np.ndarray:
        self._turns.canceller.clean(frame.heard, frame.played)
        return frame.heard

    def _run(self, hub: Hub) -> None:
        going_on(lambda: self._listen(hub), self._wait)

    def _wait(self, seconds: float) -> bool:
        """Between a fault and listening again: what is said meanwhile is not to be taken for an answer later."""
        closed = self._closing.wait(seconds)
        if not closed:
            self._devices.forget()
            self._frames, self._renewed = self._devices.frames(), True
        return closed

    def _listen(self, hub: Hub) -> None:
        """Until the devices are closed."""
        for frame in self._frames:
            for what in self._take(hub, frame):
                hub.put(what)

    def _take(self, hub: Hub, frame: Frame) -> Iterator[Input]:
        if self._renewed:
            self._renewed = False
            self._turns.forget()
        held = self.talk.held(self._path.speaking)
        for guess, above in self._turns.feed(frame, self.attention.live(hub.listening, held)):
            yield from self._meant(guess, above, held)
        speaks = hub.player is not None and not hub.player.idle
        hub.state(self._state(speaks, held))
        if self.recorder.running or not speaks:
            taken = self.recorder.feed(frame.heard, self._path.speaking)
            if taken is not None:
                yield taken

    def _state(self, speaks: bool, held: bool) -> str:
        if speaks and not self._turns.held:
            return "speaking"
        return "hold the key to talk" if self.attention.talk_key and not held else "listening"

    def _meant(self, guess: Guess, above: bool, held: bool) -> Iterator[Input]:
        """What was for the companion. Sound above its own speech that means nothing is passed over."""
        mine = self.attention.heard(guess, held)
        if mine is not None and (guess.accepted or not above):
            yield guessed(guess, self.name, *mine)
