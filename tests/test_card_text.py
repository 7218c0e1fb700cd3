"""The text of a card: hostile text ends in one clear error, quickly, and nothing but CardErrors ever comes out."""
from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.core.card import CardErrors, load_card

CASES = Path(__file__).parent / "cases" / "cards"
SMALLEST = (CASES / "smallest.yaml").read_text(encoding="utf-8")
WHOLE = (CASES / "whole.yaml").read_text(encoding="utf-8")
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
