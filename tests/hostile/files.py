"""Hostile files: sound, keys, and names of files."""
from __future__ import annotations

import atexit
import io
import os
import shutil
import struct
import tempfile
import wave
from functools import lru_cache
from itertools import islice
from pathlib import Path
from random import Random

import numpy as np
import soundfile
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa, x25519

from hostile import Target
from hostile.bounds import within
from hostile.changing import bytewise, word
from hostile.logs import small_jobs, split
from hostile.texts import SMALL, command
from logmaker import KEY

from companion.core.log.journal import is_memo_name
from companion.edge.device import device_key
from companion.edge.passphrase import written
from companion.edge.sound import FileSource
from companion.errors import CompanionError

MOST_CHUNKS = 400
"""Of a sound file that are read here: 13 s."""


@lru_cache(maxsize=None)
def folder() -> Path:
    """A folder for what must lie on a disk; in memory where there is one."""
    made = Path(tempfile.mkdtemp(prefix="hostile-", dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return made


def feed_sound(data: bytes) -> None:
    """A sound file, as `job --sound-in` and `hear` read it: the samples must be sound."""
    path = folder() / "a.wav"
    path.write_bytes(data)
    try:
        source = FileSource(path)
        assert source.seconds >= 0
        for chunk in islice(source.chunks(), MOST_CHUNKS):
            assert chunk.dtype == np.float32 and chunk.shape == (512,) and np.isfinite(chunk).all(), "samples must be sound"
        source.close()
    except CompanionError:
        pass


def feed_key(data: bytes) -> None:
    """A device's key file."""
    path = folder() / "device.key"
    path.write_bytes(data)
    try:
        device_key(folder()).sign(b"")
    except CompanionError as error:
        assert len(str(error)) < 1000


def feed_name(data: bytes) -> None:
    """A name: of a log, a card, a memo; the first byte chooses the command that meets it. A folder is the user's to name."""
    name = data[1:300].decode("utf-8", "surrogateescape").replace("/", "\N{DIVISION SLASH}")
    if is_memo_name(name):
        assert os.path.basename(name) == name and name not in (".", "..")
    place = folder() / "names"
    place.mkdir(exist_ok=True)
    made = _made(place, name, SMALL.encode() if data[:1] > b"\x80" else split(small_jobs()[0])[0])
    given = str(made or place / name)
    os.environ["COMPANION_HOME"] = str(folder() / "home")
    what = COMMANDS[(data[0] if data else 0) % len(COMMANDS)]
    with within(folder()):
        command([part.replace("NAME", given).replace("FOLDER", str(place)) for part in what])
    for path in place.iterdir():
        if path.is_file():
            path.unlink()


_TYPED = ["--typed", "--clock", "simulated", "--voice", "none"]
COMMANDS = (
    ["check", "NAME"], ["verify", "NAME"], ["record", "NAME", "--text"], ["record", "NAME"],
    ["record", "NAME", "--sheet", "customer"],
    ["check", "--json", "NAME"], ["verify", "--json", "NAME"], ["cards", "NAME", "list"], ["forget", "NAME"],
    ["cards", "FOLDER", "approve", "NAME", "--by", "A", "--reason", "b"], ["job", "NAME", *_TYPED, "--log", "FOLDER/b.jsonl"],
    ["job", "learning", *_TYPED, "--log", "NAME"], ["job", "learning", *_TYPED, "--log", "FOLDER/c.jsonl", "--tools", "NAME"])


def _made(place: Path, name: str, data: bytes) -> Path | None:
    """A file of that name in the folder, where the system has such a name."""
    if name in ("", ".", ".."):
        return None
    try:
        (place / name).write_bytes(data)
    except (OSError, ValueError):
        return None
    return place / name


# -- seeds and changes -------------------------------------------------------------------------------------------------

_HEADER = ((4, "<I"), (16, "<I"), (20, "<H"), (22, "<H"), (24, "<I"), (28, "<I"), (32, "<H"), (34, "<H"), (40, "<I"))
"""Where the sizes, counts and rates of a WAV file stand."""
_KINDS = (("WAV", "PCM_16", 16_000, 1), ("WAV", "PCM_U8", 8_000, 2), ("WAV", "PCM_24", 48_000, 1), ("WAV", "FLOAT", 44_100, 2),
          ("WAV", "DOUBLE", 16_000, 1), ("WAV", "ULAW", 8_000, 1), ("WAV", "IMA_ADPCM", 16_000, 1),
          ("WAVEX", "PCM_16", 16_000, 6),
          ("FLAC", "PCM_16", 16_000, 1), ("FLAC", "PCM_24", 48_000, 2), ("RF64", "PCM_16", 16_000, 1),
          ("W64", "PCM_16", 16_000, 1), ("AIFF", "PCM_16", 16_000, 1), ("AU", "PCM_16", 16_000, 1),
          ("OGG", "VORBIS", 16_000, 1), ("CAF", "PCM_16", 16_000, 1))


def soundwise(data: bytes, chance: Random) -> bytes:
    """A size, a count or a rate in the header is another; or bytes are."""
    made = bytearray(data)
    if len(made) > 44 and chance.random() < 0.7:
        at, form = chance.choice(_HEADER)
        largest = 2 ** (8 * struct.calcsize(form)) - 1
        value = chance.choice((0, 1, 2, 3, 7, 8, 16, 24, 32, 64, 255, 4000, 384_000, 2**31, largest, largest - 8,
                               chance.randint(0, largest)))
        struct.pack_into(form, made, at, min(value, largest))
        return bytes(made)
    return bytewise(data, chance)


@lru_cache(maxsize=None)
def sounds() -> tuple[bytes, ...]:
    """A tenth of a second in every kind of WAV and FLAC that there is."""
    tone = (0.3 * np.sin(np.arange(1600) / 5)).astype(np.float32)
    made = []
    for form, kind, rate, channels in _KINDS:
        out = io.BytesIO()
        soundfile.write(out, np.repeat(tone[:, None], channels, 1), rate, format=form, subtype=kind)
        made.append(out.getvalue())
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(4)
        file.setframerate(16_000)
        file.writeframes(b"\xff\xff\xff\x7f" * 200)
    nan = np.full(400, np.nan, np.float32).tobytes()
    made += [out.getvalue(), out.getvalue()[:44], b"RIFF", made[3][:-len(nan)] + nan]
    return tuple(made)


@lru_cache(maxsize=None)
def keys() -> tuple[bytes, ...]:
    """Keys of several kinds and forms."""
    pem, pkcs8, plain = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    secret = serialization.BestAvailableEncryption(b"secret")
    kinds = (KEY, ec.generate_private_key(ec.SECP256R1()), x25519.X25519PrivateKey.generate(),
             rsa.generate_private_key(65537, 2048))
    made = [key.private_bytes(pem, pkcs8, plain) for key in kinds] + [KEY.private_bytes(pem, pkcs8, secret)]
    made += [KEY.private_bytes(pem, serialization.PrivateFormat.OpenSSH, plain)]
    made += [KEY.private_bytes(serialization.Encoding.DER, pkcs8, plain), written(KEY, "a long secret")]
    made += [KEY.public_key().public_bytes(pem, serialization.PublicFormat.SubjectPublicKeyInfo), b""]
    return tuple(made)


def namewise(data: bytes, chance: Random) -> bytes:
    """Another command, or another name."""
    name = data[1:].decode("utf-8", "surrogateescape")
    name = chance.choice((word(chance), name + word(chance), word(chance) + name, name[:-1], "../" + name,
                          name.replace("a", "\x1b[31m")))
    return bytes([chance.randint(0, 255)]) + name[:300].encode("utf-8", "replace")


def names() -> list[bytes]:
    """A name for each command, as a log and as a card."""
    return [bytes([place + high]) + name for place in range(len(COMMANDS)) for high in (0, 132)
            for name in (b"a.jsonl", b"a.memo-1.flac", b"card.yaml")]


TARGETS = (Target("sound", sounds, soundwise, feed_sound), Target("key", keys, bytewise, feed_key),
           Target("name", names, namewise, feed_name))
