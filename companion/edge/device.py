"""What belongs to this machine: its key, its clocks, and the name of its present start."""
from __future__ import annotations

import os
import secrets
import sys
import time
import uuid
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Iterator, Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import public_hex
from companion.core.log.rfc3339 import stamp
from companion.edge import passphrase
from companion.edge.durable import settle_folder
from companion.edge.erasing import keep_only
from companion.errors import BrokenMachine

KEY_FILE = "device.key"

_UP = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
"""Linux: counts suspend. Elsewhere the steady clock; on macOS and Windows that one counts sleep too."""


def home() -> Path:
    """Where the companion keeps what is the device's own: $COMPANION_HOME, else the platform's user data folder."""
    if os.environ.get("COMPANION_HOME"):
        return Path(os.environ["COMPANION_HOME"])
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "companion"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "companion"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "companion"


def device_key(folder: Optional[Path] = None) -> Ed25519PrivateKey:
    """The key that seals this device's logs, made on first use: `device.key`, PEM (PKCS 8), readable by its owner only.

    Two programs that both come first agree on one key. A locked one's passphrase is asked for, once a run; see
    `edge.passphrase`. Raises BrokenMachine where the file is no such key, BadInput where the passphrase is not its own.
    """
    path = (folder or home()) / KEY_FILE
    data = _there(path)
    try:
        return passphrase.read(data)
    except ValueError as error:
        raise _unusable(path, str(error)) from None


def public_key(folder: Optional[Path] = None) -> tuple[str, bool]:
    """The device's public key (hex), and whether its key is locked: then no passphrase is needed to tell. As above."""
    locked = passphrase.locked(_there((folder or home()) / KEY_FILE))
    return (locked, True) if locked else (public_hex(device_key(folder)), False)


def has_key(folder: Optional[Path] = None) -> bool:
    """Whether the device has a key already; asking makes none."""
    return ((folder or home()) / KEY_FILE).exists()


def lock_key(words: str, folder: Optional[Path] = None) -> None:
    """Keep the device's key locked with that passphrase from now on; plain for "". What the file held is overwritten: a plain
    key must not be found on the disk later. Raises as above."""
    path = (folder or home()) / KEY_FILE
    data = passphrase.written(device_key(folder), words)
    try:
        keep_only(path, data)
    except OSError as error:
        raise _no_place(path, error) from None


def _there(path: Path) -> bytes:
    """The key's file, made on first use."""
    try:
        if not path.exists():
            _make(path)
        if os.name != "nt" and path.stat().st_mode & 0o077:
            path.chmod(0o600)
        with open(path, "rb") as file:
            return file.read(10_000)
    except OSError as error:
        raise _no_place(path, error) from None


def _no_place(path: Path, error: OSError) -> BrokenMachine:
    return BrokenMachine(str(path), "must hold the device's key", error.strerror or str(error),
                         "Set COMPANION_HOME to a folder of your own")


def boot_id() -> str:
    """Which start of the machine `up_ms` counts from.

    Linux gives it a name. Elsewhere each run of the program counts as a start of its own, so that `up` is never
    compared where it cannot be.
    """
    return _boot_id()


@lru_cache(maxsize=None)
def _boot_id() -> str:
    try:
        found = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        found = ""
    return found or str(uuid.uuid4())


def up_ms() -> int:
    """Milliseconds since `boot_id`'s start, on a clock that never steps back and counts suspend where there is one."""
    return (time.monotonic_ns() if _UP is None else time.clock_gettime_ns(_UP)) // 1_000_000


def wall() -> str:
    """The time of day as the log writes it: RFC 3339, UTC, milliseconds. It may step; only people rely on it."""
    return stamp(time.time_ns() // 1_000_000)


def _make(path: Path) -> None:
    """Write a new key beside its place, durably, and then link it there, which fails where another was faster."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with suppress(FileExistsError), _drafted(path, passphrase.written(Ed25519PrivateKey.generate())) as draft:
        os.link(draft, path)
        settle_folder(path.parent)


@contextmanager
def _drafted(path: Path, data: bytes) -> Iterator[Path]:
    """A durable file beside `path`, readable by its owner only, and gone afterwards if it is still there."""
    draft = path.with_name(f"{KEY_FILE}.{secrets.token_hex(8)}")
    fd = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with open(fd, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def _unusable(path: Path, found: str) -> BrokenMachine:
    return BrokenMachine(str(path), "must be an Ed25519 key in PEM (PKCS 8)", found[:100],
                         "Restore it from a copy; or move it away, and a new one is made: logs begun with the old key "
                         "stay valid, but cannot be resumed")
