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


@dataclass
class Beams:
    """The decoder's memory of several hypotheses about one sound; every array's first axis is the hypothesis.

    What comes from the encoder is the same for all of them, repeated once for the widest step and then only cut.
    """

    sound: list[np.ndarray]
    """The frames, then the keys and values made from them."""
    decoder: list[np.ndarray]

    def pick(self, rows: list[int]) -> "Beams":
        """The memory of the hypotheses in `rows`, in that order; a row may be taken several times."""
        if len(rows) > len(self.sound[0]):
            self.sound = [np.repeat(array[:1], len(rows), axis=0) for array in self.sound]
        return Beams(self.sound, [array[rows] for array in self.decoder])


class Model:
    """Runs the two networks on `threads` threads. Raises BrokenMachine when a file cannot be loaded."""

    def __init__(self, folder: Path, threads: int = 2) -> None:
        self._encoder = _session(folder / _FILES[0], threads)
        self._decoder = _session(folder / _FILES[1], threads)
        self._outputs = [output.name for output in self._decoder.get_outputs()]

    def encode(self, samples: np.ndarray) -> np.ndarray:
        """Float32 samples (n,) at 16 kHz to frames (1, t, 288)."""
        mask = np.ones((1, len(samples)), np.int64)
        return self._encoder.run(None, {"input_values": samples[None].astype(np.float32), "attention_mask": mask})[0]

    def begin(self, frames: np.ndarray) -> tuple[np.ndarray, Beams]:
        """The first word piece's log probabilities (1, pieces) and the memory after the start token."""
        out = self._decode([frames, *_nothing(1)], _nothing(1), np.array([[START]]), cached=False)
        return _log_softmax(out["logits"][:, -1]), Beams([frames, *_present(out, "encoder")], _present(out, "decoder"))

    def step(self, beams: Beams, pieces: list[int]) -> tuple[np.ndarray, Beams]:
        """One piece for each hypothesis; the log probabilities (hypotheses, pieces) of what follows."""
        sound = [array[:len(pieces)] for array in beams.sound]
        out = self._decode(sound, beams.decoder, np.array(pieces)[:, None], cached=True)
        return _log_softmax(out["logits"][:, -1]), Beams(beams.sound, _present(out, "decoder"))

    def score(self, frames: np.ndarray, texts: list[tuple[int, ...]]) -> list[float]:
        """Log probability of each row of pieces from the start, for frames (1, t, 288), in one go."""
        longest = max(map(len, texts))
        ids = np.array([[START, *text, *[END] * (longest - len(text))] for text in texts])[:, :-1]
        nothing = _nothing(len(ids))
        out = self._decode([np.repeat(frames, len(ids), axis=0), *nothing], nothing, ids, cached=False)
        logs = _log_softmax(out["logits"])
        return [float(row[range(len(text)), text].sum()) for row, text in zip(logs, texts)]

    def _decode(self, sound: list[np.ndarray], decoder: list[np.ndarray], ids: np.ndarray,
                cached: bool) -> dict[str, np.ndarray]:
        feed = {
            "input_ids": ids.astype(np.int64),
            "encoder_hidden_states": sound[0],
            # One place a row, for all frames: the network takes every 384th place as a frame's, and spreads a single one.
            "encoder_attention_mask": np.ones((len(sound[0]), 1), np.int64),
            "use_cache_branch": np.array([cached]),
        }
        for side, arrays in (("decoder", decoder), ("encoder", sound[1:])):
            feed |= {f"past_key_values.{n // 2}.{side}.{_KINDS[n % 2]}": array for n, array in enumerate(arrays)}
        return dict(zip(self._outputs, self._decoder.run(None, feed)))


def _nothing(rows: int) -> list[np.ndarray]:
    """An empty memory."""
    return [np.zeros((rows, _HEADS, 0, _WIDTH), np.float32)] * (2 * _LAYERS)


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
