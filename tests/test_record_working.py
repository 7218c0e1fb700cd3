"""`companion record` shows what the companion worked out, with its figures, and where the time of the job went."""
from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from logmaker import opened
from test_record import Page, logged, record  # noqa: F401  (the fixture)

from companion.core import events as ev
from companion.core.card import WaitOf, load_card
from companion.core.log.journal import Entry
from companion.office.record import write_record
from companion.office.account import Account
from companion.office.record.paper.svg import drawing
from companion.office.record.side_by_side import side_by_side
from companion.office.record.times import times
from companion.office.record.worked_cells import probability

ROOT = Path(__file__).parent.parent
INJECTOR = (ROOT / "checklists" / "common-rail-injector.yaml").read_text(encoding="utf-8")
MINUTE = 60_000

FIRST = opened(card_name="common-rail-injector", card_text=INJECTOR, tools_name="tools.yaml", tools_sha256="ab" * 32,
               card_sha256=sha256(INJECTOR.encode()).hexdigest(), tools_text="no list at all: [")
WRENCH = ev.ValueLogged(
    step="injector-union", name="injector union torque", value="24.0", unit="N·m", said="21.4", said_unit="N·m",
    low=Decimal(22), high=Decimal(26), tool="middle wrench", uncertainty=Decimal("0.721306"),
    probability=Decimal("0.999999963690"), arm=Decimal(340), adaptor=Decimal(42), adaptor_angle=Decimal(0))
DOUBTFUL = ev.ValueLogged(
    step="coil", name="injector resistance", value="1.88", unit="Ω", said="1.88", said_unit="Ω", low=Decimal("1.2"),
    high=Decimal("1.9"), verdict="too close", side="inside", tool="hand meter", uncertainty=Decimal("0.06"),
    probability=Decimal("0.747507"), reason="the meter has no more digits")
ROSE = ev.ValueLogged(step="rail-pressure-held", name="rail pressure held", value="1", unit="bar", said="1",
                      said_unit="bar", high=Decimal(4), verdict="outside", rose_from=Decimal(0))
LEAK_OFF = ev.ReadingsCompared(
    step="suspect", name="leak-off", unit="ml", cylinders=("cylinder 1", "cylinder 2", "cylinder 3", "cylinder 4"),
    values=("22", "24", "61", "23"), median=Decimal("23.5"), outlier="cylinder 3", by=("ratio", "Grubbs"),
    over_limit=("cylinder 3",))
EVENTS = [
    FIRST, WRENCH, DOUBTFUL, ROSE,
    ev.ToolJudged(step="clamp-wrench", name="clamp wrench", tool="middle wrench", verdict="unfit", why="below range",
                  unit="N·m", limit=Decimal(20), target=Decimal(8), would_do=("short wrench",)),
    ev.ToolJudged(step="clamp-wrench", name="clamp wrench", tool="short wrench", verdict="fit", unit="N·m"),
    ev.CountLogged(step="rags-out", name="rags", count=6), LEAK_OFF,
    ev.EvidenceCompared(step="suspect", name="suspect cylinder", said="cylinder two", found="cylinder three",
                        verdict="disagree", why=("You say cylinder two, but cylinder three was found.",)),
    ev.CodesLogged(step="stored-after", name="stored codes after", codes=("P0269", "P0203")),
    ev.CodesCompared(step="stored-after", name="stored codes after", came_back=("P0269",), ours_left=("P0203",)),
    ev.CodesCompared(step="permanent-after", name="permanent codes after"),
    ev.SpellingsCompared(step="part-code-again", name="part code again", against="part code", verdict="different",
                         places=("3", "5")),
    ev.VinChecked(step="vehicle", name="vehicle number", verdict="does not fit"),
    ev.LineKeptClosed(step="crack-union", why="pressure rose", again="run-down-wait")]


@pytest.fixture(scope="module")
def page(tmp_path_factory) -> Page:
    """The page of a log with every kind of worked-out fact, and with a tool list that cannot be read."""
    log = tmp_path_factory.mktemp("working") / "van.jsonl"
    log.write_bytes(b"".join(logged(EVENTS, [(1000 * n, 1000 * n) for n in range(len(EVENTS))])[0]))
    return Page(write_record(log).read_text("utf-8"))


