"""The Vosk ear: a Vosk model that is given the phrases that make sense now, checked by `core.understand`.

Measured on the small Korean model with synthetic voices (models/README.md); no English model was at hand. What a score
means is said in `alternatives`.
"""
from __future__ import annotations

import json
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from companion.core.commands import all_commands
from companion.core.grammar import Listen
from companion.edge.ear.alternatives import Alternative, judge
from companion.edge.ear.base import NOTHING, RATE, Guess
from companion.edge.ear.crops import even
from companion.edge.ear.folders import given_model
from companion.edge.ear.further import Further
from companion.edge.ear.phrases import DECOYS, Way, ways
from companion.errors import BadInput, BrokenMachine

_UNKNOWN = ("[unk]", "<UNK>", "<unk>")
"""What models call a word they do not know; the first that a model has is used."""
_LISTENS_KEPT = 6
_ALTERNATIVES = 8
_PIECE = RATE // 5
"""Samples given at once, 0.2 s."""
_WEIGHT = 30
"""How often each phrase is given, against once for each decoy. With 1, 3, 10, 30, 100: right 27, 32, 35, 37, 37 of 48;
outside words accepted 11, 19, 27, 32, 54 of 264 (twelve phrases, 71 decoys; Korean model, four synthetic voices)."""

_models: dict[Path, Any] = {}
_loading = threading.Lock()


class VoskEar:
    """`folder` holds the model, which every ear in this process shares; it takes seconds and hundreds of megabytes.

    Raises BadInput when the folder holds no fit model or one that lacks a word of `commands`, BrokenMachine when the
    package is missing or the model damaged. `notice` is told, once, of each other word that the model does not know:
    what needs it cannot be said. Not for use by two threads at once.
    """

    name = "vosk"

    def __init__(self, folder: Path, notice: Callable[[str], None] = lambda text: None,
                 commands: Listen | None = None, decoys: tuple[str, ...] = DECOYS) -> None:
        self.folder = given_model(Path(folder))
        self._vosk, self._model = _package(), _load(self.folder)
        self._notice = notice
        self._told: set[str] = set()
        self._unknown = next((word for word in _UNKNOWN if self.knows(word)), None)
        if self._unknown is None:
            raise BadInput(str(self.folder), "the model must have a word for what it does not know", "none of "
                           + ", ".join(_UNKNOWN), "Take another model")
        self._decoys = tuple(filter(self.knows, decoys))
        self._require(all_commands() if commands is None else commands)
        self._kept: OrderedDict[Listen, _Heard | None] = OrderedDict()

    def knows(self, text: str) -> bool:
        """Whether the model has every word of `text`."""
        return all(self._model.vosk_model_find_word(word) >= 0 for word in text.split())

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """One utterance; see `base.Ear`. Less than 0.05 s of sound, or none, is nothing; beyond 20 s it is cut."""
        begun = time.perf_counter()
        guess, heard, sound = NOTHING, self._heard(listen), even(samples)
        if heard is not None and sound is not None:
            guess = judge(_decode(heard.recogniser, sound), listen, heard.outside)
            if guess.reading is not None:
                guess = replace(guess, longer=heard.further.after(guess.text))
        return replace(guess, ms=round((time.perf_counter() - begun) * 1000, 1))

    def _require(self, commands: Listen) -> None:
        """Every word of the standing commands; synonyms, units and letters may be lacking, and are told."""
        wanted = ways(commands)
        lacking = self._lacking(way for way in wanted if way.needed)
        if lacking:
            raise BadInput(str(self.folder), "the model must know the words of the standing commands",
                           "one without " + _listed(lacking),
                           "Take another model, as models/README.md says, or listen with --ear embedded")
        self._tell(self._lacking(wanted))

    def _lacking(self, wanted: Iterable[Way]) -> list[str]:
        """Of what has no writing that the model knows, the unknown words of the first writing."""
        lost = (way.texts[0] for way in wanted if not any(map(self.knows, way.texts)))
        return list(dict.fromkeys(word for text in lost for word in text.split() if not self.knows(word)))

    def _tell(self, words: list[str]) -> None:
        new = [word for word in words if word not in self._told]
        if new:
            self._told.update(new)
            self._notice(f"the model does not know {_listed(new)}: what needs these words cannot be said; type it")

    def _heard(self, listen: Listen) -> _Heard | None:
        """The recogniser for `listen`, out of the few last ones; None if nothing of it can be heard."""
        if listen not in self._kept:
            self._kept[listen] = self._prepared(listen)
            if len(self._kept) > _LISTENS_KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(listen)
        return self._kept[listen]

    def _prepared(self, listen: Listen) -> _Heard | None:
        wanted = ways(listen)
        self._tell(self._lacking(wanted))
        known = list(dict.fromkeys(text for way in wanted for text in way.texts if self.knows(text)))
        if not known:
            return None
        live = {word for text in known for word in text.split()}
        decoys = [word for word in self._decoys if word not in live]
        phrases = json.dumps([*known * _WEIGHT, *decoys, self._unknown], ensure_ascii=False)
        try:
            recogniser = self._vosk.KaldiRecognizer(self._model, RATE, phrases)
        except Exception as fault:  # the package raises plain Exception
            raise BrokenMachine(str(self.folder), "the model must take phrases", str(fault), _AGAIN) from fault
        recogniser.SetMaxAlternatives(_ALTERNATIVES)
        return _Heard(recogniser, frozenset((*decoys, self._unknown)), Further(listen))


class _Heard:
    """A recogniser with what was given to it."""

    def __init__(self, recogniser, others: frozenset[str], further: Further) -> None:
        self.recogniser, self.others, self.further = recogniser, others, further

    def outside(self, text: str) -> bool:
        """Whether a word of `text` is one that nothing listens for."""
        return not self.others.isdisjoint(text.split())


_AGAIN = "Unpack the model again"


def _package():
    try:
        import vosk
    except ImportError as fault:
        raise BrokenMachine("recogniser", "the package vosk must be installed to use a Vosk model", "missing",
                            "Install it: pip install '.[vosk]', or listen with --ear embedded") from fault
    vosk.SetLogLevel(-1)  # it writes to standard error
    return vosk


def _load(folder: Path):
    with _loading:
        key = folder.resolve()
        if key not in _models:
            try:
                _models[key] = _package().Model(str(key))
            except Exception as fault:  # the package raises plain Exception
                raise BrokenMachine(str(folder), "the model must be whole", str(fault), _AGAIN) from fault
        return _models[key]


def _decode(recogniser, sound: np.ndarray) -> list[Alternative]:
    """The alternatives for one utterance; the recogniser is left as new. Its own end of speech is passed over: a pause
    inside an utterance must not cut it."""
    samples = (sound * 32767).clip(-32768, 32767).astype("<i2")
    for start in range(0, len(samples), _PIECE):
        recogniser.AcceptWaveform(samples[start:start + _PIECE].tobytes())
    found = json.loads(recogniser.FinalResult())["alternatives"]
    recogniser.Reset()
    return [(alternative["text"], alternative["confidence"]) for alternative in found]


def _listed(words: list[str]) -> str:
    return ", ".join(words[:20]) + (f" and {len(words) - 20} more" if len(words) > 20 else "")
