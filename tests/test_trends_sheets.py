"""The trends as shown: tables for a terminal, pictures for the page."""
from __future__ import annotations

import random
import re
from xml.etree import ElementTree

import pytest

from companion.office.trends import figures, sheets as shown
from companion.office.trends.plots import control_chart, rate_bars, stage_bars
from companion.office.trends.drift import Drift, Series
from companion.office.trends.rates import Rate
from companion.office.trends.stages import StageTime
from many_jobs import database, job

_NASTY = '<script>"&'


@pytest.fixture(scope="module")
def made() -> list[shown.Sheet]:
    """All sheets of 80 made-up jobs, with one wrench that drifts and a name that would break a page."""
    dice, logs = random.Random(1), [f"job-{place}" for place in range(80)]
    return list(shown.sheets(database(
        jobs=[job(log, 3 * place, part=_NASTY, vehicle=f"VAN{place % 20}", worked_ms=900_000)
              for place, log in enumerate(logs)],
        findings=[{"log": log, "name": "value-outside"} for log in logs[:20]],
        stages=[{"log": log, "stage": "learning", "worked_ms": 600_000, "estimate_ms": 500_000} for log in logs],
        values=[{"log": log, "name": _NASTY, "unit": "N·m", "tool": "short wrench", "nominal": 8.0,
                 "value": dice.gauss(8, 0.1) + 0.01 * place} for place, log in enumerate(logs)])))


def test_every_trend_has_a_sheet(made):
    """Headings and rows fit each other, and everything says how it was counted."""
    assert len({sheet.title for sheet in made}) == len(made) == 13
    for sheet in made:
        assert sheet.says and all(len(row) == len(sheet.heads) for row in sheet.rows)
        assert sheet.rows and all(isinstance(cell, str) for row in sheet.rows for cell in row)


def test_the_sections_are_well_formed_and_run_nothing(made):
    """Each parses as XML, holds no script and no style, and every id in it stands once."""
    page = f"<body>{''.join(map(shown.section, made))}</body>"
    tree = ElementTree.fromstring(page)
    assert not [one for one in tree.iter() if one.tag in ("script", "style") or {"style", "onclick"} & set(one.attrib)]
    ids = [one.attrib["id"] for one in tree.iter() if "id" in one.attrib]
    assert len(ids) == len(set(ids))
    for drawing in tree.iter("svg"):
        assert {drawing.find("title").attrib["id"], drawing.find("desc").attrib["id"]} == set(
            drawing.attrib["aria-labelledby"].split())
        assert drawing.find("desc").text


def test_the_drifting_wrench_is_drawn(made):
    """One control chart, its words say how the tool stands, and the table has the same figures."""
    sheet, = (one for one in made if one.title.startswith("Tools"))
    assert sheet.pictures.count("<svg") == 1 and "outside its limits" in sheet.pictures
    assert sheet.rows[0][5] == "drifts" and sheet.rows[0][6].startswith("+")


def _readings(tool: str, jobs: int) -> list[dict]:
    return [{"log": f"j{place}", "name": "torque", "unit": "N·m", "tool": tool, "value": 8.0} for place in range(jobs)]


@pytest.mark.parametrize("jobs, rows, says", [
    ({"a": 25, "b": 18, "c": 2}, ["a"],
     "2 tools (each with one value read on it) have fewer than 21 jobs yet: the b (torque) needs 3 more, the last of "
     "them 19 more. "),
    ({"a": 25, "b": 20}, ["a"], "1 tool (with one value read on it) has fewer than 21 jobs yet: the b (torque) needs "
                                "1 more. "),
    ({"a": 25}, ["a"], "Each job is one point"),
    ({"a": 7}, [], "No tool can be judged yet. 1 tool (with one value read on it) has fewer than 21 jobs yet: the a "
                   "(torque) needs 14 more. "),
    ({}, [], "No tool can be judged yet: 21 jobs with a reading on the same tool are needed. ")])
