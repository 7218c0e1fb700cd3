"""The right cylinder: numbering, positions in words, firing order, and evidence that must agree."""
from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.codes import circuit_codes
from companion.trade.cylinders import (Agreement, fault_lies, firing_order, from_other_end, named_by, paired, point_to,
                                       positions, prove, read_position)

QUICK = settings(max_examples=100, deadline=None, derandomize=True)
COUNTS = st.integers(1, 16)
CYLINDERS = st.integers(1, 12)
SENTENCE = re.compile(r"[A-Z][a-z' ]+(?:\d+(?:, \d+)*(?: and \d+)?)?[a-z ]*\.")


@QUICK
@given(COUNTS, st.data())
def test_counted_from_the_other_end_and_back(count: int, data: st.DataObject) -> None:
    """Numbering from the other end is its own inverse and keeps every cylinder."""
    n = data.draw(st.integers(1, count))
    assert from_other_end(from_other_end(n, count), count) == n
    assert sorted(from_other_end(k, count) for k in range(1, count + 1)) == list(range(1, count + 1))


@pytest.mark.parametrize("n, count, other", [(1, 4, 4), (2, 4, 3), (3, 5, 3), (1, 1, 1), (6, 6, 1)])
def test_the_first_from_one_end_is_the_last_from_the_other(n: int, count: int, other: int) -> None:
    """Counting (common practice, no source)."""
    assert from_other_end(n, count) == other


@pytest.mark.parametrize("n, count", [(0, 4), (5, 4), (-1, 4), (1, 0), (1, 17)])
def test_a_cylinder_that_is_not_there_is_refused(n: int, count: int) -> None:
    """One past either end is the usual slip."""
    with pytest.raises(BadInput, match="must be 1 to"):
        from_other_end(n, count)


def test_positions_are_the_mechanics_words() -> None:
    """The end may be named with or without "the"."""
    words = ("first from the belt end", "second from the belt end", "third from the belt end")
    assert positions(3, "belt end") == words == positions(3, "the belt end")
    assert positions(16, "belt end")[-1] == "sixteenth from the belt end"


@pytest.mark.parametrize("count, end", [(0, "belt end"), (17, "belt end"), (4, ""), (4, " the "), (4, "!")])
def test_positions_need_cylinders_and_an_end(count: int, end: str) -> None:
    """A position without an end would be no position."""
    with pytest.raises(BadInput):
        positions(count, end)


@pytest.mark.parametrize("text, cylinder", [
    ("second from the belt end", 2), ("The 2nd from the belt.", 2), ("the second one from the belt side", 2),
    ("second cylinder from belt end", 2), ("last from the belt end", 4), ("first from the flywheel end", 4),
    ("third from the flywheel", 2), ("last from the flywheel end", 1), ("second", None), ("last", None),
    ("fifth from the belt end", None), ("99th from the belt end", None), ("second from the exhaust end", None),
    ("second from the end", None), ("", None), ("cylinder two", None)])
def test_a_position_is_read_from_the_end_it_names(text: str, cylinder: int | None) -> None:
    """Without a known end a position has two meanings, and is not guessed."""
    assert read_position(text, 4, "the belt end", "the flywheel end") == cylinder


def test_only_the_end_that_the_card_names_is_known() -> None:
    """An end not named on the card is not taken for the other one; two ends of one name settle nothing."""
    assert read_position("second from the flywheel end", 4, "belt end") is None
    assert read_position("second from the belt end", 4, "belt end", "the belt side") is None


@QUICK
@given(COUNTS, st.data())
def test_spoken_positions_are_read_back(count: int, data: st.DataObject) -> None:
    """Every position that is spoken means its own cylinder, from either end."""
    n = data.draw(st.integers(1, count))
    assert read_position(positions(count, "belt end")[n - 1], count, "belt end", "flywheel end") == n
    other = positions(count, "flywheel end")[n - 1]
    assert read_position(other, count, "belt end", "flywheel end") == from_other_end(n, count)


@pytest.mark.parametrize("text, count, order", [
    ("1-3-4-2", 4, (1, 3, 4, 2)), ("1 3 4 2", 4, (1, 3, 4, 2)), ("1342", 4, (1, 3, 4, 2)), ("1,2,3", 3, (1, 2, 3)),
    ("1-5-3-6-2-4", 6, (1, 5, 3, 6, 2, 4)),
    ("1-10-9-4-3-6-5-8-7-2", 10, (1, 10, 9, 4, 3, 6, 5, 8, 7, 2)), ("1", 1, (1,))])
