"""`companion check`, the cards on the disk, and the JSON Schema that editors are given."""
from __future__ import annotations

import argparse
import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from companion.core.card import CardErrors, load_card
from companion.core.card.form import json_schema
from companion.edge import check
from companion.edge.cards import MOST_BYTES, read_card, shipped
from companion.errors import BadInput

CASES = Path(__file__).parent / "cases" / "cards"
SMALLEST = (CASES / "smallest.yaml").read_text(encoding="utf-8")
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
    ("title:", "titel:"), ("answer: done", "answer: maybe"), ("answer: done", "answer: {tool: wrench}"),
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
    assert checked(good) == 0 and capsys.readouterr().out == f"{good}: fine, 1 step, practice only\n"
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


TOOLS = "tool_list: 1\npractice: true\ntools:\n  - {name: short wrench, kind: torque wrench, unit: N·m, low: 5, high: 30}\n"


def test_check_knows_a_tool_list_by_its_key_and_the_shipped_one_by_name(tmp_path, monkeypatch, capsys):
    """`tools` and a path say how many tools there are; a list beside cards is checked in one go with them."""
    monkeypatch.chdir(Path(__file__).parent.parent)
    assert checked("checklists/tools.yaml") == checked("tools", "learning") == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown[:2] == ["checklists/tools.yaml: fine, 5 tools, practice only", "tools: fine, 5 tools, practice only"]
    mine = tmp_path / "wrenches.txt"
    mine.write_text(TOOLS.replace("true", "false"), encoding="utf-8")
    assert checked(str(mine)) == 0 and capsys.readouterr().out == f"{mine}: fine, 1 tool\n"


@pytest.mark.parametrize("old, new, line, text", [
    ("N·m", "Nm", 4, 'unknown unit "Nm"; did you mean "N·m"?'), ("low: 5", "low: x", 4, 'low must be a number such as 7.5, not "x"'),
    ("tools:", "tools: [", 4, "this must be plain YAML, but did not find expected node content"),
    ("practice: true\n", "", 1, 'the key "practice" must stand here, but is missing'),
])
def test_faults_of_a_tool_list_stand_with_file_and_line(tmp_path, capsys, old, new, line, text):
    """As with cards: FILE:LINE: text, the same in JSON, and exit code 1; even where the list cannot be read at all."""
    path = tmp_path / "tools.yaml"
    path.write_text(TOOLS.replace(old, new), encoding="utf-8")
    assert checked(str(path)) == 1 and capsys.readouterr().out == f"{path}:{line}: {text}\n"
    assert checked("--json", str(path)) == 1
    assert json.loads(capsys.readouterr().out) == {"cards": [
        {"card": str(path), "fine": False, "faults": [{"file": str(path), "line": line, "text": text}]}]}


def test_check_tells_a_program_which_is_a_tool_list(capsys):
    """A fine list has its count of tools in JSON, a fine card its count of steps."""
    assert checked("--json", "tools", "learning") == 0
    tools, card = json.loads(capsys.readouterr().out)["cards"]
    assert tools == {"card": "tools", "fine": True, "faults": [], "tools": 5, "practice": True}
    assert "tools" not in card and card["steps"] > 1
