"""Where speech goes (sinks) and where it comes from (sources)."""
from __future__ import annotations

from companion.edge.sound.device import MicrophoneSource, SpeakerSink
from companion.edge.sound.sinks import FileSink, NullSink, Sink
from companion.edge.sound.sources import CHUNK, EAR_RATE, FileSource, Source, read_sound

__all__ = ["CHUNK", "EAR_RATE", "FileSink", "FileSource", "MicrophoneSource", "NullSink", "Sink", "Source",
           "SpeakerSink", "read_sound"]
