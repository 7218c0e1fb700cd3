"""Times as text, against RFC 3339."""
from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given, strategies as st

from companion.core.log.rfc3339 import is_stamp, milliseconds, stamp
from companion.errors import BadInput

SAME = [  # RFC 3339, section 5.8: each example and the same moment in UTC
    ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
    ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57.000Z"),
    ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
    ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00.000Z"),
    ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00.000Z"),
    ("1985-04-12t23:20:50.52z", "1985-04-12T23:20:50.520Z"),  # lower case: section 5.6, note
    ("2026-01-31T08:15:00.2509Z", "2026-01-31T08:15:00.250Z"),
]

REFUSED = [
    "", "1985-W15-5T10:00", "19850412T232050Z", "1985-04-12", "1985-04-12T23:20:50", "1985-04-12 23:20:50Z",
    "1985-04-12T23:20Z", "1985-04-12T23:20:50.Z", "1985-04-12T24:00:00Z", "1985-02-29T00:00:00Z",
    "1985-13-01T00:00:00Z", "1985-04-12T23:60:00Z", "1985-04-12T23:20:61Z", "1985-04-12T23:20:60Z",
    "1990-12-30T23:59:60Z", "9999-12-31T23:59:60Z", "1990-12-31T23:59:60+01:00", "1985-04-12T23:20:50+24:00", "1985-04-12T23:20:50+01:60",
    "1985-04-12T23:20:50Z\n", "١٩٨٥-04-12T23:20:50Z", "0000-01-01T00:00:00Z",
]


@pytest.mark.parametrize("text, utc", SAME)
def test_the_examples_of_the_rfc_are_read(text, utc):
    """The published examples mean the moments they are said to mean, leap seconds among them."""
    assert milliseconds(text) == milliseconds(utc)


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_no_time_is_refused(text):
    """What the RFC does not allow, or no calendar holds, is refused and never read as something near it."""
    with pytest.raises(BadInput, match="RFC 3339"):
        milliseconds(text)
    assert not is_stamp(text)


@given(st.integers(-62_135_596_800_000, 253_402_300_799_999))
def test_written_and_read_again_is_the_same(ms):
    """Every millisecond from year 1 to 9999 is written as `datetime` says, in the log's form, and read back exactly."""
    text = stamp(ms)
    moment = datetime(1970, 1, 1, tzinfo=timezone.utc) + timedelta(milliseconds=ms)
    assert text == moment.strftime("%Y").zfill(4) + moment.strftime("-%m-%dT%H:%M:%S.") + f"{ms % 1000:03d}Z"
    assert milliseconds(text) == ms and is_stamp(text)


STAMPS = [
    ("2026-01-31T08:15:00.250Z", True), ("2024-02-29T00:00:00.000Z", True), ("2016-12-31T23:59:60.999Z", True),
    ("2016-12-30T23:59:60.000Z", False), ("2016-12-31T22:59:60.000Z", False), ("2026-02-29T00:00:00.000Z", False),
    ("2026-01-31T08:15:00Z", False), ("2026-01-31T08:15:00.25Z", False), ("2026-01-31t08:15:00.250Z", False),
    ("2026-01-31T08:15:00.250z", False), ("2026-01-31T08:15:00.250+00:00", False), ("2026-01-31T24:15:00.250Z", False),
    ("2026-01-31T08:15:61.250Z", False), ("2026-01-31T08:15:00.250Z ", False), ("2026-01-31T08:15:60.", False),
]


@pytest.mark.parametrize("text, good", STAMPS)
def test_the_log_has_one_form_of_time(text, good):
    """A log's `at` has one form only, so that no moment can be written in two ways."""
    assert is_stamp(text) is good
