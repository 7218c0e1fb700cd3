"""What belongs to this machine: its key, its clocks, and the name of its present start."""
from __future__ import annotations

import os
import secrets
import sys
import time
import uuid
from functools import lru_cache
from pathlib import Path
from typing import Optional

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.rfc3339 import stamp
from companion.edge.durable import settle_folder
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

    Two programs that both come first agree on one key. Raises BrokenMachine where the file is no such key.
    """
    path = (folder or home()) / KEY_FILE
    try:
        if not path.exists():
            _make(path)
        if os.name != "nt" and path.stat().st_mode & 0o077:
            path.chmod(0o600)
        return _read(path)
    except OSError as error:
        raise BrokenMachine(str(path), "must hold the device's key", error.strerror or str(error),
                            "Set COMPANION_HOME to a folder of your own") from None


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
    pem = Ed25519PrivateKey.generate().private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    draft = path.with_name(f"{KEY_FILE}.{secrets.token_hex(8)}")
    fd = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with open(fd, "wb") as file:
            file.write(pem)
            file.flush()
            os.fsync(file.fileno())
        os.link(draft, path)
        settle_folder(path.parent)
    except FileExistsError:
        pass
    finally:
        os.unlink(draft)


def _read(path: Path) -> Ed25519PrivateKey:
    try:
        key = serialization.load_pem_private_key(path.read_bytes()[:10_000], password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise _unusable(path, str(error)) from None
    if not isinstance(key, Ed25519PrivateKey):
        raise _unusable(path, "another kind of key")
    return key


def _unusable(path: Path, found: str) -> BrokenMachine:
    return BrokenMachine(str(path), "must be an Ed25519 key in PEM (PKCS 8)", found[:100],
                         "Restore it from a copy; or move it away, and a new one is made: logs begun with the old key "
                         "stay valid, but cannot be resumed")
