"""The ear: from sound to guesses. `load_ear` gives the ear, `LivePath` the whole way from microphone to guess."""
from __future__ import annotations

from companion.edge.ear.base import NOTHING, RATE, Ear, Guess
from companion.edge.ear.live import LivePath
from companion.errors import BadInput

__all__ = ["NOTHING", "RATE", "Ear", "Guess", "LivePath", "load_ear"]


def load_ear(name: str = "embedded", threads: int = 2) -> Ear:
    """The ear called `name`, on so many threads. Raises BadInput for an unknown one, BrokenMachine when its model is missing or damaged."""
    if name != "embedded":
        raise BadInput("ear", 'must be "embedded"', repr(name))
    from companion.edge.ear.embedded import EmbeddedEar  # slow to import; not needed for a typed job

    return EmbeddedEar(threads)
