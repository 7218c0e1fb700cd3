"""Where speech goes (sinks) and where it comes from (sources)."""
from __future__ import annotations

from companion.edge.sound.portaudio import SpeakerSink
from companion.edge.sound.devices import SoundDevices
from companion.edge.sound.microphone import FRAME, Frame
from companion.edge.sound.sinks import FileSink, NullSink, Sink
from companion.edge.sound.sources import CHUNK, EAR_RATE, FileSource, Source, read_sound

__all__ = ["CHUNK", "EAR_RATE", "FRAME", "FileSink", "FileSource", "Frame", "NullSink", "Sink", "SoundDevices", "Source",
           "SpeakerSink", "read_sound"]
