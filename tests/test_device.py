"""The device's key and clocks."""
from __future__ import annotations

import os
import stat
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.journal import public_hex
from companion.core.log.rfc3339 import milliseconds
from companion.edge.device import boot_id, device_key, home, up_ms, wall
from companion.errors import BrokenMachine

PEM, PKCS8, PLAIN = (serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())


def test_the_key_is_made_once_and_kept(tmp_path):
    """First use makes it, in a folder made for it; every later use finds the same; nobody else can read it."""
    folder = tmp_path / "new" / "companion"
    first = public_hex(device_key(folder))
    assert public_hex(device_key(folder)) == first and os.listdir(folder) == ["device.key"]
    if os.name != "nt":
        assert stat.S_IMODE((folder / "device.key").stat().st_mode) == 0o600
        (folder / "device.key").chmod(0o644)
        device_key(folder)
        assert stat.S_IMODE((folder / "device.key").stat().st_mode) == 0o600


def test_two_devices_have_two_keys(tmp_path):
    """No key is built in."""
    assert public_hex(device_key(tmp_path / "a")) != public_hex(device_key(tmp_path / "b"))


def test_programs_that_come_first_together_agree(tmp_path):
    """Sixteen first uses at once end with one key and no leftover."""
    for turn in range(5):
        folder = tmp_path / str(turn)
        with ThreadPoolExecutor(16) as pool:
            keys = set(pool.map(lambda _: public_hex(device_key(folder)), range(16)))
        assert len(keys) == 1 and os.listdir(folder) == ["device.key"]


BAD_KEYS = [
    b"", b"junk", b"\x00" * 100_000, Ed25519PrivateKey.generate().private_bytes_raw(),
    ec.generate_private_key(ec.SECP256R1()).private_bytes(PEM, PKCS8, PLAIN),
    Ed25519PrivateKey.generate().private_bytes(PEM, PKCS8, serialization.BestAvailableEncryption(b"secret")),
    Ed25519PrivateKey.generate().private_bytes(PEM, PKCS8, PLAIN)[:-40],
]


@pytest.mark.parametrize("content", BAD_KEYS, ids=["empty", "junk", "zeros", "raw", "other kind", "encrypted", "cut"])
def test_a_bad_key_file_is_named_and_left_alone(tmp_path, content):
    """The error says what to do; the file is never replaced by a new key in silence."""
    (tmp_path / "device.key").write_bytes(content)
    with pytest.raises(BrokenMachine, match="must be an Ed25519 key in PEM .PKCS 8., not .+Restore it from a copy"):
        device_key(tmp_path)
    assert (tmp_path / "device.key").read_bytes() == content


def test_no_place_for_a_key_is_said(tmp_path):
    """A file where the folder should be, or a folder where the file should be: one clear error."""
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "folder" / "device.key").mkdir(parents=True)
    for folder in ("file", "folder"):
        with pytest.raises(BrokenMachine, match="Set COMPANION_HOME"):
            device_key(tmp_path / folder)


@pytest.mark.skipif(sys.platform != "linux", reason="the folders are Linux's")
def test_where_the_device_keeps_its_own(tmp_path, monkeypatch):
    """$COMPANION_HOME first, then the user data folder of the XDG base directory specification."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    assert home() == tmp_path
    monkeypatch.delenv("COMPANION_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert home() == tmp_path / "data" / "companion"
    monkeypatch.delenv("XDG_DATA_HOME")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert home() == tmp_path / ".local" / "share" / "companion"


def test_the_start_of_the_machine_has_one_name():
    """The same name all the time; on Linux the one the kernel gives."""
    assert boot_id() == boot_id() and len(boot_id()) == 36
    if sys.platform == "linux":
        assert boot_id() == Path("/proc/sys/kernel/random/boot_id").read_text().strip()


@pytest.mark.skipif(sys.platform != "linux", reason="compared with /proc/uptime, which counts suspend")
def test_up_is_the_time_since_the_start():
    """`up` is what the kernel says of the time since the start, suspend counted, to a second."""
    assert abs(up_ms() - float(Path("/proc/uptime").read_text().split()[0]) * 1000) < 1000


def test_up_never_steps_back():
    """Ten thousand readings in a row."""
    readings = [up_ms() for _ in range(10_000)]
    assert readings == sorted(readings)


def test_the_wall_clock_is_written_as_the_log_has_it():
    """UTC in milliseconds, at this moment."""
    before = time.time_ns() // 1_000_000
    assert before <= milliseconds(wall()) <= time.time_ns() // 1_000_000
