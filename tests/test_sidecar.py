"""The sidecar: what is personal, beside the log."""
from __future__ import annotations

import json

import pytest

from companion.core.log.codec import encode
from companion.core.events import Personal, TakenOver
from companion.core.log.sidecar import MOST_BAD, dump_sidecar, read_sidecar

ENTRY = encode(TakenOver(mechanic=Personal("Ann of the second bay")), lambda: bytes(range(16)))[1][0]
LINE = dump_sidecar([ENTRY])


def test_a_sidecar_is_read_as_it_was_written():
    """Hash to text, for each line; an unfinished last line is kept apart."""
    found = read_sidecar([LINE, b'{"salt":'])
    assert found.texts == {ENTRY["sha256"]: "Ann of the second bay"} and not found.bad and found.torn == b'{"salt":'
    assert LINE == json.dumps(ENTRY, sort_keys=True, separators=(",", ":")).encode() + b"\n"


def test_every_flipped_bit_of_a_sidecar_is_found():
    """No bit of a sidecar's line is free."""
    for place in range(len(LINE)):
        for bit in range(8):
            text = bytearray(LINE)
            text[place] ^= 1 << bit
            found = read_sidecar(bytes(text).splitlines(keepends=True))
            assert (found.bad or found.torn) and not found.texts


@pytest.mark.parametrize("changes, words", [
    ({"salt": ""}, "salt must be 16 to 64 bytes"), ({"salt": "AB" * 16}, "salt must be"),
    ({"salt": 5}, "must hold salt"), ({"more": "x"}, "must hold salt"), ({"text": "Bob"}, "must be the hash"),
    ({"sha256": "ab" * 32}, "must be the hash")])
def test_a_bad_line_leaves_the_others(changes, words):
    """A line that does not hold is named, and the others are read."""
    found = read_sidecar([dump_sidecar([{**ENTRY, **changes}]), LINE])
    assert found.bad[0][0] == 1 and words in found.bad[0][1] and list(found.texts.values()) == ["Ann of the second bay"]


def test_a_sidecar_of_nothing_but_bad_lines_fills_no_memory() -> None:
    """Whatever lies beside a log, only its first bad lines are told."""
    found = read_sidecar(b"nonsense\n" for _ in range(10_000))
    assert [line for line, _ in found.bad] == list(range(1, MOST_BAD + 1)) and not found.texts