def test_tools_with_too_few_jobs_are_one_sentence(jobs, rows, says):
    """Only those that can be judged are rows; how many more jobs the others need is told."""
    db = database(jobs=[job(f"j{place}", place) for place in range(25)],
                  values=[row for tool, count in jobs.items() for row in _readings(tool, count)])
    sheet, = (one for one in shown.sheets(db) if one.title.startswith("Tools"))
    assert [row[1] for row in sheet.rows] == rows and sheet.says.startswith(says)


def test_what_no_log_names_comes_last():
    """In tables and in drawings, for jobs that cannot be read."""
    db = database(jobs=[job("j1", 1, mechanic="", part=""), job("j2", 2, mechanic="A B", part="P1")],
                  findings=[{"log": "j1", "name": "value-outside"}])
    by_mechanic = next(one for one in shown.sheets(db) if one.title.endswith("by mechanic"))
    assert [row[0] for row in by_mechanic.rows] == ["A B", "not named"]
    assert by_mechanic.pictures.index("A B") < by_mechanic.pictures.index("not named")


def test_the_stages_say_that_repeated_ones_count_together(made):
    """Else a stage gone through once a wheel looks as if it took twice its time."""
    assert "counts once with all its times together" in made[0].says


def test_pictures_are_black_and_white(made):
    """Nothing is told by colour: only black, white and one light grey are used."""
    colours = set(re.findall(r'(?:stroke|fill)="(#[0-9a-f]+)"', "".join(sheet.pictures for sheet in made)))
    assert colours <= {"#000", "#fff", "#ccc"}


def _places(drawing: str) -> list[float]:
    return [float(one) for one in re.findall(r' (?:x|x1|x2|cx|width)="([0-9.]+)%"', drawing)]


@pytest.mark.parametrize("drawing", [
    control_chart(Drift(Series("l", "t", "v", "%"), 21, (1.0,) * 20, (1.0,))),
    control_chart(Drift(Series("l", "t", "v", "%"), 320, tuple(float(n % 3) for n in range(20)), (1e6,) * 300)),
    stage_bars([StageTime("c", "s", 1, 0.0, 0.0, None, None)]),
    stage_bars([StageTime("c", "s", 3, 5e3, 9e3, 10**9, 0.1)] * 4),
    rate_bars("r", [Rate("", 0, 5), Rate("all", 7, 7)], "r")], ids=range(5))
def test_nothing_is_drawn_outside(drawing: str):
    """Flat, empty and far-off series stay within their frame."""
    assert all(0 <= place <= 100 for place in _places(drawing)) and "nan" not in drawing
    height = float(re.search(r' height="([0-9.]+)"', drawing)[1])
    assert all(0 <= float(one) <= height for one in re.findall(r' (?:y1|y2|cy)="(-?[0-9.]+)"', drawing))


def test_figures_of_the_limits_do_not_cover_each_other():
    """A chart in which there is room names all five levels; where they lie close, it leaves some out."""
    near = tuple(float(n % 3) for n in range(20))
    levels = [len(re.findall(r'<text x="0" ', control_chart(Drift(Series("l", "t", "v", "%"), 320, near, later))))
              for later in ((1.0, 1.2), (1e6,) * 300)]
    assert levels == [5, 1]


def test_long_tables_are_cut_and_say_so(monkeypatch):
    """What is left out is told."""
    monkeypatch.setattr(shown, "MOST_ROWS", 5)
    sheet = next(one for one in shown.sheets(database(jobs=[job(f"j{n}", n, card=f"card {n}") for n in range(9)]))
                 if one.title.endswith("by card"))
    assert len(sheet.rows) == 5 and "The first 5 of 9 rows" in sheet.says


def test_without_jobs_every_sheet_says_so():
    """An empty office has a page too."""
    for sheet in shown.sheets(database()):
        assert not sheet.rows and "Nothing to show yet" in shown.section(sheet)


@pytest.mark.parametrize("value, text", [
    (0, "0.00"), (-0.001, "0.00"), (-0.01, "-0.01"), (99.994, "99.99"), (123.44, "123.4"), (12345.6, "12346")])
def test_numbers(value: float, text: str):
    """Short, and never minus nothing."""
    assert figures.number(value) == text
    assert figures.signed(value) == (f"+{text}" if value > 0 else text)
