"""Parts and small things: counts, numbers spelled twice, one-use parts. All common practice, no source."""
from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.parts import Difference, must_be_new, reconcile, same_code, tail, tail_matches

QUICK = settings(max_examples=100, deadline=None, derandomize=True)
COUNTS = st.dictionaries(st.sampled_from(["caps", "plugs", "rags", "washers", "old injector"]), st.integers(0, 20))
WORDS = st.text(alphabet="ABCDEF0123456789", min_size=1, max_size=12)


def test_a_cap_left_in_is_named_with_both_counts() -> None:
    """Three caps out, two back; what was never counted back is 0; what came from nowhere is named too."""
    assert reconcile({"caps": 3, "rags": 2, "plugs": 1}, {"rags": 2, "caps": 2, "hook": 1}) == (
        Difference("caps", 3, 2), Difference("plugs", 1, 0), Difference("hook", 0, 1))


@QUICK
@given(COUNTS, COUNTS)
def test_counts_close_exactly_when_they_are_equal(out: dict[str, int], back: dict[str, int]) -> None:
    """A surplus in one thing never pays for a lack in another, and turning the two round turns each difference."""
    rows = reconcile(out, back)
    names = set(out) | set(back)
    assert {row.name for row in rows} == {name for name in names if out.get(name, 0) != back.get(name, 0)}
    assert {(row.name, row.back, row.out) for row in rows} == {
        (row.name, row.out, row.back) for row in reconcile(back, out)}
    assert reconcile(out, out) == ()


@pytest.mark.parametrize("count", [-1, 1.0, "2", None, True])
def test_a_count_that_is_no_whole_number_is_refused(count: object) -> None:
    """The refusal names what was counted."""
    with pytest.raises(BadInput, match="count of caps"):
        reconcile({"caps": 1}, {"caps": count})  # type: ignore[dict-item]


@pytest.mark.parametrize("first, second, places", [
    ("B7K2", "B7K2", ()), ("b7 k2", "B7K2", ()), ("B7K2", "B7X2", (3,)), ("B7K2", "87K2", (1,)), ("B7K2", "B7K", (4,)),
    ("B7K", "B7K2F", (4, 5)), ("AB", "BA", (1, 2))])
def test_two_readings_differ_in_these_places(first: str, second: str, places: tuple[int, ...]) -> None:
    """Places count from 1, and a missing or extra character differs like a wrong one."""
    assert same_code(first, second) == places


@QUICK
@given(WORDS, WORDS)
def test_readings_agree_only_when_equal(first: str, second: str) -> None:
    """No two different codes pass as the same, whichever was read first."""
    assert (same_code(first, second) == ()) == (first == second)
    assert same_code(first, second) == same_code(second, first)


@pytest.mark.parametrize("first, second", [("", ""), ("B7", " "), ("", "B7")])
def test_an_empty_reading_never_agrees(first: str, second: str) -> None:
    """Silence is never a pass."""
    with pytest.raises(BadInput, match="at least one character"):
        same_code(first, second)


@pytest.mark.parametrize("whole, spoken, n, fits", [
    ("1M8GDM9AXKP042788", "042788", 6, True), ("1M8GDM9AXKP042788", "0 4 2 7 8 8", 6, True),
    ("1M8GDM9AXKP042788", "042783", 6, False), ("1M8GDM9AXKP042788", "42788", 6, False),
    ("1M8GDM9AXKP042788", "P042788", 6, False), ("B7K2", "b7k2", 6, True), ("B7K2", "K2", 2, True)])
def test_the_tail_is_the_whole_tail(whole: str, spoken: str, n: int, fits: bool) -> None:
    """Too short is no match, and neither is too long."""
    assert tail_matches(whole, spoken, n) is fits


@QUICK
@given(WORDS, st.integers(1, 14))
def test_a_code_ends_with_its_own_tail(whole: str, n: int) -> None:
    """The tail has `n` characters, or all there are."""
    assert tail_matches(whole, tail(whole, n), n) and whole.endswith(tail(whole, n))
    assert len(tail(whole, n)) == min(n, len(whole))


@pytest.mark.parametrize("whole, spoken, n", [("", "1", 6), ("1", "", 6), ("123", "123", 0)])
def test_nothing_to_compare_is_refused(whole: str, spoken: str, n: int) -> None:
    """An empty tail would match everything."""
    with pytest.raises(BadInput):
        tail_matches(whole, spoken, n)


def test_one_use_parts_must_be_known_to_be_new() -> None:
    """Not said is not new; what may be used again may be used; each name is given once."""
    fitted = {"washer": "new", "clamp bolt": "used", "pipe": "", "cover": "used"}
    assert must_be_new(("washer", "clamp bolt", "pipe", "seal", "seal"), fitted) == ("clamp bolt", "pipe", "seal")
    assert must_be_new(("washer",), fitted) == ()


def test_an_unknown_state_of_a_part_is_refused() -> None:
    """"Newish" is neither new nor used."""
    with pytest.raises(BadInput, match="newish"):
        must_be_new(("washer",), {"washer": "newish"})
