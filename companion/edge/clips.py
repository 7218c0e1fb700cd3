"""Evidence clips: where the operator turns them on, the sound of each answer that changes the log lies beside it.

A clip is encoded on the thread that heard it, and written after the "heard" tone, while the answer is being rendered. It is
on the disk before the log names it, which takes as long as writing the log. Its folder is settled once the answer is out:
that costs as much again, and ext4, XFS and Btrfs (from memory) keep a new file's name with its bytes. Elsewhere a power cut
in that moment may lose the file, which then counts as missing, never as changed.
"""
from __future__ import annotations

import io
import os
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Optional, Sequence

import numpy as np
import soundfile

from companion.core.events import ClipKept, Event
from companion.core.job.inputs import Clip, Heard, Input
from companion.core.job.state import Job
from companion.core.log.journal import clip_name
from companion.edge.durable import settle_folder
from companion.edge.logfile import LogFile

RATE = 16_000


def as_flac(sound: np.ndarray) -> bytes:
    """Mono float32 at 16 kHz, −1 to 1, as a FLAC file of 16 bits."""
    file = io.BytesIO()
    soundfile.write(file, np.clip(sound, -1, 1), RATE, format="FLAC", subtype="PCM_16")
    return file.getvalue()


def clip_of(sound: Optional[np.ndarray]) -> Optional[Clip]:
    """One utterance, fit to be kept; None where it is not wanted."""
    return None if sound is None else Clip(as_flac(sound), round(1000 * len(sound) / RATE))


def named(what: Input, job: Optional[Job], log: LogFile) -> Input:
    """With the name that its clip gets, should it be kept."""
    if not isinstance(what, Heard) or what.clip is None:
        return what
    return replace(what, clip=replace(what.clip, file=clip_name(log.path.name, job.clips + 1)))


def kept(what: Input, made: Sequence[Event], log: LogFile) -> bool:
    """Put the clip on the disk that `made` tells of, if it tells of one; whether the disk took it."""
    if not isinstance(what, Heard) or not any(isinstance(event, ClipKept) for event in made):
        return True
    try:
        write_private(log.path.with_name(what.clip.file), what.clip.sound)
    except OSError:
        return False
    return True


def settle(made: Sequence[Event], log: LogFile) -> None:
    """After the answer: the name of a clip that `made` tells of is on the disk, on whatever file system."""
    if any(isinstance(event, ClipKept) for event in made):
        with suppress(OSError):
            settle_folder(log.path.parent)


def without(what: Heard) -> Heard:
    """The same, whose clip could not be kept."""
    return replace(what, clip=replace(what.clip, file=""))


def write_private(path: Path, data: bytes) -> None:
    """A file for its owner alone, whose bytes are on the disk when this returns; one that a power cut left there goes."""
    path.unlink(missing_ok=True)
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
