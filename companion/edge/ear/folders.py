"""Where a Vosk model lies, and whether a folder is one that phrases can be given to."""
from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from companion.edge.device import home
from companion.errors import BadInput

_NEEDED = ("graph/HCLr.fst", "graph/Gr.fst", "graph/phones/word_boundary.int", "conf/mfcc.conf")
"""Beside `am/final.mdl`. A large model has `graph/HCLG.fst` instead of the first two and takes no phrases."""

_DO = "Take a small model, as models/README.md says"


def places() -> tuple[Path, ...]:
    """The folders that are searched: `models` where the program was started, beside its source, in its own folder."""
    return tuple(dict.fromkeys((Path.cwd() / "models", Path(__file__).parents[3] / "models", home() / "models")))


def find_model(notice: Callable[[str], None] = lambda text: None) -> Path | None:
    """The first model in the first of `places` that holds one, by name; None if there is none. Tells `notice` which
    others were passed over."""
    for place in places():
        found = [folder for folder in _inside(place) if not missing(folder)]
        for folder in _inside(place):
            if folder in found[1:]:
                notice(f"another model lies in {folder}; name it with --model to use it")
            elif missing(folder):
                notice(f"{folder} is passed over: {missing(folder)[0]} is missing. {_DO}")
        if found:
            return found[0]
    return None


def given_model(folder: Path) -> Path:
    """The model that is or lies in `folder` (an unpacked archive often holds one folder more).

    Raises BadInput where there is none, or one that takes no phrases.
    """
    found = [folder] if _is_model(folder) else _inside(folder)
    if len(found) != 1:
        told = f"{len(found)} of them" if found else "none" if folder.is_dir() else "no folder at all"
        raise BadInput(str(folder), "must hold one Vosk model (a folder with am/final.mdl)", told, _DO)
    lost = missing(found[0])
    if lost:
        raise BadInput(str(found[0]), "must be a whole model that takes phrases", "one without " + ", ".join(lost), _DO)
    return found[0]


def missing(folder: Path) -> list[str]:
    """The files that a model in `folder` lacks."""
    return [name for name in _NEEDED if not (folder / name).is_file()]


def _inside(place: Path) -> list[Path]:
    return sorted(folder for folder in place.iterdir() if _is_model(folder)) if place.is_dir() else []


def _is_model(folder: Path) -> bool:
    return (folder / "am" / "final.mdl").is_file()
