"""The ear: from sound to guesses. `load_ear` gives the best ear there is, `LivePath` the whole way from microphone to guess."""
from __future__ import annotations

from companion.edge.ear.base import RATE, Ear, Guess
from companion.edge.ear.live import LivePath

__all__ = ["RATE", "Ear", "Guess", "LivePath", "load_ear"]


def load_ear(name: str = "embedded") -> Ear:
    """The ear called `name`. Raises BrokenMachine when its model is missing or damaged."""
    from companion.edge.ear.embedded import EmbeddedEar  # slow to import; not needed for a typed job

    return EmbeddedEar()
