"""The closing seal: the same for the same log, another for any other, and read as people write it."""
from __future__ import annotations

import base64
import hashlib

import pytest
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from companion.core.log.closing import closing_seal, is_short, read_closing_seal
from companion.errors import BadInput

LAST = hashlib.sha256(b"the last line").hexdigest()


def test_scrypt_is_the_published_one():
    """RFC 7914, section 12 (from memory): both libraries give its second example."""
    want = ("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b3731622eaf30d92e22a3886ff109279d9830dac727afb94a83ee"
            "6d8360cbdfa2cc0640")
    given = {"salt": b"NaCl", "n": 1024, "r": 8, "p": 16}
    assert hashlib.scrypt(b"password", **given, dklen=64).hex() == want
    assert Scrypt(length=64, **given).derive(b"password").hex() == want


def test_the_seal_is_twenty_characters_drawn_by_scrypt():
    """Worked out again with another library's scrypt; the text is RFC 4648's base 32."""
    drawn = Scrypt(salt=b"job log, format 2: closing seal", length=13, n=2**15, r=8, p=1).derive(bytes.fromhex(LAST))
    plain = base64.b32encode(drawn)[:20].decode()
    assert closing_seal(LAST) == " ".join(plain[place:place + 4] for place in range(0, 20, 4))
    assert not is_short(closing_seal(LAST)) and closing_seal(LAST) != closing_seal(LAST[:-1] + "0")


def test_the_first_format_s_seal_stays_what_it_was():
    """RFC 4648 section 10: base 32 of "foobar" is MZXW6YTBOI; that seal is the first 12 characters of the hash's."""
    assert closing_seal(b"foobarfoobar".hex(), 1) == "MZXW 6YTB OJTG" and is_short("MZXW 6YTB OJTG")


@pytest.mark.parametrize("seal", ["ABCD EFGH IJ27", "ABCD EFGH IJKL MNOP QR27"])
@pytest.mark.parametrize("written", [str, str.lower, lambda seal: seal.replace(" ", ""), lambda seal: f" {seal}\n",
                                     lambda seal: seal.replace(" ", "-")])
def test_a_closing_seal_is_read_as_people_write_it(seal, written):
    """Case, spaces and hyphens do not matter; the old length and the new are read."""
    assert read_closing_seal(written(seal)) == seal


@pytest.mark.parametrize("typed", ["", "ABCD EFGH IJ2", "ABCD EFGH IJ278", "ABCD EFGH IJ10", "ABCD EFGH IJ2é",
                                   "１" * 12, "A" * 16, "A" * 19, "A" * 21])
def test_what_is_no_closing_seal_is_refused(typed):
    """A seal with a digit that base 32 never uses, or of another length, is wrong use, not bad evidence."""
    with pytest.raises(BadInput, match=r"must be 20 \(in an old log 12\) of the letters"):
        read_closing_seal(typed)
