"""Puts a session together from what the command line asks for: ear, voice, source, sink, clock."""
from __future__ import annotations

import argparse
import sys
from typing import Optional, TextIO

from companion.edge.clock import SimulatedClock
from companion.edge.player import Player
from companion.edge.sessions import Live, SoundSimulation, TypedSimulation
from companion.edge.sound import FileSink, FileSource, MicrophoneSource, NullSink, Sink, Source, SpeakerSink
from companion.edge.voice import Voice, load_voice
from companion.errors import BadInput


class Equipment:
    """What one run of `companion job` works with. Parts that are not asked for are not loaded."""

    def __init__(self, args: argparse.Namespace, typed: bool) -> None:
        self._args, self._typed = args, typed
        self._simulated = args.clock == "simulated"
        self._shown: TextIO = sys.stdout

    def session(self):
        """Raises BadInput where the options do not go together, BrokenMachine where a part is missing."""
        if self._simulated and not self._typed and not self._args.sound_in:
            raise BadInput("--clock simulated", "needs --typed or --sound-in", do="A microphone hears in real time")
        if hasattr(sys.stdin, "reconfigure"):
            sys.stdin.reconfigure(errors="replace")  # a stray byte must not end a job
        session = self._simulation() if self._simulated else self._live()
        session.voice = self._voice_name
        session.ear = self._ear_name
        return session

    def _simulation(self):
        clock = SimulatedClock()
        start = clock.now().up_ms
        sink: Optional[Sink] = None
        if self._args.sound_out:
            sink = FileSink(self._args.sound_out, now=lambda: (clock.now().up_ms - start) / 1000, pause=lambda seconds: None)
        if self._typed:
            player = Player(self._voice(), sink) if sink else None
            self._voice_name = self._voice_name if player else "printed"
            self._ear_name = "typed"
            return TypedSimulation(sys.stdin, player, clock, self._shown)
        path, source = self._path(), FileSource(self._args.sound_in)
        return SoundSimulation(source, path, Player(self._voice(), sink or NullSink()), clock, self._shown)

    def _live(self):
        path, source = (None, None) if self._typed else (self._path(), self._source())
        self._ear_name = path.ear.name if path else "typed"
        voice, sink = self._voice_and_sink()
        self._voice_name = voice.name if voice else "printed"
        keyboard = sys.stdin if self._typed or sys.stdin.isatty() else None
        return Live(keyboard, source, path, voice, sink, self._shown, turns=bool(self._args.sound_in),
                    lines=self._args.lines)

    def _voice_and_sink(self) -> tuple[Optional[Voice], Optional[Sink]]:
        """A typed job speaks only into a file that was asked for; a spoken one always speaks."""
        if self._args.voice == "none" or (self._typed and not self._args.sound_out):
            return None, None
        if self._args.sound_out:
            return self._voice(), FileSink(self._args.sound_out)
        return self._voice(), NullSink() if self._args.sound_in else SpeakerSink()

    def _voice(self) -> Voice:
        prefer = "auto" if self._args.voice == "none" else self._args.voice
        voice = load_voice(prefer, notice=lambda text: print(f"companion: {text}", file=sys.stderr))
        self._voice_name = voice.name
        return voice

    def _source(self) -> Source:
        return FileSource(self._args.sound_in) if self._args.sound_in else MicrophoneSource()

    def _path(self):
        from companion.edge.ear import LivePath, load_ear  # the model is only read where it is used
        path = LivePath(load_ear())
        self._ear_name = path.ear.name
        return path

    _voice_name = "printed"
    _ear_name = "typed"
