"""Puts a session together from what the command line asks for: ear, voice, source, sink, clock."""
from __future__ import annotations

import argparse
import sys
from functools import partial
from typing import Optional, TextIO

from companion.edge.attention import attention_of
from companion.edge.clock import SimulatedClock
from companion.edge.live import FileListener, Live, MicrophoneListener
from companion.edge.player import Player
from companion.edge.sessions import SoundSimulation, TypedSimulation
from companion.edge.sound.portaudio import is_headset, library
from companion.edge.sound import FileSink, FileSource, NullSink, Sink, SoundDevices
from companion.edge.voice import Voice, load_voice
from companion.errors import BadInput
from companion.terminal import clean


class Equipment:
    """What one run of `companion job` works with. Parts that are not asked for are not loaded."""

    def __init__(self, args: argparse.Namespace, typed: bool) -> None:
        self._args, self._typed = args, typed
        self._simulated = args.clock == "simulated"
        self._microphone = not typed and not args.sound_in
        self.attention = attention_of(args.attention, args.talk_key, args.next_key, real_time=not self._simulated,
                                      microphone=self._microphone)
        self._shown: TextIO = sys.stdout

    def session(self):
        """Raises BadInput where the options do not go together, BrokenMachine where a part is missing."""
        if self._simulated and not self._typed and not self._args.sound_in:
            raise BadInput("--clock simulated", "needs --typed or --sound-in", do="A microphone hears in real time")
        if self._args.keep_clips and self._typed:
            raise BadInput("--keep-clips", "needs an ear", "typed lines", do="Leave it out: typed lines make no sound")
        if hasattr(sys.stdin, "reconfigure"):
            sys.stdin.reconfigure(errors="replace")  # a stray byte must not end a job
        session = self._simulation() if self._simulated else self._live()
        session.voice, session.ear = self._voice_name, self._ear_name
        session.attention_name = self.attention.name if self._microphone else ""
        return session

    def _simulation(self):
        clock = SimulatedClock()
        start = clock.now().up_ms
        sink: Optional[Sink] = None
        if self._args.sound_out:
            sink = FileSink(self._args.sound_out, now=lambda: (clock.now().up_ms - start) / 1000, pause=lambda seconds: None)
        if self._typed:
            player = Player(self._voice(), sink) if sink else None
            return TypedSimulation(sys.stdin, player, clock, self._shown)
        path, source = self._path(), FileSource(self._args.sound_in)
        return SoundSimulation(source, path, Player(self._voice(), sink or NullSink()), clock, self._shown)

    def _live(self):
        keyboard = sys.stdin if self._typed or sys.stdin.isatty() else None
        parts = {"keyboard": keyboard, "lines": self._args.lines, "attention": self.attention, "notice": self._notice}
        if self._typed:
            return Live(self._shown, *self._voice_into_a_file(), **parts)
        if self._args.sound_in:
            listener = FileListener(FileSource(self._args.sound_in), self._path())
            voice, sink = self._voice_into_a_file()
            return Live(self._shown, voice or self._voice(), sink or NullSink(), listener, **parts)
        return self._at_the_engine(parts)

    def _at_the_engine(self, parts) -> Live:
        """Microphone and loudspeaker; the voice goes into a file or is only printed where that was asked for."""
        path = self._path()
        early: list = []  # the devices are open before the session is there to be told of them
        tell = early.append
        devices = SoundDevices(notice=lambda *news: tell(news))
        listener = MicrophoneListener(devices, path, self.attention)
        voice, sink = self._voice_into_a_file()
        if sink is None and self._args.voice != "none":
            voice, sink = self._voice(), devices.sink
        headset = self._args.headset or (sink is devices.sink and is_headset(library()))
        session = Live(self._shown, voice, sink, listener, headset=headset, **parts)
        tell = lambda news: session.parts.noticed(*news)  # noqa: E731
        devices.stuttered = session.parts.stuttered
        for news in early:
            tell(news)
        return session

    def _voice_into_a_file(self) -> tuple[Optional[Voice], Optional[Sink]]:
        if self._args.voice == "none" or not self._args.sound_out:
            return None, None
        return self._voice(), FileSink(self._args.sound_out)

    def _voice(self) -> Voice:
        prefer = "auto" if self._args.voice == "none" else self._args.voice
        voice = load_voice(prefer, notice=self._notice)
        self._voice_name = voice.name
        return voice

    @staticmethod
    def _notice(text: str) -> None:
        print(f"companion: {clean(text)}", file=sys.stderr)

    def _path(self):
        """In real time the ear outlives its recogniser; a simulation is to fail where that fails."""
        from companion.edge.ear import LivePath, load_ear  # the model is only read where it is used
        from companion.edge.ear.steady import SteadyEar
        load = partial(load_ear, self._args.ear, model=self._args.model, notice=self._notice)
        path = LivePath(load() if self._simulated else SteadyEar(load))
        self._ear_name, path.keeps_sound = path.ear.name, self._args.keep_clips
        return path

    _voice_name = "printed"
    _ear_name = "typed"
