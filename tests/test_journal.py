"""The byte form of a log, against the published vectors."""
from __future__ import annotations

import json
import struct

import pytest
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import given, strategies as st

from companion.core.log import journal
from companion.core.log.journal import (
    LONGEST, beside_name, canonical, digest, dump, parse, public_hex, seal_holds, sign, vouched)
from companion.errors import BadInput

RFC_8785_SAMPLE = (  # section 3.2.3
    "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e"
    "756d62657273223a5b3333333333333333332e333333333333332c"
    "31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a"
    "22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d")

NUMBERS = [  # RFC 8785, appendix B
    ("44b52d02c7e14af6", "1e+23"), ("444b1ae4d6e2ef50", "1e+21"), ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"), ("41b3de4355555555", "333333333.3333333"),
    ("0000000000000001", "5e-324"), ("8000000000000000", "0")]

SHA_256 = [  # FIPS 180-4, the examples published with it
    (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"),
    (b"a" * 10**6, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0")]

ED25519 = [  # RFC 8032, section 7.1, tests 1 and 2
    ("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
     "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe246551"
     "41438e7a100b"),
    ("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
     "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d"
     "291612bb0c00")]

LINE = {"n": 1, "at": "2026-01-31T08:15:00.250Z", "up": 5, "event": "sealed", "step": "", "data": {}, "prev": "0" * 64}


def test_the_canonical_form_is_that_of_the_rfc():
    """The library that the log's form is held against gives the sample of RFC 8785 §3.2.3 byte for byte."""
    sample = json.loads(r'{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
                        r'"string":"\u20ac$\u000F\u000aA\u0027\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}')
    assert rfc8785.dumps(sample).hex() == RFC_8785_SAMPLE


def test_keys_are_sorted_by_utf_16():
    """Keys stand in the order RFC 8785 §3.2.3 prints."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\x80", "\u00f6"]
    assert list(json.loads(rfc8785.dumps(dict.fromkeys(keys)))) == [
        "\r", "1", "\x80", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@pytest.mark.parametrize("bits, text", NUMBERS)
def test_numbers_are_written_as_the_rfc_says(bits, text):
    """RFC 8785, appendix B."""
    assert rfc8785.dumps(struct.unpack(">d", bytes.fromhex(bits))[0]).decode() == text


@pytest.mark.parametrize("text, hash_", SHA_256)
def test_a_line_is_hashed_without_its_newline(text, hash_):
    """The hash that chains lines is SHA-256 of the line alone."""
    assert digest(text + b"\n") == hash_


@pytest.mark.parametrize("secret, public, message, signature", ED25519)
def test_keys_and_signatures_are_those_of_the_rfc(secret, public, message, signature):
    """RFC 8032 §7.1: the same secret gives the same public key and signature here."""
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert public_hex(key) == public and key.sign(bytes.fromhex(message)).hex() == signature


held = st.one_of(st.text(), st.booleans(), st.integers(-2**53 + 1, 2**53 - 1), st.lists(st.text()))
names = st.text(st.characters(max_codepoint=127), max_size=8)


@given(st.dictionaries(names, held | st.dictionaries(names, held, max_size=3), max_size=6))
def test_a_log_s_form_is_that_of_the_rfc(line):
    """All that a log may hold is written in the very bytes that RFC 8785 gives, and reads back the same."""
    assert canonical(line) == rfc8785.dumps(line)
    assert parse(dump({**line, "event": "x"})) == {**line, "event": "x"}


def read_plainly(line: bytes):
    """What is on a line, by the standard library's reader and the RFC's own writer; None where the form is another."""
    def no_float(text):
        raise ValueError(text)
    try:
        found = json.loads(line.decode("utf-8"), parse_float=no_float, parse_constant=no_float)
        return found if type(found) is dict and rfc8785.dumps(found) + b"\n" == line else None
    except (ValueError, RecursionError, rfc8785.CanonicalizationError):
        return None


@given(st.dictionaries(names, held.filter(lambda value: type(value) is not int or abs(value) < 2**40), max_size=3), st.data())
def test_a_line_is_read_only_in_the_rfc_s_form_whichever_byte_is_changed(line, data):
    """One byte changed, put in or left out: our reader takes the line just where two others do, and reads the same."""
    written = bytearray(dump({**line, "event": "x"}))
    place, byte = data.draw(st.integers(0, len(written) - 1)), data.draw(st.one_of(
        st.sampled_from(b'0123456789.eE-+",:\\{}[]tfn \n'), st.integers(0, 255)))
    written[place:place + data.draw(st.integers(0, 1))] = [byte] * data.draw(st.integers(0, 1))
    changed = bytes(written.rstrip(b"\n")) + b"\n"
    try:
        found = parse(changed)
    except ValueError:
        found = None
    assert found == read_plainly(changed)


NOT_CANONICAL = [
    b"", b"\n", b"{}", b" {}\n", b"{} \n", b'{"a":1, "b":2}\n', b'{"b":1,"a":2}\n', b'{"a":1,"a":1}\n', b'{"a":1.0}\n',
    b'{"a":1e0}\n', b'{"a":-0}\n', b'{"a":01}\n', b'{"a":NaN}\n', b'{"a":Infinity}\n', b'{"a":1.5}\n',
    b'{"a":1' + b"0" * 5000 + b'}\n', b'{"a":"\\u0041"}\n', b'{"a":"\\/"}\n', b'{"a":"\\u000A"}\n',
    b'{"a":"\\u001F"}\n', b'{"a":"\\ud800"}\n', b'{"a":"\xff"}\n', b'{"a":"\xed\xa0\x80"}\n', b'{"a":"\xc1\x81"}\n',
    b'\xef\xbb\xbf{}\n', b"[]\n", b"1\n", b'"a"\n', b"null\n", b"{}\r\n", b"{}\x00\n",
    b"[" * 100_000 + b"\n", b'{"a":' * 100_000 + b"\n", b"{}{}\n",
    '{"a":1}\n'.encode("utf-16")]


@pytest.mark.parametrize("line", NOT_CANONICAL, ids=range(len(NOT_CANONICAL)))
def test_no_other_spelling_of_a_line_is_read(line):
    """White space, key order, escapes, repeated keys, other numbers, broken UTF-8, deep nesting: each is refused."""
    with pytest.raises(ValueError, match="^must "):
        parse(line)


def test_a_seal_holds_only_as_it_was_signed():
    """No other line, key or signature will do, and no shape of line makes the check itself fail."""
    secret, public, _, other = ED25519[0]
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    signature = sign(LINE, key)
    line = {**LINE, "data": {"sig": signature}}
    assert seal_holds(line, public)
    assert not seal_holds({**line, "up": 6}, public) and not seal_holds(line, ED25519[1][1])
    for sig in (other, signature[:-2], "", "zz" * 64, None, 5):
        assert not seal_holds({**LINE, "data": {"sig": sig}}, public)
    assert not seal_holds(LINE, public) and not seal_holds(line, "00" * 32) and not seal_holds(line, "x")


@pytest.mark.parametrize("data", [{"text": "\ud800"}, {"items": ["a", "\udc80"]}])
def test_text_that_is_no_text_is_refused(data):
    """Half a surrogate pair, as a broken terminal may send it, is refused in words before anything is written."""
    with pytest.raises(BadInput, match="must be text that UTF-8 can hold"):
        dump({**LINE, "data": data})


def test_a_line_too_long_to_read_back_is_not_written():
    """What would not be read again is refused before it is written."""
    with pytest.raises(BadInput, match="must fit"):
        dump({**LINE, "data": {"text": "a" * LONGEST}})


@pytest.mark.parametrize("log, beside", [
    ("van.jsonl", "van.personal"), ("a.jsonl.jsonl", "a.jsonl.personal"), ("van", "van.personal")])
def test_the_sidecar_is_named_after_its_log(log, beside):
    """NAME.jsonl has NAME.personal, as the format says."""
    assert beside_name(log) == beside


_P = 2**255 - 19
_D = -121665 * pow(121666, -1, _P) % _P


def _sum(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    """RFC 8032, section 5.1.4: the sum of two points of the curve."""
    (x, y), (u, v) = one, other
    k = _D * x * u * y * v % _P
    return (x * v + u * y) * pow(1 + k, -1, _P) % _P, (y * v + x * u) * pow(1 - k, -1, _P) % _P


def _x(y: int) -> int:
    """RFC 8032, section 5.1.3: an x to that y."""
    square = (y * y - 1) * pow(_D * y * y + 1, -1, _P) % _P
    x = pow(square, (_P + 3) // 8, _P)
    x = x if (x * x - square) % _P == 0 else x * pow(2, (_P - 1) // 4, _P) % _P
    assert (x * x - square) % _P == 0
    return x


def test_no_key_of_small_order_vouches_for_anything():
    """With such a key one signature fits many messages: for the neutral point, any. They are worked out again, eight times
    each is the neutral point, and each is refused in every spelling of 32 bytes; a signature that fits is no help."""
    for y in journal._WEAK:
        point = (_x(y), y)
        for _ in range(3):
            point = _sum(point, point)
        assert point == (0, 1)
        for number in (number | sign for number in (y, y + _P) if number < 2**255 for sign in (0, 1 << 255)):
            key = number.to_bytes(32, "little").hex()
            assert not vouched({"a": 1}, "01" + "00" * 63, key)
            with pytest.raises(ValueError):
                journal.public_key(key)
    Ed25519PublicKey.from_public_bytes(bytes([1]) + bytes(31)).verify(bytes([1]) + bytes(63), b"anything at all")
    assert len(journal._WEAK) == 5
