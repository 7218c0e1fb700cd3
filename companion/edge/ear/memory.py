"""Memory that the recogniser has used and no longer needs, given back to the system.

Each utterance has another length, so the C library's heap kept a hole for each: 470 MB after a hundred utterances of up to
15 s, 300 MB with this, at 4 ms an utterance (two-core machine, November 2026).
"""
from __future__ import annotations

import ctypes
from collections.abc import Callable


def _giver() -> Callable[[], object]:
    """glibc's `malloc_trim`; where the C library has no such thing it keeps what it likes."""
    try:
        trim = ctypes.CDLL(None).malloc_trim  # what this process has loaded already
    except (AttributeError, OSError, TypeError):  # another C library; Windows takes no None
        return lambda: None
    trim.argtypes, trim.restype = [ctypes.c_size_t], ctypes.c_int
    return lambda: trim(0)


give_back = _giver()
