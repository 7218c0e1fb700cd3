"""The list of measuring tools: every fault on its line, and which list a job gets."""
from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.core.card import Card, CardErrors, load_card
from companion.core.toolbox import ToolErrors, is_tool_list, load_tools
from companion.edge.cards import shipped_folder
from companion.edge.opening import NO_TOOLS, opened, today_of, tools_for
from companion.errors import BadInput

TODAY = date(2026, 11, 25)
SMALLEST = (Path(__file__).parent / "cases" / "cards" / "smallest.yaml").read_text(encoding="utf-8")
HEAD = "tool_list: 1\npractice: true\ntools:\n"
WRENCH = "  - {name: short wrench, kind: torque wrench, unit: N·m, low: 5, high: 30}\n"


def faults(text: str) -> list[tuple[int, str]]:
    """What is wrong with a list: line and words."""
    with pytest.raises(ToolErrors) as raised:
        load_tools(text, "x", TODAY)
    assert raised.value.errors == tuple(f"x:{fault.line}: {fault.text}" for fault in raised.value.faults)
    return [(fault.line, fault.text) for fault in raised.value.faults]


def one(keys: str) -> str:
    """A practice list of one tool with these keys."""
    return f"{HEAD}  - name: long wrench\n    {keys}\n"


def real(calibrated: str) -> str:
    """A real list with one calibration."""
    return HEAD.replace("true", "false") + f"{WRENCH}  - name: hand meter\n    kind: meter\n    unit: V\n    {calibrated}\n"


def test_a_tool_is_as_it_is_written():
    """Every key reaches the tool, figures exact; what is left out has the usual value."""
    text = one("kind: torque wrench\n    unit: lbf·in\n    low: 40.0\n    high: 200\n    iso_class: II A\n    uncertainty: 1.50\n"
               "    arm: 210\n    calibrated: 2026-03-01\n    months: 6\n    uses: 12\n    most_uses: 900") + WRENCH
    made = load_tools(text, "x", TODAY)
    tool = made.get("long wrench")
    assert (str(tool.low), tool.high, tool.iso_class, str(tool.uncertainty), tool.arm, tool.calibrated, tool.months,
            tool.uses, tool.most_uses) == ("40.0", 200, "II A", "1.50", 210, date(2026, 3, 1), 6, 12, 900)
    plain = made.get("short wrench")
    assert (plain.calibrated, plain.months, plain.uses, plain.most_uses, plain.iso_class, plain.uncertainty) == (
        None, 12, 0, 5000, "", None)
    assert made.practice and made.of_kind("torque wrench") == made.tools == (tool, plain)
    assert made.of_kind("meter") == () and made.get("lost wrench") is None


@given(st.integers(0, 9999))
def test_days_ago_count_back_from_the_day_of_the_job(days):
    """A practice list never goes out of date: its calibrations move with the day on which it is read."""
    text = one(f"kind: meter\n    unit: V\n    calibrated: {days} days ago")
    assert load_tools(text, "x", TODAY).tools[0].calibrated == TODAY - timedelta(days=days)


def test_only_a_practice_list_may_say_days_ago():
    """A real tool has a certificate, and that has a day."""
    assert faults(real("calibrated: 90 days ago")) == [(8, "a real tool must give the day of its calibration")]
    assert load_tools(real("calibrated: 2026-03-01"), "x", TODAY).tools[1].calibrated == date(2026, 3, 1)


