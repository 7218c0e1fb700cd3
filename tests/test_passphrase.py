"""The passphrase of the device's key: asked for at the start, right or refused, and the key the same behind it."""
from __future__ import annotations

import json
import os
import stat

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from companion.__main__ import main
from companion.core.log.journal import public_hex
from companion.edge import passphrase
from companion.edge.device import KEY_FILE, device_key, home, lock_key, public_key
from companion.errors import BadInput, BrokenMachine

WORDS = "four invented words here"
REAL = passphrase._N


@pytest.fixture(autouse=True)
def at_home(tmp_path, monkeypatch):
    """A device of its own for each test, at which nobody sits."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    monkeypatch.delenv(passphrase.VARIABLE, raising=False)
    monkeypatch.setattr(passphrase, "_N", 2**4)  # a guess costs a tenth of a second; one test pays it
    passphrase.read.cache_clear()
    return tmp_path


@pytest.fixture
def types(monkeypatch):
    """Somebody sits there and types these, one after another; what is left over."""
    def act(*words: str) -> list[str]:
        left = list(words)
        monkeypatch.setattr("sys.stdin", type("Terminal", (), {"isatty": lambda self: True})())
        monkeypatch.setattr("getpass.getpass", lambda prompt: left.pop(0))
        return left
    return act


def test_a_locked_key_is_the_same_key(at_home, types):
    """Locked, unlocked and locked again it signs as before; the file holds no plain key, and stays its owner's."""
    key = public_hex(device_key())
    with open(home() / KEY_FILE, "rb") as before:
        lock_key(WORDS)
        assert os.name == "nt" or not before.read().strip(b"\0"), "the plain key is gone from the disk too"
    data = (home() / KEY_FILE).read_bytes()
    assert b"BEGIN ENCRYPTED PRIVATE KEY" in data and public_key() == (key, True) and os.listdir(home()) == [KEY_FILE]
    if os.name != "nt":
        assert stat.S_IMODE((home() / KEY_FILE).stat().st_mode) == 0o600
    left = types(WORDS)
    assert public_hex(device_key()) == key and public_hex(device_key()) == key and not left, "asked for once"
    lock_key("")
    assert public_key() == (key, False) and b"BEGIN PRIVATE KEY" in (home() / KEY_FILE).read_bytes()


def test_a_wrong_passphrase_opens_nothing(types, monkeypatch, capsys):
    """Three tries, then one clear error; from the environment one try. The file is left alone."""
    device_key()
    lock_key(WORDS)
    data = (home() / KEY_FILE).read_bytes()
    left = types("wrong", "", WORDS[:-1], WORDS)
    with pytest.raises(BadInput, match="the passphrase: must be the one that this device's key was locked with"):
        device_key()
    assert left == [WORDS] and capsys.readouterr().err.count("must be the one") == 2
    monkeypatch.setenv(passphrase.VARIABLE, "wrong")
    with pytest.raises(BadInput, match="COMPANION_PASSPHRASE: must be the one"):
        device_key()
    assert (home() / KEY_FILE).read_bytes() == data
    monkeypatch.setenv(passphrase.VARIABLE, WORDS)
    assert public_hex(device_key()) == public_key()[0]


@pytest.mark.parametrize("leaves", [KeyboardInterrupt, EOFError])
def test_whoever_leaves_the_question_is_not_asked_again(types, monkeypatch, leaves):
    """Ctrl-C or the end of the input, at the first question."""
    device_key()
    lock_key(WORDS)
    types()
    asked = []

    def leave(prompt: str) -> str:
        asked.append(prompt)
        raise leaves
    monkeypatch.setattr("getpass.getpass", leave)
    with pytest.raises(BadInput, match="must be typed"):
        device_key()
    assert len(asked) == 1


def test_where_nobody_can_type_it_is_said_at_once(monkeypatch):
    """No terminal and no variable: an error, never a wait. Wanting to ask and getting no answer is the same."""
    device_key()
    lock_key(WORDS)
    monkeypatch.setattr("sys.stdin", None)
    with pytest.raises(BadInput, match="is locked and needs its passphrase. Set COMPANION_PASSPHRASE"):
        device_key()