@pytest.mark.parametrize(("table", "place", "facts"), [
    ("Behind the values", 0, {"Value": "24.0 N·m", "Tool": "middle wrench",
                              "Probability of being inside": "above 99.99 %",
                              "Reading on the wrench": "21.4 N·m, arm 340 mm, adaptor 42 mm",
                              "Expanded uncertainty, k = 2": "± 0.721306 N·m"}),
    ("Measured values", 1, {"Verdict": "too close to call", "Reason": "the meter has no more digits"}),
    ("Behind the values", 1, {"Tool": "hand meter", "Probability of being inside": "74.75 %", "Reading alone": "inside",
                              "Reading on the wrench": ""}),
    ("Behind the values", 2, {"Value": "1 bar", "Rose from": "0 bar", "Tool": ""}),
    ("Tools against their tasks", 0, {"Tool": "middle wrench", "Verdict": "unfit",
                                      "Tools that would do": "short wrench",
                                      "Why not": "below range; its range begins at 20 N·m; needed: 8 N·m"}),
    ("Tools against their tasks", 1, {"Tool": "short wrench", "Verdict": "fit", "Why not": ""}),
    ("Counts", 0, {"Count": "6", "Must be": "no figure", "Verdict": "noted"}),
    ("Readings of the cylinders", 0, {"Cylinder": "cylinder 1", "Value": "22 ml", "Median": "23.5 ml", "Finding": ""}),
    ("Readings of the cylinders", 2, {"Cylinder": "cylinder 3", "Finding": "stands out", "Named by": "ratio, Grubbs"}),
    ("What was said against", 0, {"Said": "cylinder two", "Found": "cylinder three", "Verdict": "disagree",
                                  "What disagrees": "You say cylinder two, but cylinder three was found."}),
    ("Fault codes", 1, {"Code": "P0203", "Meaning": "injector circuit open, cylinder 3"}),
    ("Codes before against", 0, {"Code": "P0269", "Came out": "came back",
                                 "Meaning": "contribution or balance, cylinder 3"}),
    ("Codes before against", 1, {"Code": "P0203", "Came out": "our own, still there"}),
    ("Codes before against", 2, {"Code": "none", "Came out": "none before, none after"}),
    ("Spelled twice", 0, {"Against": "part code", "Verdict": "different", "Places that differ": "3, 5"}),
    ("Vehicle numbers", 0, {"What": "vehicle number", "Check character": "does not fit"}),
    ("Lines kept closed", 0, {"Why": "pressure rose", "Back to step": "run-down-wait"}),
])
def test_every_worked_out_fact_is_in_its_table(page, table, place, facts):
    """The verdict and the figures that it came from stand in one line, under words that need no explanation."""
    row = page.table(table)[place]
    assert {head: row.get(head) for head in facts} == facts


def test_what_was_not_in_order_comes_first(page):
    """What no finding says still stands on top: an unfit tool, a code spelled unlike, a line kept closed."""
    top = page.words[:page.words.index("Stages in time")]
    for words in ("The middle wrench, chosen as clamp wrench, is unfit: below range", "Part code again differs",
                  "the check character does not fit", "At step crack-union the line was kept closed: pressure rose."):
        assert words in top, words
    assert "short wrench, chosen" not in top and "rags" not in top


def test_the_head_names_the_tool_list_and_survives_one_that_cannot_be_read(page):
    """Name and hash as logged; the text itself, good or bad, is left to the log."""
    assert page.facts["Tool list"] == "tools.yaml" and page.facts["Tool list SHA-256"] == "ab" * 32
    assert "no list at all" not in page.words


