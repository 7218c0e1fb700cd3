"""The embedded recogniser's two networks: an encoder of sound and a decoder of word pieces.

The files lie inside the wheel `moonshine-voice` (English, tiny; MIT). They are found without importing that module,
whose import needs a sound library. Shapes: 16 kHz samples in, one 288-wide frame for every 384 samples (24 ms) out;
the decoder has 6 layers of 8 heads, 36 wide, with a cache of keys and values.
"""
from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from companion.errors import BrokenMachine

START, END = 1, 2
_LAYERS, _HEADS, _WIDTH = 6, 8, 36
_KINDS = ("key", "value")
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")


def model_folder() -> Path:
    """The folder with the three model files.

    Raises BrokenMachine when the wheel or one of its files is missing.
    """
    repair = "Install it again: pip install --force-reinstall moonshine-voice==0.0.73"
    spec = importlib.util.find_spec("moonshine_voice")
    if spec is None or not spec.submodule_search_locations:
        raise BrokenMachine("recogniser", "the package moonshine-voice must be installed", "missing", repair)
    folder = Path(next(iter(spec.submodule_search_locations))) / "assets" / "tiny-en"
    for name in _FILES:
        if not (folder / name).is_file():
            raise BrokenMachine(str(folder / name), "the model file must be there", "missing", repair)
    return folder


@dataclass(frozen=True)
class Beams:
    """Hypotheses about one sound: what may follow each, and the decoder's memory of it."""

    next: np.ndarray
    """Log probabilities (hypotheses, pieces) of the piece that follows."""
    sound: list[np.ndarray]
    """The frames, then the keys and values made from them: once for all hypotheses, the network spreads them."""
    decoder: list[np.ndarray]
    """Every array's first axis is the hypothesis."""


class Model:
    """Runs the two networks on `threads` threads. Raises BrokenMachine when a file cannot be loaded."""

    def __init__(self, folder: Path, threads: int = 2) -> None:
        self._encoder = _session(folder / _FILES[0], threads)
        self._decoder = _session(folder / _FILES[1], threads)
        self._outputs = [output.name for output in self._decoder.get_outputs()]
        self._changing = [name for name in self._outputs if ".encoder." not in name]
        """Those that a step changes: what was made from the sound need not be copied each time."""

    def encode(self, samples: np.ndarray) -> np.ndarray:
        """Float32 samples (n,) at 16 kHz to frames (1, t, 288)."""
        mask = np.ones((1, len(samples)), np.int64)
        return self._encoder.run(None, {"input_values": samples[None].astype(np.float32), "attention_mask": mask})[0]

    def begin(self, frames: np.ndarray) -> Beams:
        """One hypothesis of no piece yet, for frames (1, t, 288)."""
        out = self._decode(self._outputs, [frames, *_nothing()], _nothing(), np.array([[START]]), cached=False)
        return Beams(_log_softmax(out["logits"][:, -1]), [frames, *_present(out, "encoder")], _present(out, "decoder"))

    def step(self, beams: Beams, rows: list[int], pieces: list[int]) -> Beams:
        """The hypotheses in `rows`, in that order, each a piece longer; a row may be taken several times."""
        decoder = [array[rows] for array in beams.decoder]
        out = self._decode(self._changing, beams.sound, decoder, np.array(pieces)[:, None], cached=True)
        return Beams(_log_softmax(out["logits"][:, -1]), beams.sound, _present(out, "decoder"))

    def score(self, begun: Beams, texts: list[tuple[int, ...]]) -> list[float]:
        """Log probability of each row of pieces from the start (`begin`), in one go."""
        logs = [float(begun.next[0, text[0]]) for text in texts]
        longest = max(map(len, texts))
        if longest > 1:
            ids = np.array([[*text, *[END] * (longest - len(text))] for text in texts])[:, :-1]
            decoder = [np.repeat(array, len(texts), axis=0) for array in begun.decoder]
            rows = _log_softmax(self._decode(["logits"], begun.sound, decoder, ids, cached=True)["logits"])
            logs = [log + float(row[range(len(text) - 1), text[1:]].sum()) for log, row, text in zip(logs, rows, texts)]
        return logs

    def _decode(self, wanted: list[str], sound: list[np.ndarray], decoder: list[np.ndarray], ids: np.ndarray,
                cached: bool) -> dict[str, np.ndarray]:
        feed = {
            "input_ids": ids.astype(np.int64),
            "encoder_hidden_states": sound[0],
            # One place for all frames: the network takes every 384th place as a frame's, and spreads a single one.
            "encoder_attention_mask": np.ones((1, 1), np.int64),
            "use_cache_branch": np.array([cached]),
        }
        for side, arrays in (("decoder", decoder), ("encoder", sound[1:])):
            feed |= {f"past_key_values.{n // 2}.{side}.{_KINDS[n % 2]}": array for n, array in enumerate(arrays)}
        return dict(zip(wanted, self._decoder.run(wanted, feed)))


def _nothing() -> list[np.ndarray]:
    """An empty memory."""
    return [np.zeros((1, _HEADS, 0, _WIDTH), np.float32)] * (2 * _LAYERS)


def _present(out: dict[str, np.ndarray], side: str) -> list[np.ndarray]:
    return [out[f"present.{layer}.{side}.{kind}"] for layer in range(_LAYERS) for kind in _KINDS]


def _log_softmax(logits: np.ndarray) -> np.ndarray:
    """In place: the array is as wide as the vocabulary, and copying it costs as much as the sum."""
    logits -= logits.max(-1, keepdims=True)
    logits -= np.log(np.exp(logits).sum(-1, keepdims=True))
    return logits


def _session(path: Path, threads: int):
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    options.enable_cpu_mem_arena = False  # every utterance has other shapes: the arena only grew, to 0.9 GB
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")  # the voice and the log need the cores too
    try:
        return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    except Exception as fault:  # onnxruntime raises its own, undocumented kinds
        raise BrokenMachine(str(path), "the model file must be whole", str(fault).splitlines()[0],
                            "Install it again: pip install --force-reinstall moonshine-voice==0.0.73") from fault
