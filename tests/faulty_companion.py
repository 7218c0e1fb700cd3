"""`companion`, with parts that fail when they are told to: a file of that name lies in the folder $FAULTS. For tests only.

    ear-once      the next utterance makes the recogniser throw; the file goes
    ear-throws    every utterance does, as long as the file is there
    ear-stalls    the next utterance is never answered; the file goes
    ear-memory    the next utterance makes memory run out; the file goes
    voice-throws  nothing can be rendered, as long as the file is there
    thread-dies   the next look at the sound devices fails; the file goes
"""
from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

from companion.__main__ import main
from companion.edge.ear.embedded import EmbeddedEar
from companion.edge.sound.streams import Streams
from companion.edge.voice.builtin import BuiltinVoice
from companion.edge.voice.system import SystemVoice

FOLDER = Path(os.environ["FAULTS"])


def wanted(name: str, stays: bool = False) -> bool:
    """Whether a fault is wanted now; one that does not stay is wanted once."""
    path = FOLDER / name
    there = path.exists()
    if there and not stays:
        path.unlink(missing_ok=True)
    return there


def before(kind: type, method: str, act) -> None:
    """Does `act` before each call of a method."""
    whole = getattr(kind, method)

    def called(self, *arguments, **named):
        act()
        return whole(self, *arguments, **named)

    setattr(kind, method, called)


def ear() -> None:
    if wanted("ear-once") or wanted("ear-throws", stays=True):
        raise ValueError("a fault of the tests")
    if wanted("ear-memory"):
        raise MemoryError
    if wanted("ear-stalls"):
        threading.Event().wait()


def voice() -> None:
    if wanted("voice-throws", stays=True):
        raise OSError("a fault of the tests")


def devices() -> None:
    if wanted("thread-dies"):
        raise RuntimeError("a fault of the tests")


if __name__ == "__main__":
    before(EmbeddedEar, "hear", ear)
    before(BuiltinVoice, "render", voice)
    before(SystemVoice, "render", voice)
    before(Streams, "look", devices)
    sys.exit(main())