def test_the_same_is_in_the_text_and_in_the_json(record):
    """One record in three forms: no fact is for the page alone."""
    lines = logged(EVENTS, [(1000 * n, 1000 * n) for n in range(len(EVENTS))])[0]
    text, data = record(lines, "--text")[1], json.loads(record(lines, "--json")[1])
    assert "BEHIND THE VALUES" in text and "stands out" in text and "TIME BY STAGE" in text
    assert data["values"][0]["probability"] == "0.999999963690" and data["values"][0]["tool"] == "middle wrench"
    assert data["comparisons"][0]["values"] == ["22", "24", "61", "23"] and data["comparisons"][0]["median"] == "23.5"
    assert data["codes_compared"][0]["meanings"]["P0203"] == "injector circuit open, cylinder 3"
    assert data["tools"] == {"name": "tools.yaml", "sha256": "ab" * 32} and data["counts"][0]["must_be"] is None


# -- the picture -------------------------------------------------------------------------------------------------------

def drawn(**changes: object) -> list[dict]:
    """The parts of one comparison's picture that have a class, and its words."""
    one = {"name": "leak-off", "unit": "ml", "line": 9, "cylinders": list(LEAK_OFF.cylinders), "median": "23.5",
           "values": list(LEAK_OFF.values), "outlier": "cylinder 3", "over_limit": ["cylinder 3"], **changes}
    charts = side_by_side({"comparisons": [one]})
    return [given for _, given in Page("".join(map(drawing, charts))).elements]


def test_the_bars_are_as_long_as_the_readings_and_only_the_outlier_is_hatched(page):
    """22 : 24 : 61 : 23 in width (computed), a dashed line at the median, and the word beside the pattern."""
    bars = [given for given in drawn() if given.get("class") in ("reading", "outlier")]
    widths = [float(bar["width"].rstrip("%")) for bar in bars]
    assert widths == [pytest.approx(99 * reading / 61, abs=0.01) for reading in (22, 24, 61, 23)]
    assert [bar.get("fill") for bar in bars] == [None, None, "url(#readings-9-hatch)", None]
    line = next(given for given in drawn() if given.get("class") == "median")
    assert float(line["x1"].rstrip("%")) == pytest.approx(99 * 23.5 / 61, abs=0.01)
    assert "61 ml – stands out" in page.words and "median 23.5 ml" in page.words


def test_corrections_on_both_sides_of_zero_start_at_zero():
    """Balance corrections may be negative: from −3 to 1, zero lies at three quarters (computed)."""
    bars = [given for given in drawn(values=["-3", "1", "0", "1"], median="0.5")
            if given.get("class") in ("reading", "outlier")]
    places = [(float(bar["x"].rstrip("%")), float(bar["width"].rstrip("%"))) for bar in bars]
    assert places == [(0, 74.25), (74.25, 24.75), (74.25, 0.2), (74.25, 24.75)]


@pytest.mark.parametrize("values", [["(erased)"] * 4, ["NaN", "1", "2", "3"], ["1e999999", "1", "2", "3"],
                                    ["0"] * 4, []])
def test_what_is_no_number_is_not_drawn(values):
    """A log may hold any text as a reading; the table shows it, no picture is made of it."""
    assert drawn(values=values, median=None) == []


