"""The ear: from sound to guesses. `load_ear` gives the ear, `LivePath` the whole way from microphone to guess."""
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from companion.edge.ear.base import NOTHING, RATE, Ear, Guess
from companion.edge.ear.folders import find_model, given_model
from companion.edge.ear.live import LivePath
from companion.errors import BadInput

__all__ = ["EARS", "NOTHING", "RATE", "Ear", "Guess", "LivePath", "chosen_model", "load_ear"]

EARS = ("auto", "embedded", "vosk")


def chosen_model(name: str = "auto", model: Path | None = None,
                 notice: Callable[[str], None] = lambda text: None) -> Path | None:
    """The Vosk model that the ear called `name` would hear with; None for the embedded ear.

    "auto" takes the model that is given, else one that lies in `folders.places`, else none. Raises BadInput for an
    unknown name, for a folder that is no model, and for "vosk" where no model is found.
    """
    if name not in EARS:
        raise BadInput("ear", "must be one of " + ", ".join(EARS), repr(name))
    if name == "embedded":
        if model is not None:
            raise BadInput("--model", "goes with the Vosk ear", "the embedded one", "Leave it out, or give --ear vosk")
        return None
    found = given_model(model) if model is not None else find_model(notice)
    if found is None and name == "vosk":
        raise BadInput("ear", "needs a Vosk model", "none in a folder called models",
                       "Get one as models/README.md says, or name its folder with --model")
    return found


def load_ear(name: str = "auto", threads: int = 2, model: Path | None = None,
             notice: Callable[[str], None] = lambda text: None) -> Ear:
    """The ear called `name` ("auto": see `chosen_model`); the embedded one runs on so many threads.

    `notice` is told when a Vosk model is used, and what it lacks. Raises BadInput as `chosen_model` and for a model
    that does not know the commands, BrokenMachine when a package or model is missing or damaged.
    """
    folder = chosen_model(name, model, notice)
    if folder is not None:
        from companion.edge.ear.vosk import VoskEar

        notice(f"listening with the Vosk model in {folder}")
        return VoskEar(folder, notice)
    from companion.edge.ear.embedded import EmbeddedEar  # slow to import; not needed for a typed job

    return EmbeddedEar(threads)
