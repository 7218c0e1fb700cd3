"""Job cards: what is written is what the job gets."""
from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from companion.core import card as cards
from companion.core.card import CardErrors, load_card

CASES = Path(__file__).parent / "cases" / "cards"
SMALLEST = (CASES / "smallest.yaml").read_text(encoding="utf-8")
WHOLE = (CASES / "whole.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def whole() -> cards.Card:
    return load_card(WHOLE, "whole.yaml")


def step_of(key: str, value: str) -> cards.Step:
    """The only step of a card, with one more key."""
    return load_card(SMALLEST + f"        {key}: {value}\n", "x").steps[0]


@pytest.mark.parametrize("name, clock", [
    ("bleed-down", cards.Clock("wait", 600_000, "the pressure wait", "person", "Has the key stayed out?",
                               (300_000, 60_000, 10_000))),
    ("soak", cards.Clock("wait", 90_000, "the soak", "work", "", (45_000, 10_000), ("it moved already",))),
    ("leak-watch", cards.Clock("run", 300_000, "the leak watch")),
])
def test_clocks_are_in_milliseconds_with_their_marks(whole, name, clock):
    """Times in h, min and s become exact milliseconds; marks fall, and the usual three stand where none are given."""
    assert whole.clocks[name] == clock


@pytest.mark.parametrize("lasts, marks", [("20 s", (10_000,)), ("2 min", (60_000, 10_000)), ("10 s", (5_000,)),
                                          ("1 h", (1_800_000, 60_000, 10_000))])
def test_usual_marks_lie_within_their_clock(lasts, marks):
    """A usual mark that is not below the clock's length is passed over; two at one moment are one."""
    clock = f"{{kind: wait, lasts: {lasts}, protects: work, say: the wait}}"
    assert load_card(SMALLEST.replace("stages:", f"clocks: {{c: {clock}}}\nstages:"), "x").clocks["c"].marks == marks


@pytest.mark.parametrize("step, answer", [
    ("key-out", cards.Done()), ("sign-off", cards.Affirm()), ("hand-over", cards.Nothing()),
    ("pressure-wait", cards.WaitOf("bleed-down")), ("codes", cards.CodesOf("codes before")),
    ("caps", cards.CountOf("caps", 4)), ("initials", cards.SpellingOf("mechanic", 2, 4)),
    ("joints", cards.ChoiceOf(("dry", "leaking"), "joints")),
    ("rail", cards.ValueOf("rail pressure", "bar", Decimal(0), Decimal(5), reasons=("sensor is old",))),
    ("balance.2", cards.ValueOf("balance of cylinder two", "mg", Decimal("-5.0"), Decimal("5.00"), decimals=2,
                                reasons=("gauge disagrees",))),
    ("tighten.1", cards.ValueOf("torque", "N·m", Decimal("7.25"), Decimal("7.75"), Decimal("7.50"), Decimal("0.25"), 2,
                                ("gauge disagrees",))),
    ("leak-run", cards.RunOf("leak-watch", "Stand back, lamp and mirror. Dry, or leaking?", 60_000, 20_000, ("dry",),
                             ("leaking at the union",), "stop-here")),
])
def test_answers_are_as_written(whole, step, answer):
    """Every kind of answer arrives with its figures exact, limits folded, and reasons its own or the card's."""
    assert whole.step(step).answer == answer


def test_figures_keep_their_zeros(whole):
    """7.50 stays 7.50: the digits are the card's, not a float's."""
    answer = whole.step("tighten.1").answer
    assert [str(answer.nominal), str(answer.low), str(answer.tolerance)] == ["7.50", "7.25", "0.25"]


def test_groups_are_repeated_in_order_with_their_items(whole):
    """A group stands once for each item, item by item; the item is shown as a figure and said in words."""
    repeated = [(step.id, step.item) for step in whole.steps if step.item]
    assert repeated == [
        ("balance.1", "cylinder 1"), ("note.1", "cylinder 1"), ("washer.1", "cylinder 1"),
        ("balance.2", "cylinder 2"), ("note.2", "cylinder 2"), ("washer.2", "cylinder 2"),
        ("tighten.1", "nut one"), ("tighten.2", "nut two")]
    assert whole.step("note.2").say == "Note cylinder two: it read {balance of cylinder two}."
    assert whole.step("tighten.2").say == "Tighten nut two. What torque?"


def test_targets_mean_the_same_item_within_a_group_and_the_first_from_outside(whole):
    """A branch stays with its cylinder; from elsewhere a group is entered at its first item."""
    assert whole.step("balance.2").then == {"outside": "note.2"} and whole.step("balance.2").next == "washer.2"
    assert whole.step("washer.2").then == {"wrong": "rail"}
    bounded = "then: {none: tighten}\n        at_most: 2\n        after_that: end"
    into = load_card(WHOLE.replace("then: {none: crank}", bounded), "x")
    assert into.step("codes").then == {"none": "tighten.1"}


def test_following_is_next_or_the_step_below_or_the_end(whole):
    """`following` is where the job goes when no branch applies."""
    assert [whole.following(step) for step in ("key-out", "rail", "note.1", "washer.1", "stop-here")] == [
        "pressure-wait", "caps", "washer.1", "balance.2", "end"]


@pytest.mark.parametrize("key, value, field, expected", [
    ("brief", "no", "brief", "no"), ("detail", ">-\n          two\n          lines", "detail", "two lines"),
    ("personal", "true", "personal", True), ("cannot_undo", "true", "cannot_undo", True),
    ("next", "end", "next", "end"), ("must", "make-safe", "must", "make-safe"), ("closes", "drive", "closes", "drive"),
])
def test_keys_of_a_step_arrive(key, value, field, expected):
    """Words stay words ("no" is not a truth value), long texts are one line, flags are flags."""
    assert getattr(step_of(key, value), field) == expected


def test_the_head_arrives(whole):
    """Version, tools, parts, lists and cylinders are as written."""
    assert (whole.version, whole.practice, whole.minutes) == ("0.1.0", True, 20)
    assert whole.cylinders == cards.Cylinders(2, "the belt end") and whole.lists == {"nuts": ("nut one", "nut two")}
    assert whole.tools == (cards.Item("torque wrench", 1),)
    assert whole.parts == (cards.Item("sealing washer", 2, True),)
    assert whole.cautions["jet"].answer == "keep hands clear" and whole.stages == ("make safe", "work")
    assert WHOLE.split("\n")[whole.step("washer.2").line - 1].strip() == "- id: washer"


def test_an_old_card_is_read_without_newer_checks_of_meaning():
    """A log can be read for ever: only the form of its card must hold."""
    text = SMALLEST.replace("Lay the torch down.", "Fit M8.")
    with pytest.raises(CardErrors):
        load_card(text, "x")
    assert load_card(text, "x", checked=False).steps[0].say == "Fit M8."
