"""What the recogniser writes when nothing constrains it, and how many of its words are wrong."""
from __future__ import annotations

import functools
import re

import numpy as np

from companion.edge.ear.crops import even
from companion.edge.ear.model import END, Model, model_folder
from companion.edge.ear.tokens import read_pieces
from companion.edge.voice.wording import for_voice

RATE = 16_000
_FRAME = RATE // 100
_PAUSE = 0.25
_PIECES_A_SECOND = 8


def written(sound: np.ndarray) -> str:
    """The words of clean speech at 16 kHz, with silence (below −60 dBFS) where it pauses."""
    return " ".join(_utterance(part) for part in parts(sound))


def parts(sound: np.ndarray) -> list[np.ndarray]:
    """The stretches of speech between pauses of a quarter of a second."""
    loud = np.flatnonzero(np.square(sound[:len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)).mean(1) > 1e-6)
    groups = np.split(loud, np.flatnonzero(np.diff(loud) > _PAUSE * 100) + 1) if len(loud) else []
    return [sound[max(0, group[0] - 5) * _FRAME:(group[-1] + 6) * _FRAME] for group in groups]


def word_errors(meant: str, found: str) -> float:
    """Words to be changed, added or dropped, as a share of those meant."""
    want, got = words(meant), words(found)
    row = list(range(len(got) + 1))
    for count, word in enumerate(want, 1):
        before, row[0] = row[0], count
        for place, other in enumerate(got, 1):
            before, row[place] = row[place], min(row[place] + 1, row[place - 1] + 1, before + (word != other))
    return row[-1] / max(1, len(want))


def words(text: str) -> list[str]:
    """Bare words in lower case; digits as they are spoken."""
    return re.findall(r"[a-z']+", for_voice(text).lower().replace("-", " "))


def _utterance(sound: np.ndarray) -> str:
    even_sound = even(np.pad(sound, RATE // 5))
    if even_sound is None:
        return ""
    model, pieces = _model()
    beams, text = model.begin(model.encode(even_sound)), b""
    for _ in range(8 + int(_PIECES_A_SECOND * len(sound) / RATE)):
        piece = int(beams.next[0].argmax())
        if piece == END:
            break
        text += pieces[piece]
        beams = model.step(beams, [0], [piece])
    return text.decode("utf-8", "replace").strip()


@functools.lru_cache(maxsize=1)
def _model() -> tuple[Model, list[bytes]]:
    return Model(model_folder(), threads=1), read_pieces(model_folder() / "tokenizer.bin")