def test_a_firing_order_is_read(text: str, count: int, order: tuple[int, ...]) -> None:
    """Usual orders in line (common practice, no source)."""
    assert firing_order(text, count) == order


@pytest.mark.parametrize("text, count", [("1-3-4", 4), ("1-3-4-4", 4), ("1-3-4-5", 4), ("1-3-4-2-2", 4), ("", 4),
                                         ("1-3-x-2", 4), ("0-1-2-3", 4), ("12345678910", 10), ("9" * 5000, 4)])
def test_an_order_that_leaves_out_or_repeats_is_refused(text: str, count: int) -> None:
    """Every cylinder fires once in two turns."""
    with pytest.raises(BadInput, match="firing order"):
        firing_order(text, count)


@pytest.mark.parametrize("text, count, pairs", [
    ("1-3-4-2", 4, {1: 4, 2: 3}), ("1-5-3-6-2-4", 6, {1: 6, 5: 2, 3: 4}), ("1-2", 2, {1: 2}), ("1-2-3", 3, {1: None})])
def test_the_paired_cylinder_fires_one_turn_later(text: str, count: int, pairs: dict[int, int | None]) -> None:
    """Pistons that move together (common practice, no source): outer with outer in a four; none in a three."""
    order = firing_order(text, count)
    assert {n: paired(order, n) for n in pairs} == pairs


@QUICK
@given(st.integers(1, 8).flatmap(lambda half: st.permutations(range(1, 2 * half + 1))), st.data())
def test_pairs_are_mutual(order: list[int], data: st.DataObject) -> None:
    """One turn and one turn more is the same stroke again."""
    n = data.draw(st.sampled_from(order))
    other = paired(order, n)
    assert other is not None and other != n and paired(order, other) == n


def test_a_cylinder_outside_the_order_is_refused() -> None:
    """The refusal names those in it."""
    with pytest.raises(BadInput, match="1, 3, 4, 2, not 5"):
        paired((1, 3, 4, 2), 5)


def test_codes_name_their_cylinders_once() -> None:
    """Circuit and misfire of one cylinder are one; a rail code names none."""
    assert named_by(["P0204", "p0304", "P0087", "P0301", "P0300"]) == {1, 4}
    assert named_by([]) == frozenset()


@pytest.mark.parametrize("codes, readings, cylinder, disagree", [
    (["P0272"], 4, 4, ()), (["P0272", "P0304", "P0087"], 4, 4, ()), (["P0272"], None, 4, ()), (["P0300"], 2, 2, ()),
    ([], 2, 2, ()),
    (["P0272"], 2, None, ("The codes name cylinder 4.", "The readings point to cylinder 2.")),
    (["P0272", "P0302"], 4, None, ("The codes name cylinders 2 and 4.",)),
    (["P0272", "P0302", "P0301"], None, None, ("The codes name cylinders 1, 2 and 4.",)),
    (["P0300"], None, None, ("The codes name no cylinder.", "The readings point to no cylinder."))])
def test_codes_and_readings_must_point_to_one(
        codes: list[str], readings: int | None, cylinder: int | None, disagree: tuple[str, ...]) -> None:
    """Where the codes name none the readings must; where both name one it is the same (issue rule)."""
    assert point_to(codes, readings) == Agreement(cylinder is not None, cylinder, disagree)


def test_unplugging_cylinder_four_stores_its_circuit_code() -> None:
    """P0204 for cylinder 4 (trade fact; common practice, no source)."""
    assert prove(4, 4, ["P0272", "P0204"], ["P0272"]) == Agreement(True, 4, ())


@pytest.mark.parametrize("suspect, unplugged, returned, before, disagree", [
    (4, 1, ["P0201"], [],
     ("The suspect is cylinder 4.", "The plug off is on cylinder 1.", "The new codes name cylinder 1.")),
    (4, 1, ["P0204"], [], ("The suspect is cylinder 4.", "The plug off is on cylinder 1.")),
    (4, 4, ["P0201"], [], ("The new codes name cylinder 1.",)),
    (4, 4, ["P0204", "P0203"], [], ("The new codes name cylinders 3 and 4.",)),
    (4, 4, [], [], ("No new circuit code names cylinder 4.",)),
    (4, 4, ["P0304", "P0272", "P0200"], [], ("No new circuit code names cylinder 4.",)),
    (4, 4, ["P0204"], ["P0204"], ("The circuit code of cylinder 4 was stored before the test.",))])
def test_the_proof_fails_on_any_disagreement(
        suspect: int, unplugged: int, returned: list[str], before: list[str], disagree: tuple[str, ...]) -> None:
    """Wrong plug, another cylinder's code, a second one, none, no circuit code, or one that was there before."""
    assert prove(suspect, unplugged, returned, before) == Agreement(False, None, disagree)


