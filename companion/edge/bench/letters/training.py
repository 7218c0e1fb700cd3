"""The network of `edge.ear.letters` in torch, and its training by connectionist temporal classification."""
from __future__ import annotations

import math
import random
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

from companion.edge.bench.letters.heard import Example
from companion.edge.ear.letters import ALPHABET, BANDS

WIDTH, LAYERS, ALONG = 256, 4, 9
_DROPPED, _BATCH, _RATE, _LEAST_RATE, _WARMED, _DECAY, _STEEPEST = 0.12, 64, 3e-3, 1e-5, 0.04, 0.02, 2.0
_HIDDEN_SHARE, _HIDDEN_MOST = 0.5, 5
_NO_SPECTRUM, _NO_FRAMES = 0.1, 0.06
"""In how many sentences one of the two is hidden whole, so that neither is leant on alone."""
_KEPT = 0.9996
"""The written weights are a running mean of all steps': so much of it stays at each."""


class _Dropped(nn.Module):
    """Some columns are left out, the same ones in all frames of a sentence: a mask for each frame costs a fifth of the time."""

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        if not self.training:
            return x
        return x * (torch.rand(len(x), 1, x.shape[2]) > _DROPPED) / (1 - _DROPPED)


class Network(nn.Module):
    """Frames (n, t, 368) to log probabilities (n, t, letters and nothing)."""

    def __init__(self, columns: int) -> None:
        super().__init__()
        self.first, self.inside = nn.LayerNorm(columns), nn.Linear(columns, WIDTH)
        self.along = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, ALONG, padding=ALONG // 2, groups=WIDTH) for _ in range(LAYERS))
        self.even = nn.ModuleList(nn.LayerNorm(WIDTH) for _ in range(LAYERS))
        self.wide = nn.ModuleList(nn.Linear(WIDTH, 2 * WIDTH) for _ in range(LAYERS))
        self.back = nn.ModuleList(nn.Linear(2 * WIDTH, WIDTH) for _ in range(LAYERS))
        self.last, self.outside = nn.LayerNorm(WIDTH), nn.Linear(WIDTH, len(ALPHABET) + 1)
        self.dropped = _Dropped()

    def forward(self, x: torch.Tensor, there: torch.Tensor) -> torch.Tensor:
        """`there` (n, t, 1) is 0 where a shorter sentence has no frames."""
        x = self.inside(self.dropped(self.first(x))) * there
        for along, even, wide, back in zip(self.along, self.even, self.wide, self.back):
            y = even(x + along(x.transpose(1, 2)).transpose(1, 2))
            x = (x + self.dropped(back(torch.relu(wide(y))))) * there
        return self.outside(self.last(x)).float().log_softmax(-1)


def train(found: list[Example], epochs: int, out: Path) -> None:
    """Trains so many times through everything, and writes `out` after each."""
    torch.manual_seed(0)
    chance, network = random.Random(1), Network(found[0].frames.shape[1])
    mean = AveragedModel(network, multi_avg_fn=get_ema_multi_avg_fn(_KEPT))
    steps = torch.optim.AdamW(network.parameters(), lr=_RATE, weight_decay=_DECAY)
    pace = torch.optim.lr_scheduler.LambdaLR(steps, partial(_pace, epochs * (len(found) // _BATCH + 1)))
    loss_of, begun = nn.CTCLoss(zero_infinity=True, reduction="sum"), time.monotonic()
    for epoch in range(epochs):
        network.train()
        lost = letters = 0
        for x, there, y, frames, lengths in _batches(found, chance):
            with torch.autocast("cpu", torch.bfloat16):
                heard = network(x, there)
            loss = loss_of(heard.transpose(0, 1), y, frames, lengths)
            steps.zero_grad()
            (loss / max(1, lengths.sum())).backward()
            nn.utils.clip_grad_norm_(network.parameters(), _STEEPEST)
            steps.step()
            pace.step()
            mean.update_parameters(network)
            lost, letters = lost + float(loss.detach()), letters + int(lengths.sum())
        write(mean.module, out)
        print(f"{epoch + 1} of {epochs}: {lost / letters:.3f} lost for each letter, {time.monotonic() - begun:.0f} s", flush=True)


def _pace(total: int, step: int) -> float:
    """How much of the rate is used: it rises, then falls along a cosine."""
    done = step / total
    falling = 0.5 * (1 + math.cos(math.pi * min(1.0, max(0.0, done - _WARMED) / (1 - _WARMED))))
    return min(1.0, done / _WARMED) * falling + _LEAST_RATE / _RATE


def _batches(found: list[Example], chance: random.Random) -> Iterator[tuple[torch.Tensor, ...]]:
    """Sentences of like length together; of many a part is hidden."""
    order = sorted(range(len(found)), key=lambda place: len(found[place].frames) + 8 * chance.random())
    batches = [order[at:at + _BATCH] for at in range(0, len(order), _BATCH)]
    chance.shuffle(batches)
    for batch in ([found[place] for place in places] for places in batches):
        longest = max(len(example.frames) for example in batch)
        x = np.zeros((len(batch), longest, batch[0].frames.shape[1]), np.float32)
        there = np.zeros((len(batch), longest, 1), np.float32)
        for row, seen, example in zip(x, there, batch):
            row[:len(example.frames)], seen[:len(example.frames)] = example.frames, 1
            _hide(row[:len(example.frames)], chance)
        yield (torch.from_numpy(x), torch.from_numpy(there),
               torch.tensor([letter for example in batch for letter in example.letters]),
               torch.tensor([len(example.frames) for example in batch]),
               torch.tensor([len(example.letters) for example in batch]))


def _hide(row: np.ndarray, chance: random.Random) -> None:
    """A few frames, or the spectrum of all, or what the recogniser makes of all, is set to nothing in some sentences."""
    share = chance.random()
    if share < _HIDDEN_SHARE:
        start = chance.randint(0, max(0, len(row) - _HIDDEN_MOST - 1))
        row[start:start + chance.randint(1, _HIDDEN_MOST)] = 0
    elif share < _HIDDEN_SHARE + _NO_SPECTRUM:
        row[:, -2 * BANDS:] = 0
    elif share < _HIDDEN_SHARE + _NO_SPECTRUM + _NO_FRAMES:
        row[:, :-2 * BANDS] = 0


def write(network: Network, out: Path) -> None:
    """The file that `letters.Letters` reads: every matrix as float16, turned so that frames stand on the left."""
    kept = {"in.scale": network.first.weight, "in.shift": network.first.bias, "in.w": network.inside.weight.T,
            "in.b": network.inside.bias, "out.scale": network.last.weight, "out.shift": network.last.bias,
            "out.w": network.outside.weight.T, "out.b": network.outside.bias}
    for layer, parts in enumerate(zip(network.along, network.even, network.wide, network.back)):
        along, even, wide, back = parts
        kept |= {f"{layer}.along.w": along.weight[:, 0].T, f"{layer}.along.b": along.bias, f"{layer}.scale": even.weight,
                 f"{layer}.shift": even.bias, f"{layer}.wide.w": wide.weight.T, f"{layer}.wide.b": wide.bias,
                 f"{layer}.back.w": back.weight.T, f"{layer}.back.b": back.bias}
    arrays = {name: part.detach().numpy().astype(np.float16) for name, part in kept.items()}
    np.savez_compressed(out, layers=np.array(LAYERS), **arrays)