@pytest.mark.parametrize("text, found", [
    ("", [(1, "a tool list must hold something, but this is empty")]),
    ("- a\n", [(1, 'a tool list must be a mapping of keys, such as "tool_list: 1"')]),
    ("tool_list: 1\n\x07", [(2, "a tool list must be plain text, but holds the character U+0007")]),
    (HEAD + WRENCH + "---\nmore: 1\n", [(5, "a file must hold one tool list, but a second document begins here")]),
    (HEAD + "  - &a {name: b}\n", [(4, "anchors are not used in tool lists")]),
    ("tool_list: 1\npractice: true\ntools: [\n", [(4, "this must be plain YAML, but did not find expected node content")]),
    ("tool_list: 2\ntools: []\nmood: good\n",
     [(1, 'the key "practice" must stand here, but is missing'), (1, 'tool_list must be \'1\', not "2"'),
      (2, "tools must have at least 1 entries, not 0"), (3, 'unknown key "mood"')]),
    (HEAD + WRENCH * 61, [(3, "tools must have at most 60 entries, not 61")]),
    (one("unit: V"), [(4, 'the key "kind" must stand here, but is missing')]),
    (one("kind: meter\n    unit: V\n    owner: me"), [(7, 'unknown key "owner"')]),
    (one("kind: meter\n    unit: V\n    kind: wrench"), [(7, 'each key must stand once, but "kind" stands on line 5 already')]),
    (one("kind: meter\n    unit: Nm"), [(6, 'unknown unit "Nm"; did you mean "N·m"?')]),
    (one("kind: meter\n    unit: volt"), [(6, 'unknown unit "volt"')]),
    (one("kind: meter\n    unit: V\n    high: lots"), [(7, 'high must be a number such as 7.5, not "lots"')]),
    (one("kind: meter\n    unit: V\n    uses: -1"), [(7, 'uses must be a whole number, not "-1"')]),
    (one("kind: meter\n    unit: V\n    calibrated: last week"),
     [(7, 'calibrated must be a day such as 2026-03-01, not "last week"')]),
    (one("kind: meter\n    unit: V\n    calibrated: 2026-02-30"),
     [(7, 'calibrated must be a day such as 2026-03-01, not "2026-02-30"')]),
    (one("kind: meter\n    unit: V\n    calibrated: [2026-02-03]"),
     [(7, "calibrated must be a day such as 2026-03-01, not a list")]),
    (one("kind: wrench\n    unit: N·m\n    low: 30\n    high: 5"),
     [(4, "tool long wrench: the range must end above its start, not 30 to 5")]),
    (one("kind: wrench\n    unit: N·m\n    arm: 0"), [(4, "tool long wrench: arm must be above 0 mm, not 0")]),
    (one("kind: wrench\n    unit: N·m\n    months: 0"), [(4, "tool long wrench: months must be 1 or more, not 0")]),
    (one("kind: wrench\n    unit: N·m\n    uncertainty: -1"), [(4, "tool long wrench: uncertainty must be 0 or more, not -1")]),
    (one("kind: meter\n    unit: V\n    iso_class: II A"),
     [(4, "tool long wrench: an ISO 6789 class must belong to a torque tool, not one in V")]),
    (one("kind: wrench\n    unit: N·m\n    iso_class: IX"),
     [(4, "ISO 6789 class: must be I A to I E or II A to II G, not 'IX'")]),
])
def test_every_fault_stands_on_its_line(text, found):
    """What is wrong is said in the words of a tool list, on the line where it stands."""
    assert faults(text) == found


def test_faults_of_several_tools_are_told_at_once_in_the_order_of_their_lines():
    """One pass finds them all."""
    text = HEAD + WRENCH + WRENCH.replace("short", "long").replace("N·m", "Nm") + WRENCH.replace(
        "short wrench", "hand meter").replace("high: 30", "high: 3") + WRENCH
    assert [line for line, _ in faults(text)] == [5, 6, 7]