def test_a_job_asks_before_it_begins(types, capsys):
    """The first thing that a job does with a locked key and a wrong passphrase is to say so; no log is begun."""
    device_key()
    lock_key(WORDS)
    types("a", "b", "c")
    assert main(["job", "learning", "--typed", "--voice", "none"]) == 2
    assert "must be the one that this device's key was locked with" in capsys.readouterr().err
    assert os.listdir(home()) == [KEY_FILE]


@pytest.mark.parametrize("change", [
    lambda data: data.replace(b"public key: ", b"public key: 00", 1)[:76] + data[76:],
    lambda data: b"public key: " + b"0" * 64 + data[76:],
    lambda data: data.replace(b"M", b"N", 1), lambda data: data[:-40], lambda data: data[:90]])
def test_a_changed_file_of_a_locked_key_is_refused(change, monkeypatch):
    """Its own error, whatever was changed, and never a new key in silence."""
    device_key()
    lock_key(WORDS)
    monkeypatch.setenv(passphrase.VARIABLE, WORDS)
    path = home() / KEY_FILE
    path.write_bytes(change(path.read_bytes()))
    with pytest.raises((BadInput, BrokenMachine)):
        device_key()


def test_another_key_behind_the_same_words_is_told_apart(monkeypatch):
    """The file says whose it is, and a key that is not that one's is refused, though the passphrase opens it."""
    one, other = Ed25519PrivateKey.generate(), Ed25519PrivateKey.generate()
    drawn = passphrase._drawn(WORDS, public_hex(one))
    pem = other.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8,
                              serialization.BestAvailableEncryption(drawn))
    (home() / KEY_FILE).write_bytes(f"public key: {public_hex(one)}\n".encode() + pem)
    monkeypatch.setenv(passphrase.VARIABLE, WORDS)
    with pytest.raises(BadInput, match="must be the one that this device's key was locked with"):
        device_key()


def test_the_command_shows_locks_and_unlocks(types, capsys):
    """`companion device`: the public key in words and as JSON, without a passphrase; lock and unlock by typing."""
    assert main(["device"]) == 0
    out, key = capsys.readouterr().out, public_key()[0]
    assert f"public key: {key}\n" in out and "not locked" in out
    types(WORDS, WORDS)
    assert main(["device", "lock"]) == 0 and "locked with a passphrase" in capsys.readouterr().out
    assert main(["device", "--json"]) == 0 and json.loads(capsys.readouterr().out) == {"key": key, "locked": True}
    types(WORDS)
    assert main(["device", "unlock"]) == 0 and public_key() == (key, False)


@pytest.mark.parametrize("typed, words", [
    (("short", "short"), "at least 8 characters, not 5"), ((WORDS, WORDS + "x"), "must be the same twice")])
def test_a_new_passphrase_is_typed_twice_and_long_enough(types, capsys, typed, words):
    """Exit 2, and the key stays as it was."""
    types(*typed)
    assert main(["device", "lock"]) == 2 and words in capsys.readouterr().err and not public_key()[1]
    assert main(["device", "unlock", "--json"]) == 2


def test_a_guess_costs_memory_and_time(monkeypatch):
    """What the file is locked with is drawn by scrypt with 32 MB (RFC 7914), worked out again with another library's."""
    key = Ed25519PrivateKey.generate()
    drawn = Scrypt(salt=key.public_key().public_bytes_raw(), length=32, n=2**15, r=8, p=1).derive(WORDS.encode())
    assert REAL == 2**15
    monkeypatch.setattr(passphrase, "_N", REAL)
    pem = passphrase.written(key, WORDS).partition(b"\n")[2]
    assert public_hex(serialization.load_pem_private_key(pem, drawn.hex().encode())) == public_hex(key)


def test_one_passphrase_written_two_ways_is_one(monkeypatch):
    """An accent typed as one character or as two (Unicode's NFC and NFD) opens the same key."""
    key = Ed25519PrivateKey.generate()
    monkeypatch.setenv(passphrase.VARIABLE, "caf\u0065\u0301 und mehr")
    assert public_hex(passphrase.read(passphrase.written(key, "caf\u00e9 und mehr"))) == public_hex(key)
