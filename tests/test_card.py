"""Job cards: what is written is what the job gets; hostile text ends in one clear error, quickly."""
from __future__ import annotations

import argparse
import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import jsonschema
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.core import card as cards
from companion.core.card import CardErrors, load_card
from companion.core.card_form import json_schema
from companion.edge import check
from companion.edge.cards import MOST_BYTES, read_card, shipped
from companion.errors import BadInput

CASES = Path(__file__).parent / "cases" / "cards"
SMALLEST = (CASES / "smallest.yaml").read_text(encoding="utf-8")
WHOLE = (CASES / "whole.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def whole() -> cards.Card:
    return load_card(WHOLE, "whole.yaml")


def step_of(key: str, value: str) -> cards.Step:
    """The only step of a card, with one more key."""
    return load_card(SMALLEST + f"        {key}: {value}\n", "x").steps[0]


# What is written is what the job gets.

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


# Hostile text.

BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\n"

@pytest.mark.parametrize("text, line, words", [
    ("", 1, "a job card must hold something"),
    ("# only a comment\n", 1, "a job card must hold something"),
    (BOMB, 1, "anchors are not used in job cards"),
    ("card: 1\ntitle: *a\n", 2, "anchors are not used in job cards"),
    ("card: 1\ntitle: &a x\n", 2, "anchors are not used in job cards"),
    ("card: 1\n<<: {id: x}\n", 2, 'unknown key "<<"'),
    ("card: !!python/object/apply:os.system [ls]\n", 1, "tags are not used in job cards"),
    ("card: 1\ncard: 2\n", 2, 'each key must stand once, but "card" stands on line 1 already'),
    ("card: 1\n? [a, b]\n: x\n", 2, "a key must be a word"),
    ("card: 1\n{a: b}: x\n", 2, "a key must be a word"),
    ("- card\n", 1, "a job card must be a mapping"),
    ("just words", 1, "a job card must be a mapping"),
    ("card: 1\n---\ncard: 2\n", 2, "a second document begins here"),
    ("card: 1\ntitle: 'open\n", 2, "this must be plain YAML"),
    ("card: 1\n\ttitle: x\n", 2, "this must be plain YAML"),
    ("card: 1\ntitle: a\0b\n", 2, "holds the character U+0000"),
    ("card: 1\ntitle: \ud800\n", 2, "holds the character U+D800"),
    ("card: 1\ntitle: a\u2028b\n", 2, "holds the character U+2028"),
    ("card: 1\ntitle: \x1b[2J\n", 2, "holds the character U+001B"),
    ("a: " + "[" * 25 + "]" * 25, 1, "at most 20 levels deep"),
    ("a: " + "[" * 100_000, 1, ""),
    ("a: " + "{b: " * 100_000, 1, ""),
    ("? " * 100_000, 1, "at most 20 levels deep"),
    ("a: b\n" * 150_000, 10_000, "each key must stand once"),
    ("".join(f"k{n}: x\n" for n in range(30_000)), 10_000, "at most 20,000 entries"),
    ("a: " + "x" * 1_000_000, 1, "at most 1,000,000 characters"),
    ("title: '" + "x" * 999_000 + "'", 1, "title must be at most 80 characters"),
])
def test_hostile_text_gets_a_clear_error(text, line, words):
    """Bombs, floods, depth, tags, bytes that are no text: the fault names its line and what must hold."""
    with pytest.raises(CardErrors) as raised:
        load_card(text, "x.yaml")
    assert any(fault.line == line and words in fault.text for fault in raised.value.faults), raised.value.faults[:5]


def test_a_byte_order_mark_is_passed_over():
    """Some editors begin a file with one; lines count as if it were not there."""
    assert load_card("\ufeff" + SMALLEST, "x").id == "smallest"


def test_every_fault_names_file_and_line_and_a_flood_is_cut_short():
    """`errors` holds FILE:LINE: WORDS for each; the message shows a hundred of them and counts the rest."""
    with pytest.raises(CardErrors) as raised:
        load_card(SMALLEST + "".join(f"wrong{n}: x\n" for n in range(150)), "checklists/x.yaml")
    assert raised.value.errors[0] == 'checklists/x.yaml:16: unknown key "wrong0"'
    assert len(raised.value.errors) == 150 and str(raised.value).endswith("\n… and 50 more faults")


CALM = settings(max_examples=80, deadline=timedelta(seconds=5),
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
LINES = WHOLE.split("\n")
HOSTILE = ["", "~", "[]", "{}", "[a]", "{a: b}", "&a x", "*a", "-1", "99999999999", "x" * 100, "end", "\t", "'", "{{",
           "|", "a: b", "2 min", "half", "N·m", "{item}", "\0"]
EDIT = st.tuples(st.sampled_from(["drop", "copy", "swap", "value", "join"]), st.integers(0, len(LINES) - 1),
                 st.integers(0, len(LINES) - 1), st.sampled_from(HOSTILE))
KEYS = sorted({line.split(":")[0].strip(" -{") for line in LINES if ":" in line})
TREES = st.recursive(st.sampled_from(["1", "end", "done", "affirm", "3 min", "dry", "-4", "true", "N·m", "words here"]),
                     lambda part: st.lists(part, max_size=4) | st.dictionaries(st.sampled_from(KEYS), part, max_size=6),
                     max_leaves=40)


def edited(edits: list[tuple[str, int, int, str]]) -> str:
    lines = list(LINES)
    for act, a, b, hostile in edits:
        a, b = a % len(lines), b % len(lines)
        if act == "drop" and len(lines) > 1:
            del lines[a]
        elif act == "copy":
            lines.insert(a, lines[b])
        elif act == "swap":
            lines[a], lines[b] = lines[b], lines[a]
        elif act == "value":
            lines[a] = f"{lines[a].split(':')[0]}: {hostile}"
        else:
            lines[a] += hostile
    return "\n".join(lines)


def loads_or_tells(text: str) -> None:
    try:
        assert load_card(text, "x").steps
    except CardErrors as error:
        assert error.errors and all(1 <= fault.line <= text.count("\n") + 2 for fault in error.faults)


@CALM
@given(st.text() | st.binary().map(lambda data: data.decode("latin-1")))
def test_any_text_loads_or_tells_what_is_wrong(text):
    """Nothing but CardErrors ever comes out of a text, whatever it holds."""
    loads_or_tells(text)


@CALM
@given(st.lists(EDIT, min_size=1, max_size=6))
def test_any_edited_card_loads_or_tells_what_is_wrong(edits):
    """A good card with lines dropped, copied, swapped and overwritten raises nothing else either."""
    loads_or_tells(edited(edits))


@CALM
@given(st.dictionaries(st.sampled_from(KEYS), TREES, max_size=6), st.sampled_from(["card", "stage", "step"]))
def test_any_tree_of_known_keys_loads_or_tells_what_is_wrong(tree, place):
    """Known keys in places where they do not belong, holding what they do not hold, raise nothing else either."""
    card = yaml.safe_load(SMALLEST)
    stage = card["stages"][0]
    {"card": card, "stage": stage, "step": stage["steps"][0]}[place].update(tree)
    loads_or_tells(yaml.safe_dump(card, allow_unicode=True))


# The JSON Schema.

SCHEMA = jsonschema.Draft202012Validator(json_schema())


def for_editor(path: Path) -> object:
    """A card as an editor's YAML reader gives it."""
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def test_the_schema_is_a_schema():
    """It holds against the meta-schema of draft 2020-12, as the library ships it."""
    jsonschema.Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("path", [CASES / "whole.yaml", CASES / "smallest.yaml"], ids=lambda path: path.stem)
def test_good_cards_hold_against_the_schema(path):
    """What the program takes, an editor takes."""
    assert [error.message for error in SCHEMA.iter_errors(for_editor(path))] == []


@pytest.mark.parametrize("name", shipped())
def test_shipped_cards_hold_against_the_schema_and_the_checks(name):
    """Every shipped card loads without a fault, in the program and in an editor."""
    card = read_card(name)
    assert list(SCHEMA.iter_errors(yaml.safe_load(card.text))) == []


@pytest.mark.parametrize("old, new", [
    ("card: 1", "card: 2"), ("id: smallest", "id: Smallest"), ("practice: true", "practice: perhaps"),
    ("title:", "titel:"), ("answer: done", "answer: maybe"), ("answer: done", "answer: {count: caps}"),
    ("answer: done", "answer: done\n        wait: rest"), ("answer: done", "hazardous: true\n        answer: done"),
    ("answer: done", "answer: {value: torque, unit: Nm, low: 1}"), ("answer: done", "answer: {choice: [dry], name: x}"),
    ("answer: done", "answer: {value: torque, unit: N·m, nominal: 5}"),
    ("answer: done", "answer: {value: pressure, unit: bar, low: x}"),
    ("answer: done", "answer: done\n        at_most: 2"), ("answer: done", "answer: {count: caps, must_be: -1}"),
    ("answer: done", "answer: {choice: [Dry!, leaking], name: x}"),
    ("stages:", "clocks: {c: {kind: wait, lasts: 3 min, say: c}}\nstages:"),
    ("stages:", "clocks: {c: {kind: run, lasts: 3 minutes, say: c}}\nstages:"), ("      - id: only", "      - id: end"),
])
def test_faults_of_form_are_seen_by_the_schema_too(old, new):
    """A card spoilt in one place is refused by the program and by the schema."""
    text = SMALLEST.replace(old, new)
    assert text != SMALLEST
    with pytest.raises(CardErrors):
        load_card(text, "x")
    assert list(SCHEMA.iter_errors(yaml.safe_load(text)))


# From the disk, and the command.

def checked(*words: str) -> int:
    parser = argparse.ArgumentParser()
    check.add_arguments(parser)
    return check.run(parser.parse_args(words))


@pytest.mark.parametrize("data, words", [
    (b"\xff\xfe\x00", ":1: a job card must be text in UTF-8"), (b"", ":1: a job card must hold"),
    (b"card: 1\n\n\xe4", ":3: a job card must be text in UTF-8"),
    (b"\x7fELF\x02\x01\x01\x00", ":1: a job card must be plain text, but holds the character U+007F"),
    (b"#" * 10_000_000, ":1: a job card must be at most 1,000,000 bytes, not 10,000,000"),
])
def test_bad_files_get_a_clear_error(tmp_path, data, words):
    """Binary, other encodings, 10 MB, nothing at all: one fault with file and line; `check` says 1."""
    path = tmp_path / "bad.yaml"
    path.write_bytes(data)
    with pytest.raises(CardErrors) as raised:
        read_card(str(path))
    assert len(raised.value.errors) == 1 and words in raised.value.errors[0] and checked(str(path)) == 1


def test_the_largest_file_is_read_whole(tmp_path):
    """A good card filled up to the limit with comments is still a good card."""
    path = tmp_path / "large.yaml"
    path.write_text(SMALLEST + "#" * (MOST_BYTES - len(SMALLEST)), encoding="utf-8")
    assert read_card(str(path)).id == "smallest"


@pytest.mark.parametrize("name", ["no-such-card", "no/such/card.yaml", ".", "../checklists/learning", "a\0b", ""])
def test_a_missing_card_is_wrong_use_and_the_shipped_ones_are_named(name, capsys):
    """What is no file and no shipped card's name is refused with the names there are; `check` says 2."""
    with pytest.raises(BadInput, match="learning") as raised:
        read_card(name)
    assert not isinstance(raised.value, CardErrors)
    assert checked(name) == 2 and capsys.readouterr().out == ""


def test_shipped_cards_are_found_from_any_folder(tmp_path, monkeypatch):
    """A name is enough, wherever the program is started."""
    monkeypatch.chdir(tmp_path)
    assert read_card("learning").id == "learning"


def test_check_names_file_and_line_and_exits_with_the_worst(capsys):
    """Fine is 0, a fault 1, a card that cannot be read 2; the others are checked all the same."""
    good, bad = str(CASES / "smallest.yaml"), str(CASES / "bad-flow.yaml")
    assert checked(good) == 0 and capsys.readouterr().out == f"{good}: fine, 1 steps, practice only\n"
    assert checked(good, bad) == 1 and f"{bad}:14: a loop must hold a step with at_most" in capsys.readouterr().out
    assert checked("nowhere", bad, good) == 2
    shown = capsys.readouterr()
    assert f"{bad}:14: " in shown.out and shown.err.startswith("nowhere: a job card must be a file")
    with pytest.raises(BadInput):
        checked()


def test_check_can_speak_json_alone(capsys):
    """--json leaves one JSON object on standard output, with file, line and text of each fault."""
    bad = str(CASES / "bad-flow.yaml")
    assert checked("--json", bad, "learning", "nowhere") == 2
    shown = capsys.readouterr()
    flow, learning, nowhere = json.loads(shown.out)["cards"]
    assert shown.err == "" and learning["fine"] and "error" in nowhere and not nowhere["fine"]
    assert flow["faults"][0] == {"file": bad, "line": 14, "text":
                                 "a loop must hold a step with at_most, but faces → brush → faces has none"}


def test_check_prints_the_schema(capsys):
    """--schema prints the very schema that is tested above."""
    assert checked("--schema") == 0 and json.loads(capsys.readouterr().out) == json_schema()