@given(st.lists(st.decimals(-10**6, 10**6, places=2), min_size=2, max_size=12))
def test_no_bar_leaves_the_picture(values):
    """Whatever the readings, every bar and the median lie between the edges."""
    parts = drawn(values=[format(value, "f") for value in values],
                  cylinders=[f"cylinder {n}" for n in range(len(values))],
                  median=format(sorted(values)[len(values) // 2], "f"))
    for part in parts:
        if part.get("class") in ("reading", "outlier"):
            assert 0 <= float(part["x"].rstrip("%")) and float(part["width"].rstrip("%")) > 0
            assert float(part["x"].rstrip("%")) + float(part["width"].rstrip("%")) <= 99.5
        elif part.get("class") == "median":
            assert 0 <= float(part["x1"].rstrip("%")) <= 99.01


@pytest.mark.parametrize(("given", "said"), [
    (None, ""), ("", ""), ("text", ""), ("0.747507", "74.75 %"), ("1.00000000000", "above 99.99 %"),
    ("0.999968", "above 99.99 %"), ("0.00000", "below 0.01 %"), ("0.5", "50.00 %")])
def test_a_probability_is_never_rounded_to_certainty(given, said):
    """With an uncertainty no value is surely inside or outside (JCGM 106), so neither 0 % nor 100 % is shown."""
    assert probability({"probability": given}) == said


# -- time --------------------------------------------------------------------------------------------------------------

@lru_cache(maxsize=None)
def injector():
    return load_card(INJECTOR, "card", checked=False)


def account(*events: tuple[int, ev.Event]) -> Account:
    """Entries at the given milliseconds on one machine's clock."""
    made = tuple(Entry(n, "2026-11-25T08:00:00.000Z", up, event) for n, (up, event) in enumerate([(0, FIRST), *events]))
    return Account("van.jsonl", {}, made, "")


def test_the_time_is_told_apart_by_kind_against_the_estimate():
    """A wait is a wait, a drive a drive, a gap is away; all else is hands-on; the estimate is the card's."""
    found = {one["stage"]: one for one in times(account(
        (MINUTE, ev.StepBegun(step="leak-off-run")), (3 * MINUTE, ev.StepBegun(step="suspect")),
        (8 * MINUTE, ev.JobResumed(step="suspect", boot="b", away_ms=60 * MINUTE, same_boot=False)),
        (10 * MINUTE, ev.StepBegun(step="back")), (40 * MINUTE, ev.StepEnded(step="back"))))}
    prove, road, whole = found["prove the cylinder"], found["road test"], found[""]
    assert found["before the first step"]["hands_on"] == MINUTE
    assert (prove["waits"], prove["hands_on"], prove["away"]) == (2 * MINUTE, 2 * MINUTE, 60 * MINUTE)
    assert prove["worked"] == 4 * MINUTE
    assert prove["estimate"] == injector().stage_minutes["prove the cylinder"] * MINUTE
    assert prove["difference"] == prove["worked"] - prove["estimate"] and road["road_test"] == 30 * MINUTE
    assert whole["worked"] == 35 * MINUTE and whole["away"] == 60 * MINUTE
    assert whole["estimate"] == injector().minutes * MINUTE
    assert found["hand over"]["worked"] == 0, "a stage that was not reached still shows its estimate"


STEPS = [step.id for step in injector().steps]


@given(st.lists(st.tuples(st.integers(0, 10**7), st.sampled_from(STEPS), st.booleans()), max_size=30))
def test_no_time_is_lost_or_counted_twice(moves):
    """The stages' times add up to what passed between the entries, gaps as the log gives them."""
    up, away, events = 0, 0, []
    for ms, step, resumed in moves:
        up += ms
        away += 7 * resumed
        events.append((up, ev.JobResumed(step=step, boot="b", away_ms=7, same_boot=True) if resumed else
                       ev.StepBegun(step=step)))
    found = account(*events)
    *stages, whole = times(found)
    assert whole["worked"] == found.elapsed[-1] == sum(one["worked"] for one in stages)
    assert whole["away"] == away == sum(one["away"] for one in stages)
    assert whole["worked"] == whole["hands_on"] + whole["waits"] + whole["road_test"]


def test_a_log_without_a_card_still_tells_its_time():
    """Stages are then the steps' own names, and there is no estimate."""
    bare = account((0, ev.StepBegun(step="somewhere")), (MINUTE, ev.StepEnded(step="somewhere")))
    first = bare.entries[0]._replace(event=replace(FIRST, card_text="no card"))
    bare = replace(bare, entries=(first, *bare.entries[1:]))
    assert [(one["stage"], one["hands_on"], one["estimate"]) for one in times(bare)] == [
        ("somewhere", MINUTE, None), ("", MINUTE, None)]
    assert times(replace(bare, entries=())) == []


def test_the_shipped_card_has_waits_and_a_drive_to_tell_apart():
    """Guards the tests above: their steps are what they are taken for."""
    assert isinstance(injector().step("leak-off-run").answer, WaitOf) and injector().step("back").on_the_road
