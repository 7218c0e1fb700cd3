"""The closing seal: what stands on the customer's sheet, and shows later that a finished log is still the one it was.

Twenty characters of base 32 (RFC 4648) in five groups, 100 bits, drawn by scrypt (RFC 7914) from the SHA-256 of the
log's last line. Whoever has the device's key may write as many logs as they like, and need only find two with one seal:
with nothing but a hash that is half the bits, so the first format's twelve characters took a minute's work. Now it
takes 2^50 turns of scrypt, each a tenth of a second and 32 MB; design notes in DEVELOPERS.md.
"""
from __future__ import annotations

import base64
import hashlib
import re
from functools import lru_cache

from companion.core.log.journal import FORMAT
from companion.errors import BadInput

LENGTH, SHORT = 20, 12
"""Characters; of the first format's."""
_SALT = b"job log, format 2: closing seal"
_N, _R = 2**15, 8
"""Turns, and blocks: 32 MB."""


@lru_cache(maxsize=256)
def closing_seal(last: str, form: int = FORMAT) -> str:
    """"ABCD EFGH IJKL MNOP QRST" for a finished log of format `form`; `last` is the SHA-256 (hex) of its last line.

    A tenth of a second: only where it is shown or compared."""
    drawn = bytes.fromhex(last)
    if form == 1:
        return _grouped(base64.b32encode(drawn)[:SHORT].decode("ascii"))
    drawn = hashlib.scrypt(drawn, salt=_SALT, n=_N, r=_R, p=1, maxmem=2 * 128 * _N * _R, dklen=13)
    return _grouped(base64.b32encode(drawn)[:LENGTH].decode("ascii"))


def read_closing_seal(text: str) -> str:
    """A closing seal as someone typed it, in its usual form. Raises BadInput."""
    plain = re.sub(r"[\s-]+", "", text).upper()
    if not re.fullmatch(f"[A-Z2-7]{{{SHORT}}}|[A-Z2-7]{{{LENGTH}}}", plain):
        raise BadInput("closing seal", f"must be {LENGTH} (in an old log {SHORT}) of the letters A to Z and the digits 2 to 7",
                       ascii(text[:40]), "0 and 1 are never used: read them as the letters O and I")
    return _grouped(plain)


def is_short(seal: str) -> bool:
    """Whether it is one of the first format, which the key's holder can make two logs for."""
    return len(seal.replace(" ", "")) == SHORT


def _grouped(plain: str) -> str:
    return " ".join(plain[place:place + 4] for place in range(0, len(plain), 4))
