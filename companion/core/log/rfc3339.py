"""Times as text, after RFC 3339. Written for the log: UTC, milliseconds, `Z`. Read: anything the RFC allows.

`datetime.fromisoformat` is not used: it refuses a leap second (":60"), takes week dates and text without separators,
and differs between versions of Python.
"""
from __future__ import annotations

import re
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache

from companion.errors import BadInput

_FORM = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.(\d+))?(?:Z|([+-])(\d\d):(\d\d))",
                   re.ASCII | re.IGNORECASE)
_STAMP = re.compile(r"\d{4}-\d\d-\d\dT(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{3}Z", re.ASCII)
_EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
_MILLISECOND = timedelta(milliseconds=1)


def milliseconds(text: str) -> int:
    """Milliseconds from 1970-01-01T00:00:00Z to `text`; digits beyond the third are cut.

    A leap second counts as the second after it, as in POSIX. Raises BadInput where `text` is not an RFC 3339 time.
    """
    match = _FORM.fullmatch(text)
    if not match:
        raise _refused(text)
    year, month, day, hour, minute, second = (int(part) for part in match.group(1, 2, 3, 4, 5, 6))
    try:
        whole = datetime(year, month, day, hour, minute, min(second, 59), tzinfo=timezone.utc) - _offset(match)
        whole += timedelta(seconds=1) * (second > 59)
    except (ValueError, OverflowError):
        raise _refused(text) from None
    if second > 60 or second == 60 and not _begins_a_month(whole):
        raise _refused(text)
    return (whole - _EPOCH) // _MILLISECOND + int(((match[7] or "") + "000")[:3])


def stamp(ms: int) -> str:
    """`ms` milliseconds after 1970-01-01T00:00:00Z as the log writes it: "2026-01-31T08:15:00.250Z"."""
    return (_EPOCH + ms * _MILLISECOND).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def is_stamp(text: str) -> bool:
    """Whether `text` is a time in the log's own form: 24 characters, UTC, milliseconds, capital T and Z."""
    if _STAMP.fullmatch(text):
        return _is_day(text[:10])
    return text[16:20] == ":60." and _is_leap(text)


def _is_leap(text: str) -> bool:
    if not _STAMP.fullmatch(text.replace(":60.", ":59.")):
        return False
    try:
        milliseconds(text)
    except BadInput:
        return False
    return True


@lru_cache(maxsize=64)
def _is_day(text: str) -> bool:
    try:
        date(int(text[:4]), int(text[5:7]), int(text[8:]))
    except ValueError:
        return False
    return True


def _offset(match: re.Match[str]) -> timedelta:
    if not match[8]:
        return timedelta()
    hours, minutes = int(match[9]), int(match[10])
    if hours > 23 or minutes > 59:
        raise ValueError("an offset is at most 23:59")
    return timedelta(hours=hours, minutes=minutes) * (-1 if match[8] == "-" else 1)


def _begins_a_month(moment: datetime) -> bool:
    """Whether a leap second may have come before: they are inserted only at the end of a month, UTC (RFC 3339, appendix D)."""
    return (moment.day, moment.hour, moment.minute, moment.second) == (1, 0, 0, 0)


def _refused(text: str) -> BadInput:
    return BadInput("", "a time must be written as in RFC 3339, for example 2026-01-31T08:15:00.250Z", ascii(text[:40]))
