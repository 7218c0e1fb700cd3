"""Microphone and loudspeaker as the checks use them: hear for some seconds, or speak and hear at once."""
from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from companion.edge.live.echo import TAIL_S
from companion.edge.player import Ended, Player
from companion.edge.sound import EAR_RATE, FRAME, Frame, Sink, SoundDevices
from companion.edge.sound.loudspeaker import STARTING, Loudspeaker
from companion.edge.sound.microphone import Microphone, Reference
from companion.edge.sound.portaudio import library, open_stream, own_rate
from companion.edge.voice import Voice
from companion.errors import BrokenMachine


class Hearing:
    """A microphone. For one thread."""

    def __init__(self, sound: Iterator[Frame], waiting: Callable[[], bool], close: Callable[[], None]) -> None:
        self._sound, self._waiting, self.close = sound, waiting, close

    def take(self) -> Frame:
        """The next 20 ms. Raises BrokenMachine where nothing comes."""
        return next(self._sound)

    def from_now(self) -> None:
        """Forgets what has come so far."""
        while self._waiting():
            self.take()

    def hear(self, seconds: float) -> np.ndarray:
        """The next seconds of the microphone, at 16 kHz. Raises BrokenMachine where nothing comes."""
        self.from_now()
        return np.concatenate([self.take().heard for _ in range(round(seconds * EAR_RATE / FRAME))])


class Duplex(Hearing):
    """A microphone beside a loudspeaker that `voice` speaks on. For one thread."""

    def __init__(self, hearing: Hearing, voice: Voice, sink: Sink) -> None:
        super().__init__(hearing._sound, hearing._waiting, self._close)
        self._hearing, self._fault = hearing, None
        self._player = Player(voice, sink, self._ended)

    def say(self, text: str) -> list[Frame]:
        """Speaks, and returns what was heard and played meanwhile and until the echo is over. Raises BrokenMachine."""
        self.from_now()
        self._player.say(text)
        taken = []
        while not self._player.idle:
            taken.append(self.take())
        if self._fault is not None:
            raise self._fault
        return taken + [self.take() for _ in range(round(TAIL_S * EAR_RATE / FRAME))]

    def _ended(self, ended: Ended) -> None:
        self._fault = ended.fault

    def _close(self) -> None:
        self._player.close()
        self._hearing.close()


def microphone_alone() -> Hearing:
    """The system's microphone, without a loudspeaker. Raises BrokenMachine where there is none."""
    sounds, microphone = library(), Microphone()
    microphone.patience = STARTING
    rate = own_rate(sounds, None, "microphone")
    microphone.connect(rate)
    stream = open_stream(sounds, "microphone", None, rate, microphone.copy)
    heard = microphone.frames(Reference(Loudspeaker()))
    return Hearing(heard, lambda: microphone.waiting, stream.close)


def both(voice: Voice) -> Duplex:
    """The system's microphone and loudspeaker. Raises BrokenMachine where one is missing."""
    devices = SoundDevices()
    devices.microphone.patience = STARTING
    return Duplex(Hearing(devices.frames(), lambda: devices.microphone.waiting, devices.close), voice, devices.sink)


def device_name(kind: str) -> str:
    """What the system calls its "input" or "output", with its rate. Raises BrokenMachine where there is none."""
    sounds = library()
    try:
        device = sounds.query_devices(None, kind)
    except (sounds.PortAudioError, ValueError) as fault:
        raise BrokenMachine("sound", f"the system must have an {kind}", str(fault)) from fault
    return f'"{device["name"]}" at {device["default_samplerate"]:.0f} Hz'