def test_an_old_code_of_another_cylinder_does_not_disprove() -> None:
    """What was stored before the test says nothing about it, either way."""
    assert prove(4, 4, ["P0201", "P0204"], ["P0201"]).ok
    assert not prove(4, 4, ["P0204", "P0201"], ["P0204"]).ok


@QUICK
@given(CYLINDERS, CYLINDERS, CYLINDERS, st.data())
def test_the_proof_holds_only_when_all_three_are_one(
        suspect: int, unplugged: int, said: int, data: st.DataObject) -> None:
    """Whatever circuit code comes, a proof needs suspect, plug and code to be the same cylinder."""
    code = data.draw(st.sampled_from(sorted(circuit_codes(said))))
    found = prove(suspect, unplugged, [code])
    assert found.ok == (suspect == unplugged == said) == (found.disagree == ()) == (found.cylinder == suspect)
    assert all(SENTENCE.fullmatch(sentence) for sentence in found.disagree)


@pytest.mark.parametrize("call", [
    lambda: prove(0, 4, []), lambda: prove(4, 17, []), lambda: prove(4, 4, ["none"]), lambda: prove(4, 4, [], ["P02"]),
    lambda: point_to(["P0204"], 0), lambda: point_to(["no code"], 1), lambda: named_by(["P020"])])
def test_evidence_that_is_none_is_refused(call) -> None:
    """No such cylinder, and no such code."""
    with pytest.raises(BadInput):
        call()


@pytest.mark.parametrize("signs, part", [
    ({"wiring": "sound", "driver": "steady", "resistance": "outside"}, "injector"),
    ({"wiring": "sound", "driver": "steady", "swap": "moved"}, "injector"),
    ({"swap": "moved"}, "injector"), ({"resistance": "outside"}, "injector"),
    ({"wiring": "sound", "driver": "steady", "resistance": "inside"}, "injector"),
    ({"wiring": "damaged"}, "wiring"), ({"wiring": "damaged", "driver": "flat", "resistance": "inside"}, "wiring"),
    ({"wiring": "damaged", "swap": "stayed"}, "wiring"),
    ({"wiring": "sound", "driver": "flat"}, "controller"),
    ({"wiring": "sound", "driver": "flat", "resistance": "inside", "swap": "stayed"}, "controller"),
    # A shorted injector can silence its driver; damaged wiring can travel with a swap.
    ({"wiring": "sound", "driver": "flat", "resistance": "outside"}, "unclear"),
    ({"wiring": "damaged", "swap": "moved"}, "unclear"), ({"resistance": "outside", "swap": "stayed"}, "unclear"),
    # A flat signal may be the wiring as long as nobody looked.
    ({"driver": "flat"}, "unclear"), ({"wiring": "sound"}, "unclear"), ({}, "unclear"),
    ({"resistance": "inside"}, "unclear"),
    ({"wiring": "sound", "driver": "steady", "swap": "stayed"}, "unclear")])
def test_which_part_is_at_fault(signs: dict[str, str], part: str) -> None:
    """Common practice, no source: contradictions and tests not made leave it unclear."""
    assert fault_lies(**signs).part == part


@pytest.mark.parametrize("wiring, driver, resistance, swap", list(itertools.product(
    ("sound", "damaged", ""), ("steady", "flat", ""), ("inside", "outside", ""), ("moved", "stayed", ""))))
def test_no_part_is_blamed_against_a_test(wiring: str, driver: str, resistance: str, swap: str) -> None:
    """Over all 81 findings: nothing found sound is blamed, a fault that stayed is no injector's, and each has words."""
    fault = fault_lies(wiring=wiring, driver=driver, resistance=resistance, swap=swap)
    assert not (fault.part == "injector" and (swap == "stayed" or wiring == "damaged" or driver == "flat"))
    assert not (fault.part == "wiring" and wiring != "damaged")
    assert not (fault.part == "controller" and (driver != "flat" or wiring != "sound"))
    assert re.fullmatch(r"(?:[A-Z][a-z', ]+\. ?){1,2}", fault.why)


@pytest.mark.parametrize("signs", [{"wiring": "good"}, {"driver": "sound"}, {"resistance": "12"}, {"swap": "yes"}])
def test_another_word_is_refused(signs: dict[str, str]) -> None:
    """The refusal names the test and its words."""
    with pytest.raises(BadInput, match=next(iter(signs))):
        fault_lies(**signs)