@pytest.mark.parametrize("name, words", [
    ("short wrench", 'a tool must stand once, but "short wrench" stands twice'),
    ("sort wrench", 'the name of a tool must not sound like another, but "sort wrench" sounds like "short wrench"'),
    ("repeat", 'the name of a tool must not sound like another, but "repeat" sounds like "repeat"'),
    ("none of these", 'the name of a tool must not sound like another, but "none of these" sounds like "none of these"'),
    ("very " * 8 + "long", "the name of a tool must be at most 40 characters, not 44"),
    ("Short Wrench", 'name must be an answer as it is said, in lower-case words without punctuation, not "Short Wrench"'),
])
def test_names_can_be_told_apart_by_ear(name, words):
    """Names are spoken: none is or sounds like another of its kind, or like what can always be said."""
    found = faults(HEAD + WRENCH + WRENCH.replace("short wrench", name))
    assert (5, words) in found and {line for line, _ in found} == {5}


def test_tools_of_other_kinds_may_sound_alike():
    """A card asks for one kind at a time, so only its tools are live together."""
    other = WRENCH.replace("short", "sort").replace("torque wrench", "angle gauge")
    assert len(load_tools(HEAD + WRENCH + other, "x", TODAY).tools) == 2


@pytest.mark.parametrize("text, meant", [
    (HEAD, True), ("# ours\n---\n'tool_list': 1", True), ("\ufefftool_list: 1", True), ("{tool_list: 1}", True),
    ("practice: true\ntool_list : [", True), ("# tool_list: 1\ncard: 1", False), (SMALLEST, False), ("", False),
    ("tools: [tool_list]", False),
])
def test_a_tool_list_is_known_by_its_key(text, meant):
    """Even a list too broken to be read is not taken for a card."""
    assert is_tool_list(text) is meant


LINES = st.sampled_from(["tool_list: 1", "practice: true", "practice: false", "tools:", "  - name: a", "  - {name: b, kind: k,"
                         " unit: V}", "    kind: k", "    unit: N·m", "    low: 5", "    high: 1e9", "    arm: 0", "    - x", "?",
                         "    calibrated: 9999 days ago", "    calibrated: {a: 1}", "    months: 999999999", "---", "\t", "'",
                         "    iso_class: II Z", "    calibrated: ２０２６-01-01", "    uncertainty_percent: 0.000001"])


@given(st.one_of(st.text(), st.lists(LINES, max_size=14).map("\n".join),
                 st.text(max_size=30).map(lambda text: one(f"kind: k\n    unit: V\n    calibrated: {text}")),
                 st.text(max_size=30).map(lambda text: HEAD + WRENCH.replace("5", text))))
def test_any_text_gives_tools_or_faults(text):
    """Whatever the file holds, nothing but ToolErrors is raised, and every fault has a line of the file."""
    try:
        assert load_tools(text, "x", TODAY).tools
    except ToolErrors as error:
        assert error.faults and all(1 <= fault.line <= text.count("\n") + 1 for fault in error.faults)


# -- which list a job gets ---------------------------------------------------------------------------------------------

NEEDY = SMALLEST.replace("answer: done", "answer: {tool: wrench, kind: torque wrench}\n        then: {none: end}")


OTHERS = {"boot": "b", "key": "k", "ear": "typed", "voice": "none"}


def card(text: str = NEEDY, practice: bool = True) -> Card:
    """A card that asks for a tool, unless another is given."""
    return load_card(text if practice else text.replace("practice: true", "practice: false"), "x")


@pytest.fixture
def folder(tmp_path) -> Path:
    """A folder with a card in it."""
    (tmp_path / "needy.yaml").write_text(NEEDY, encoding="utf-8")
    return tmp_path


def put(folder: Path, name: str, text: str) -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_the_list_beside_the_card_is_taken(folder):
    """A card on the disk brings the tools.yaml that lies beside it, under its path."""
    beside = put(folder, "tools.yaml", HEAD + WRENCH)
    assert tools_for(card(), str(folder / "needy.yaml")) == (str(beside), HEAD + WRENCH)


def test_a_shipped_card_brings_the_shipped_list():
    """Its name in the log does not depend on where the program is installed."""
    found = tools_for(card(), "learning")
    assert found.name == "checklists/tools.yaml"
    assert found.text == (shipped_folder() / "tools.yaml").read_text(encoding="utf-8")
    assert today_of(found).get("short wrench").arm == Decimal(210)


