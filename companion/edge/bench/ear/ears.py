"""The ears that are measured side by side, each behind the same live path."""
from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from companion.core.grammar import Listen
from companion.core.understand import understand
from companion.edge.ear import NOTHING, Ear, Guess, chosen_model, load_ear
from companion.errors import BadInput, BrokenMachine

EARS = ("embedded", "free", "pocketsphinx", "vosk")
_MARKS = re.compile(r"[.,!?;:\"]+(?=\s|$)")


class FreeEar:
    """The embedded ear's model with nothing to constrain it: what it writes is read afterwards; accepted if it reads.

    It has no score (1, or 0 where nothing reads). `longer` is always true: it waits for the whole silence.
    """

    name = "free"

    def __init__(self, ear: Ear) -> None:
        self._ear = ear

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """One utterance; see `Ear`."""
        begun = time.perf_counter()
        text = bare(self.draft(samples))
        reading = understand(listen, text)
        guess = replace(NOTHING, text=text) if reading is None else Guess(text, 1.0, True, True, reading, longer=True)
        return replace(guess, ms=round((time.perf_counter() - begun) * 1000, 1))

    def draft(self, samples: np.ndarray) -> str:
        """What the model writes."""
        return self._ear.draft(samples)


def bare(text: str) -> str:
    """Lower case, without the marks at the ends of words."""
    return " ".join(_MARKS.sub("", text.lower()).split())


def available(names: list[str], notice: Callable[[str], None]) -> list[str]:
    """Those of `names` that are installed here; `notice` is told why another is skipped, and how to get it.

    Raises BadInput for an unknown name.
    """
    unknown = [name for name in names if name not in EARS]
    if unknown or not names:
        raise BadInput("--ears", "must be some of " + ", ".join(EARS), ", ".join(unknown) or "none")
    return [name for name in dict.fromkeys(names) if _is_here(name, notice)]


def _is_here(name: str, notice: Callable[[str], None]) -> bool:
    if name == "pocketsphinx":
        import importlib.util
        if importlib.util.find_spec("pocketsphinx") is None:
            notice("pocketsphinx is skipped: its package is not installed. To compare with it: pip install '.[bench]'")
            return False
    if name == "vosk":
        try:
            load_ear("vosk", model=vosk_model())
        except (BadInput, BrokenMachine) as fault:
            notice(f"vosk is skipped: {fault}")
            return False
    return True


def vosk_model() -> Path | None:
    """Where one lies in `models`."""
    return chosen_model("auto")


def load_ears(names: list[str], threads: int) -> dict[str, Ear]:
    """By name; the free ear shares the embedded one's model. Raises BrokenMachine as `load_ear`."""
    ears: dict[str, Ear] = {}
    embedded = load_ear("embedded", threads) if {"embedded", "free"} & set(names) else None
    for name in names:
        if name == "pocketsphinx":
            from companion.edge.bench.ear.pocketsphinx import PocketSphinxEar
            ears[name] = PocketSphinxEar()
        elif name == "vosk":
            ears[name] = load_ear("vosk", threads, vosk_model())
        elif embedded is not None:
            ears[name] = FreeEar(embedded) if name == "free" else embedded
    return ears
