"""The supervisor's list of trusted keys: what it says of a key on a day, and each fault of it with its line."""
from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from companion.office.trusted import (
    LIST, NOT_YET, REVOKED, REVOKED_LATER, TRUSTED, UNKNOWN, TrustErrors, load_trusted, trusted_in)

ONE, TWO, STRANGE = "1a" * 32, "2b" * 32, "3c" * 32
TEXT = f"""\
trusted_keys: 1     # an invented depot
keys:
  - key: {ONE}
    name: van one
    from: 2026-01-05
  - key: {TWO}
    name: van two
    from: 2026-01-05
    revoked: 2026-06-01
    why: the van was broken into
"""
TRUST = load_trusted(TEXT)


@pytest.mark.parametrize("key, first, last, state, words", [
    (ONE, "2026-01-05", "", TRUSTED, "van one's, on the list of trusted keys from 2026-01-05"),
    (ONE, "2026-01-04", "2026-01-05", NOT_YET, "van one's, but it counts only from 2026-01-05, and this was begun on 2026-01-04"),
    (TWO, "2026-01-05", "2026-05-31", REVOKED_LATER, "only a receipt or a closing seal held elsewhere since before that day"),
    (TWO, "2026-05-31", "2026-06-01", REVOKED, "van two's, but revoked since 2026-06-01 (the van was broken into), and this "
     "was sealed on 2026-06-01"),
    (TWO, "2026-06-02", "2026-05-01", REVOKED, "sealed on 2026-06-02"),  # a clock that was set back hides nothing
    (TWO, "2025-06-02", "", NOT_YET, "2025-06-02"),
    (STRANGE, "2026-03-01", "", UNKNOWN, "not on the list of trusted keys; it begins 3c3c3c3c"),
    ("", "", "", UNKNOWN, "not on the list"),
])
def test_a_key_stands_as_the_list_has_it_on_that_day(key, first, last, state, words):
    """Trusted, not yet, revoked since, or nobody's; each with whose it is and the days."""
    found = TRUST.standing(key, first, last)
    assert found.state == state and words in found.said and found.fine == (state in (TRUSTED, REVOKED_LATER))
    assert found.name == {ONE: "van one", TWO: "van two"}.get(key, "")
    if first and state == TRUSTED:
        assert TRUST.standing(key, first + "T08:15:00.250Z", last) == found, "a log's whole time will do"


@pytest.mark.parametrize("change, line, words", [
    (("trusted_keys: 1", "trusted_keys: 2"), 1, "trusted_keys must be '1', not \"2\""),
    (("trusted_keys: 1 ", "trust: 1 "), 1, 'unknown key "trust"'),
    ((f"key: {ONE}", f"key: {ONE.upper()}"), 3, "key must be 64 lower-case hex digits, as `companion device` prints them"),
    ((f"key: {TWO}", f"key: {ONE}"), 6, "a key must stand once, but 1a1a1a1a… stands twice"),
    (("name: van one", "name: ''"), 4, "name must be words, not empty"),
    (("name: van one", "nmae: van one"), 3, 'the key "name" must stand here, but is missing'),
    (("name: van one", "name: van\u202eone"), 4, "name must be printable characters"),
    (("from: 2026-01-05", "from: 5 January"), 5, 'from must be a day such as 2026-03-01, not "5 January"'),
    (("from: 2026-01-05", "from: 2026-02-30"), 5, "from must be a day"),
    (("revoked: 2026-06-01", "revoked: 2025-06-01"), 9, "revoked must not be before from (2026-01-05)"),
    (("    revoked: 2026-06-01\n", ""), 9, "why must stand beside the day in revoked"),
    (("van one", "van: one"), 4, "this must be plain YAML"),
    (("van one", "van \x1b one"), 4, "a list of trusted keys must be plain text, but holds the character U+001B"),
    (("van one", "&a van"), 4, "anchor"),
])
def test_each_fault_is_named_with_its_line(change, line, words):
    """One change to a good list: refused, with the line and what must hold there."""
    assert change[0] in TEXT
    with pytest.raises(TrustErrors) as caught:
        load_trusted(TEXT.replace(*change, 1))
    assert any(fault.line == line and words in fault.text for fault in caught.value.faults), caught.value
    assert str(caught.value).startswith("trusted-keys.yaml:")


def test_every_fault_is_told_at_once():
    """Two wrong lines, two faults."""
    with pytest.raises(TrustErrors) as caught:
        load_trusted(TEXT.replace("from: 2026-01-05", "from: soon"))
    assert [fault.line for fault in caught.value.faults] == [5, 8]


@given(st.text(max_size=200))
def test_no_text_is_a_traceback(text):
    """Whatever stands in the file, it is a list or a list of faults."""
    for whole in (text, TEXT + text, "trusted_keys: 1\nkeys:" + text):
        try:
            load_trusted(whole)
        except TrustErrors as error:
            assert error.faults and str(error)


def test_a_list_is_found_in_the_office_s_folder(tmp_path):
    """None where the office keeps none; a file that is no text is a fault of its line."""
    assert trusted_in(tmp_path) is None and trusted_in(tmp_path / "none") is None
    (tmp_path / LIST).write_text(TEXT, encoding="utf-8")
    assert trusted_in(tmp_path).keys == TRUST.keys
    (tmp_path / LIST).write_bytes(TEXT.encode() + b"\n\xff")
    with pytest.raises(TrustErrors, match="office/trusted-keys.yaml:12: .* must be text in UTF-8"):
        trusted_in(tmp_path)