def test_a_list_that_is_named_comes_first(folder):
    """--tools FILE is taken instead of the list beside the card, also where the card asks for no tool."""
    put(folder, "tools.yaml", HEAD + WRENCH)
    mine = put(folder, "mine.yaml", HEAD + WRENCH.replace("short", "long"))
    for asked in (card(), card(SMALLEST)):
        assert today_of(tools_for(asked, str(folder / "needy.yaml"), mine)).tools[0].name == "long wrench"


def test_a_card_that_asks_for_no_tool_needs_no_list(folder):
    """A missing or faulty list beside it is not even read."""
    put(folder, "tools.yaml", "tool_list: [")
    assert tools_for(card(SMALLEST), str(folder / "needy.yaml")) == NO_TOOLS and today_of(NO_TOOLS) is None
    job = opened(card(SMALLEST), **OTHERS)
    assert (job.tools_name, job.tools_text, job.tools_sha256) == ("", "", "")


def test_a_missing_list_is_told_with_what_to_do(folder):
    """The message names the file that must be written."""
    with pytest.raises(BadInput) as raised:
        tools_for(card(), str(folder / "needy.yaml"))
    assert str(raised.value) == (f"{folder / 'tools.yaml'}: the card asks for measuring tools, so a tool list must stand "
                                 "here. Write one, or name it with --tools")


@pytest.mark.parametrize("name", ["nowhere.yaml", ".", "a" * 300, "a\0b"])
def test_a_named_list_that_is_no_file_is_told(folder, name):
    """A missing file, a folder and impossible names are wrong use, never another exception."""
    with pytest.raises(BadInput, match="the tool list must be a file, but there is none of this name$"):
        tools_for(card(SMALLEST), str(folder / "needy.yaml"), folder / name)


def test_invented_tools_are_refused_for_a_real_card(folder):
    """A real job is never measured with tools that do not exist; a practice job may use either list."""
    mine = put(folder, "mine.yaml", HEAD + WRENCH)
    with pytest.raises(BadInput, match="holds invented tools, for practice cards only. Name your own list with --tools"):
        tools_for(card(practice=False), str(folder / "needy.yaml"), mine)
    put(folder, "mine.yaml", HEAD.replace("true", "false") + WRENCH)
    for practice in (False, True):
        assert not today_of(tools_for(card(practice=practice), str(folder / "needy.yaml"), mine)).practice


@pytest.mark.parametrize("data, kind, words", [
    (HEAD.encode() + b"  - {name: a}\n", ToolErrors, ':4: the key "kind" must stand here, but is missing'),
    (b"\xff\xfe", CardErrors, ":1: a tool list must be text in UTF-8, but this is not"),
    (b"#" * 1_000_001, CardErrors, ":1: a tool list must be at most 1,000,000 bytes, not 1,000,001"), (b"", ToolErrors, ":1: a tool list must hold something, but this is empty"),
])
def test_a_faulty_list_opens_no_job(folder, data, kind, words):
    """Its faults are told with file and line before anything is opened."""
    path = folder / "tools.yaml"
    path.write_bytes(data)
    with pytest.raises(kind) as raised:
        tools_for(card(), str(folder / "needy.yaml"))
    assert f"{path}{words}" in str(raised.value)


def test_the_log_gets_the_whole_list_with_its_hash(folder):
    """What the job was opened with can be proved later, from the log alone."""
    put(folder, "tools.yaml", HEAD + WRENCH)
    tools = tools_for(card(), str(folder / "needy.yaml"))
    job = opened(card(), tools, **OTHERS)
    assert (job.tools_name, job.tools_text) == tools
    assert job.tools_sha256 == sha256((HEAD + WRENCH).encode()).hexdigest()
