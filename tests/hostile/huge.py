"""Files that are hostile by their size: each maker writes one at a path."""
from __future__ import annotations

import hashlib
import struct
from dataclasses import replace
from pathlib import Path
from typing import Callable

import numpy as np
import soundfile

from hostile.logs import HEX, log_of, split
from hostile.texts import SMALL
from simulator import Simulator

from companion.core.events import Hearing, NotUnderstood
from companion.core.job.inputs import MemoTaken
from companion.core.log.chain import Chain
from companion.core.log.codec import personal_hash
from companion.core.log.rfc3339 import stamp

Maker = Callable[[Path], None]
LAUGHS = "a: &a [lol, lol, lol, lol, lol, lol, lol, lol, lol]\n" + "".join(
    f"{one}: &{one} [{', '.join(['*' + before] * 9)}]\n" for before, one in zip("abcdefgh", "bcdefghi"))
"""A few lines that would be a billion words, were anchors followed."""
FULL = 1000
"""Megabytes of what is largest."""


def zeros(megabytes: int) -> Maker:
    """A file of nothing, which takes no room on the disk."""
    def make(path: Path) -> None:
        with open(path, "wb") as file:
            file.truncate(megabytes * 2**20)
    return make


def text(words: str) -> Maker:
    """A text."""
    def make(path: Path) -> None:
        path.write_text(words, "utf-8")
    return make


def steps(count: int) -> Maker:
    """A card of so many steps."""
    def make(path: Path) -> None:
        path.write_text(SMALL + "".join(f"  - {{id: s{n}, say: Turn it., answer: done}}\n" for n in range(count)), "utf-8")
    return make


def long_log(megabytes: int) -> Maker:
    """A well chained, unsealed job log: somebody mumbles for ever."""
    def make(path: Path) -> None:
        job, chain = Simulator(SMALL), Chain()
        mumbled = NotUnderstood(step="look", failures=1, heard=Hearing("what was that " * 10))
        with open(path, "wb") as file:
            for place, (event, now) in enumerate(zip(job.events, job.stamps)):
                event = event if place else replace(event, key=HEX, format=1)
                file.write(chain.add(event, stamp(now.at_ms), now.up_ms, lambda: bytes(16))[0])
            while chain.size < megabytes * 2**20:
                file.write(chain.add(mumbled, stamp(now.at_ms), now.up_ms, lambda: bytes(16))[0])
    return make


def long_sidecar(megabytes: int) -> Maker:
    """A short log with a very long sidecar, every line of which holds."""
    def make(path: Path) -> None:
        long_log(0)(path)
        words = "x" * 830
        with open(path.with_suffix(".personal"), "wb") as file:
            for n in range(megabytes * 2**20 // 1_000 + 1):
                salt = n.to_bytes(16, "big")
                file.write(f'{{"salt":"{salt.hex()}","sha256":"{personal_hash(salt, words)}","text":"{words}"}}\n'.encode())
    return make


def heavy_memo(megabytes: int) -> Maker:
    """A log that names a memo of that size, with its right hash."""
    def make(path: Path) -> None:
        memo, found = path.with_name(f"{path.stem}.memo-1.wav"), hashlib.sha256()
        zeros(megabytes)(memo)
        for _ in range(megabytes):
            found.update(bytes(2**20))
        job = Simulator(SMALL, ear="test ear").say("memo")
        job.take(MemoTaken(1, memo.name, found.hexdigest(), 900, "a note"))
        path.write_bytes(split(log_of(job))[0])
    return make


def quiet_flac(hours: int) -> Maker:
    """Hours of silence in some kilobytes."""
    def make(path: Path) -> None:
        with soundfile.SoundFile(path, "w", 8_000, 1, format="FLAC", subtype="PCM_16") as file:
            for _ in range(hours * 60):
                file.write(np.zeros(8_000 * 60, np.int16))
    return make


def many_channels(path: Path) -> None:
    """A WAV file that says it has 1,024 channels at 384 kHz; two hundred megabytes of nothing."""
    size, rate = 200 * 2**20, 384_000
    form = struct.pack("<IHHIIHH", 16, 1, 1024, rate, rate * 2048 % 2**32, 2048, 16)
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", size + 36) + b"WAVEfmt " + form + b"data" + struct.pack("<I", size))
        file.truncate(size + 44)
