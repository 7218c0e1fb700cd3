"""The papers of a job, record, customer's sheet and claim sheet, as page and as PDF: they tell what the log tells."""
from __future__ import annotations

import argparse
import re
import subprocess
import sys
from base64 import b64encode
from dataclasses import replace
from decimal import Decimal
from hashlib import sha256
from importlib.resources import files
from json import JSONEncoder
from pathlib import Path

import numpy as np
import pytest
import segno
import typst
from hypothesis import given
from hypothesis import strategies as st

from companion.__main__ import main
from companion.core import events as ev
from companion.errors import BadInput
from companion.office.account import read_account
from companion.office.findings import KINDS, findings
from companion.office.record import SHEETS, add_arguments, run
from companion.office.record.gather import record_of
from companion.office.record.limit_bars import limit_bars, tightening
from companion.office.record.paper.blocks import Fact, Facts, Grid, Paper, Says, Section
from companion.office.record.paper.qr import QUIET, squares
from companion.office.record.paper.typeset import _COMMON, MARKED, as_pdf
from companion.office.record.sheets.customer import customer_sheet
from companion.office.record.sheets.told import Told, initials
from companion.office.review_log import CardWithdrawn, review_bytes, review_path
from account_maker import Made
from logmaker import KEY
from officemaker import session, worked, write_log
from parts_needed import needs
from simulator import EVERY_KIND
from test_record import EVIL, Page, hostile, sounding

STAMP = "PRACTICE – invented figures"
LEAK, STOPPED, LEARNING, WHEELS = "injector-union-leak", "injector-code-came-back", "learning", "road-wheels"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The logs of four simulated jobs."""
    made = tmp_path_factory.mktemp("sheets")
    for name in (LEAK, STOPPED, LEARNING, WHEELS):
        write_log(made, name, session(name))
    return made


def made(folder: Path, name: str, sheet: str, pdf: bool = False) -> Path:
    """The paper that the command writes beside the log."""
    path = folder / (name + ("" if sheet == "record" else f"-{sheet}") + (".pdf" if pdf else ".html"))
    if not path.exists():
        parser = argparse.ArgumentParser()
        add_arguments(parser)
        words = [str(folder / f"{name}.jsonl"), "--sheet", sheet] + ["--pdf"] * pdf
        assert run(parser.parse_args(words)) == 0
    return path


def page(folder: Path, name: str, sheet: str) -> Page:
    """The paper as a page, read strictly."""
    return Page(made(folder, name, sheet).read_text("utf-8"))


def printed(path: Path) -> list[str]:
    """The text of each sheet of a PDF, in the order of reading."""
    needs("pdftotext")
    read = subprocess.run(["pdftotext", "-raw", "-enc", "UTF-8", str(path), "-"], check=True, capture_output=True)
    return [sheet.replace("\u200b", "") for sheet in read.stdout.decode("utf-8").split("\f")[:-1]]


def flat(text: str) -> str:
    """Without the ends of lines."""
    return re.sub(r"\s+", " ", text)


def links(shown: Page) -> set[str]:
    """The places within the page that its links lead to."""
    return {given["href"].removeprefix("#") for _, given in shown.elements if "href" in given}


# -- what the sheets tell ----------------------------------------------------------------------------------------------

CUSTOMER = (
    "For the customer: Renew one common-rail injector", "0FHVN2RX8H0004217", "FH42", "84250 km", "rough idle",
    "Cylinder at fault: cylinder three.", "Cause, as judged: injector.",
    "During a leak check it was seen to be leaking at the union.", "New injector, as read off it: code 7K2N4E",
    "sealing washer (1), clamp bolt (1), return joint seal (1)", "Tightened by torque or angle: 5 readings, 5 of them",
    "The leak watch, ended by an answer after 2 min: leaking at the union.",
    "The leak watch, 5 min: dry, answered 5 times.", "On the road test the complaint stayed away.",
    "P0269", "contribution or balance, cylinder 3", "gone", "At any smell or sight of fuel, park, keep the engine off")
CLAIM = (
    "Claim: Renew one common-rail injector", "P0269: contribution or balance, cylinder 3", "cylinder three",
    "1.6 Ω, inside", "steady peaks", "Suspect cylinder: said cylinder three, found cylinder three; agree.",
    "61 ml – stands out",
    "clamp bolt, stage 1: clamp torque", "8.0 ± 0.24 N·m – inside", "clamp bolt, stage 2: clamp angle", "75 ° – inside",
    "On the road test the complaint stayed away.", "sealing washer", "shown to be new: line", "read off the new part",
    "4 old parts", "OLD PART – keep for the claim", "not recorded", "Estimate", "At the step \"leak-run\"")


@pytest.mark.parametrize(("sheet", "words"), [("customer", CUSTOMER), ("claim", CLAIM)])
def test_a_sheet_tells_the_job(folder, sheet, words):
    """Each fact of the simulated job stands on the page and on paper alike, with the seal and the practice stamp."""
    shown = flat(page(folder, LEAK, sheet).words)
    paper = flat(" ".join(printed(made(folder, LEAK, sheet, pdf=True))))
    seal = read_account(folder / f"{LEAK}.jsonl").closing_seal
    for word in (*words, seal, f"Job log {LEAK}.jsonl, closing seal {seal}", STAMP):
        assert word in shown, word
        assert word in paper, word


@pytest.mark.parametrize("name", [LEAK, STOPPED, LEARNING])
def test_the_customer_s_sheet_is_one_page(folder, name):
    """Whoever drives away gets one sheet of A4."""
    assert len(printed(made(folder, name, "customer", pdf=True))) == 1


def test_a_stopped_job_says_so_to_the_customer(folder):
    """The code that came back and the missing end come before all else; findings on how it was watched stay inside."""
    shown = flat(page(folder, STOPPED, "customer").words)
    top = shown[:shown.index("What was found")]
    stopped = KINDS["job-stopped"].says
    assert stopped[:1].upper() + stopped[1:] in top and "P0269" in top and "Open points" in top
    assert KINDS["caution-rushed"].says not in shown and "came back" in shown


def test_what_was_not_settled_is_not_told_as_found(tmp_path):
    """The mechanic named another cylinder than the evidence: both sheets say so, and no tag names an old part."""
    write_log(tmp_path, "wrong", session("injector-wrong-cylinder"))
    for sheet in ("customer", "claim"):
        assert "not settled: said cylinder two, found cylinder three" in flat(page(tmp_path, "wrong", sheet).words)
    assert "OLD PART" not in page(tmp_path, "wrong", "claim").words


def asked_in(shown: Page) -> dict[str, str]:
    """The head of a sheet."""
    return {row[0]: row[1] for row in shown.tables["This job"]}


@pytest.mark.parametrize("name", [LEARNING, WHEELS])
def test_what_the_card_does_not_ask_for_is_left_out(folder, name):
    """Cards without cylinder, fault, codes, complaint and part: no sheet invents one, none has a heading for it; a bare
    "affirm" or "done" is no cylinder."""
    customer, claim = (page(folder, name, sheet) for sheet in ("customer", "claim"))
    words = flat(customer.words + claim.words)
    for word in ("ylinder", "at fault", "judged", "Fault codes", "ode list", "Freeze frame", "Bagged", "Complaint",
                 "Cause", "P0", "injector", "oad test", "Parts", "Your reference", "watch for"):
        assert word not in words, word
    assert asked_in(customer)["Mechanic"] and ("Vehicle" in asked_in(customer)) == (name == WHEELS)


@pytest.mark.parametrize(("logged", "said"), [(0, "not recorded"), (1, "cylinder two"), (2, "cylinder two")])
def test_only_the_answer_to_a_question_for_a_cylinder_is_one(logged, said):
    """The question itself tells which answer is the cylinder, whatever else bears its name."""
    job = session(LEAK)
    asked = next(one for one in job.events if isinstance(one, ev.AnswerGiven) and one.name == "suspect cylinder")
    events = [job.events[0], replace(asked, answer="cylinder two"), replace(asked, step="complaint", answer="affirm")]
    account = Made(events[:1 + logged], [(0, 0)] * (1 + logged)).account()
    assert Told(account, record_of(account)).cylinder == said


def test_what_the_card_asks_for_and_the_log_lacks_is_not_recorded(tmp_path):
    """An injector job left at its first step."""
    write_log(tmp_path, "van", worked("common-rail-injector", ["next"]))
    customer, claim = (page(tmp_path, "van", sheet) for sheet in ("customer", "claim"))
    asked = ("Vehicle", "Your reference", "Mileage", "Complaint")
    assert {asked_in(customer)[name] for name in asked} == {"not recorded"}
    for words in ("Cylinder at fault: not recorded.", "Cause, as judged: not recorded.", "Fault codes: not recorded."):
        assert words in flat(customer.words)
    assert "Road test: not recorded." in flat(claim.words) and "Bagged and labelled: not recorded" in flat(claim.words)


def test_the_record_names_vehicle_and_complaint_first(folder):
    """In the head of the record, where the log has them."""
    head = asked_in(page(folder, LEAK, "record"))
    assert (head["Vehicle"], head["Complaint"]) == ("0FHVN2RX8H0004217", "rough idle")
    assert not {"Vehicle", "Complaint"} & set(asked_in(page(folder, LEARNING, "record")))


@pytest.mark.parametrize(("name", "shown"), [
    ("Robin Example", "R.E."), ("robin", "R."), ("ME", "ME"), ("(erased)", "(erased)"), ("", "")])
def test_of_a_name_only_initials_are_left(name, shown):
    """The sheets leave the office, so they hold no mechanic's name."""
    assert initials(name) == shown


@pytest.mark.parametrize("sheet", ["customer", "claim"])
def test_no_name_leaves_the_office(tmp_path, sheet):
    """A mechanic named at the start, in the log's own sidecar, is on the sheet by initials alone."""
    job = session(LEARNING)
    job.events[0] = replace(job.events[0], mechanic=ev.Personal("Robin Example"))
    write_log(tmp_path, "named", job)
    words = page(tmp_path, "named", sheet).words
    assert "R.E." in words and "Robin" not in words and "Example" not in words


def test_the_findings_stand_on_the_record_and_the_claim_sheet(folder):
    """Each kind that the rules find is told; where one comes often, the first few and how many more. The record has
    them all in a list too, on page and paper."""
    found = findings(read_account(folder / f"{STOPPED}.jsonl"))
    first = {one.name: one for one in reversed(found)}.values()
    assert len([one for one in found if one.name == "caution-rushed"]) > 4
    record, claim = (flat(page(folder, STOPPED, sheet).words) for sheet in ("record", "claim"))
    paper = flat(" ".join(printed(made(folder, STOPPED, "record", pdf=True))))
    for words in (record, claim, paper):
        assert re.search(r"The same \d+ times more: a caution was acknowledged faster", words)
        assert all(one.said in words for one in first)
    assert all(one.said in record and one.said in paper for one in found)


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_simulated_clock_is_never_passed_off_as_lived_through(tmp_path, sheet):
    """Every sheet that bears times of a simulated job says so."""
    job = session(LEARNING)
    job.events[0] = replace(job.events[0], boot="simulated one")
    write_log(tmp_path, "van", job)
    assert "SIMULATED" in page(tmp_path, "van", sheet).words


# -- as PDF ------------------------------------------------------------------------------------------------------------

def test_the_record_as_pdf_has_every_value_with_limits_and_uncertainty(folder):
    """What the page's table of values tells is on paper too; every sheet bears the stamp and its number."""
    sheets = printed(made(folder, LEAK, "record", pdf=True))
    whole = flat(" ".join(sheets))
    data = record_of(read_account(folder / f"{LEAK}.jsonl"))
    for one in data["values"]:
        assert f"{one['value']} {one['unit']}" in whole
        assert not one["uncertainty"] or f"{one['value']} ± {one['uncertainty']} {one['unit']}" in whole
    for place, sheet in enumerate(sheets, 1):
        assert STAMP in sheet and f"page {place} of {len(sheets)}" in sheet
    assert "Every entry of the log" not in whole, "long lists are left to the page"


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_same_log_makes_the_same_pdf(folder, sheet):
    """Nothing of today is in it: its one date is that of the log's last entry."""
    path = made(folder, LEARNING, sheet, pdf=True)
    before = path.read_bytes()
    path.unlink()
    assert made(folder, LEARNING, sheet, pdf=True).read_bytes() == before


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_pdf_is_tagged_titled_and_in_a_language(folder, sheet):
    """The typesetter checks PDF/UA-1 itself and refuses what breaks it; the marks of it are in the file."""
    held = made(folder, LEAK, sheet, pdf=True).read_bytes()
    assert held.startswith(b"%PDF-") and b"pdfuaid:part" in held
    assert b"/StructTreeRoot" in held and b"/MarkInfo" in held and b"/Lang" in held and b"/Title" in held


VIN = "0FHVN2RX8H0004217"


def boxes(pdf: bytes) -> list[list[tuple[float, float, float, str]]]:
    """For each sheet, its words from left to right: left, top and right in points, and the word."""
    needs("pdftotext")
    read = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, check=True, capture_output=True).stdout.decode()
    words = r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="[\d.]+">([^<]*)<'
    return [sorted((float(left), float(top), float(right), word.replace("\u200b", ""))
                   for left, top, right, word in re.findall(words, sheet)) for sheet in read.split("</page>")[:-1]]


def test_no_word_of_a_table_runs_into_the_next_column(folder):
    """The vehicle number's box on the sheet ends before the next cell of its row begins."""
    sheet = next(sheet for sheet in boxes(made(folder, LEAK, "record", pdf=True).read_bytes())[1:]
                 if any(box[3] == VIN for box in sheet))
    left, top, right, _ = next(box for box in sheet if box[3] == VIN)
    beside = [box for box in sheet if abs(box[1] - top) < 1 and box[0] > left]
    assert "“zero" in beside[0][3] and all(box[0] >= right + 6 for box in beside)


def test_a_word_wider_than_any_column_breaks():
    """A table with more long words than its sheet has room for: every letter lies between the sheet's margins."""
    grid = Grid("answers", "Answers", ("Time", "Name") + ("Number",) * 7, (("12:31:51", "all") + ("W" * 24,) * 7,))
    facts = Facts("a", (Fact("b", ("c",)),))
    held = as_pdf(Paper("record", "t", "s", "", "", (), facts, (Section("h", (grid,)),), "foot", ""))
    sheet = boxes(held)[0]
    long = [box for box in sheet if box[3].startswith("W")]
    assert "12:31:51" in [box[3] for box in sheet], "what is short stays whole"
    assert len("".join(box[3] for box in long)) == 7 * 24 and max(right for _, _, right, _ in long) <= 595.3 - 45


def test_the_first_sheet_of_a_record_is_not_left_empty(folder):
    """The picture of the stages begins on it and goes on overleaf."""
    sheets = printed(made(folder, LEAK, "record", pdf=True))
    assert "sign on" in sheets[0] and "prove the cylinder" in sheets[0]


TRICKS = ("#eval(\"1\") #panic() ]] [[ \\ $x$ *b* _i_ `r` <l> @r // /* = h \" ' #\"a\" "
          "\u202e\u2066right\u202c to left \x00\x1b[2J " + "W" * 400 + " \u200f\u0627\u0644 \u05d0 {{0}} ${x} %PDF")


@pytest.mark.parametrize("text", [TRICKS, EVIL])
def test_no_text_becomes_markup_of_the_typesetter(tmp_path, text):
    """Hostile words in every place of a paper: they are printed as they are, without what has no shape."""
    facts = Facts(text, (Fact(text, (text, text)), Fact(text, (text,), code=True)))
    paper = Paper("record", text, text, text, text, (text,), facts, (Section(text, (Says(text), facts)),), text, "")
    path = tmp_path / "evil.pdf"
    path.write_bytes(as_pdf(paper))
    whole = "".join(printed(path)).replace("\n", "").replace(" ", "")
    tricks = "#eval(\"1\")#panic()]][[\\$x$*b*_i_`r`<l>@r///*=h\"'#\"a\""
    assert (tricks if text is TRICKS else "</td></table><script>alert(1)") in whole
    assert not [c for c in whole if ord(c) < 32 or c in "\u202e\u2066"]


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_hostile_log_makes_sound_papers(tmp_path, sheet):
    """Every kind of event with hostile words in every field: page and PDF are made, and nothing acts on either."""
    (tmp_path / "van.jsonl").write_bytes(b"".join(hostile(EVERY_KIND)))
    shown = page(tmp_path, "van", sheet)
    assert not {"script", "link", "img", "iframe", "object", "form", "base"} & {name for name, _ in shown.elements}
    assert not any(key.startswith("on") for _, given in shown.elements for key in given)
    assert made(tmp_path, "van", sheet, pdf=True).read_bytes().startswith(b"%PDF-")


def test_what_no_font_shows_is_marked_and_said(monkeypatch):
    """Without a font for a script, the PDF is made with a mark for each character, and its foot says so."""
    facts = Facts("a", (Fact("Name", ("\U0010FFFDx 漢字",)),))
    real = typst.compile

    def without_system_fonts(*given, **more):
        return real(*given, **{**more, "ignore_system_fonts": True})

    monkeypatch.setattr(typst, "compile", without_system_fonts)
    seen: list[dict] = []

    def watched(data) -> str:
        seen.append(data)
        return JSONEncoder().encode(data)

    monkeypatch.setattr("companion.office.record.paper.typeset.json.dumps", watched)
    assert as_pdf(Paper("customer", "t", "s", "", "", (), facts, (), "foot", "")).startswith(b"%PDF-")
    assert seen[-1]["foot"] == f"foot{MARKED}" and seen[-1]["head"]["facts"][0]["said"] == ["\ufffdx \ufffd\ufffd"]


def test_the_built_in_fonts_show_all_that_is_not_marked(monkeypatch):
    """So the last try never fails: each character that may stay is in a font that comes with the typesetter."""
    kept = "".join(c for c in map(chr, range(32, 0x2800)) if c.isprintable() and not _COMMON.match(c))
    assert len(kept) > 300
    tries, real = [], typst.compile
    monkeypatch.setattr(typst, "compile", lambda *given, **more: tries.append(more) or real(*given, **more))
    facts = Facts("a", (Fact("b", (kept,)), Fact("c", (kept,), True)))
    assert as_pdf(Paper("record", kept, kept, "", "", (), facts, (), kept, "")).startswith(b"%PDF-")
    assert [more["ignore_system_fonts"] for more in tries] == [True], "the first try, with the built-in fonts alone"


def test_memos_are_on_paper_by_their_words(tmp_path):
    """A sound cannot be printed; that it lies beside the log can."""
    (tmp_path / "van.memo-1.flac").write_bytes(b"the sound of a memo")
    lines, beside = sounding()
    (tmp_path / "van.jsonl").write_bytes(b"".join(lines))
    (tmp_path / "van.personal").write_bytes(beside)
    assert "Memo 1 is a sound file beside the log. Draft, by machine: the <union> was wet" in flat(
        " ".join(printed(made(tmp_path, "van", "record", pdf=True))))


# -- the seal as QR code -----------------------------------------------------------------------------------------------

def raster(path: str, size: int, scale: int = 4) -> np.ndarray:
    """The squares of a path as an image, black on white."""
    image = np.full((size, size), 255, np.uint8)
    for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        image[int(y), int(x):int(x) + int(length)] = 0
    return np.kron(image, np.ones((scale, scale), np.uint8))


def test_the_qr_code_holds_log_and_seal_on_page_and_paper(folder, tmp_path):
    """Read by another program (ZXing), from the page's own drawing and from the printed sheet."""
    needs("zxing-cpp", "pdftotext")
    import zxingcpp  # it may be missing

    seal = read_account(folder / f"{LEAK}.jsonl").closing_seal
    text = f"Job log {LEAK}.jsonl, closing seal {seal}"
    shown = made(folder, LEAK, "customer").read_text("utf-8")
    drawn = re.search(r'<path d="(M[^"]{200,})">', shown)[1]
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', shown)[1])
    assert [code.text for code in zxingcpp.read_barcodes(raster(drawn, size))] == [text]
    subprocess.run(["pdftoppm", "-gray", "-r", "110", "-f", "1", "-l", "1", "-singlefile",
                    str(made(folder, LEAK, "customer", pdf=True)), str(tmp_path / "sheet")], check=True)
    head, width, height, pixels = re.match(rb"(P5)\s(\d+)\s(\d+)\s255\s(.*)", (tmp_path / "sheet.pgm").read_bytes(),
                                           re.DOTALL).groups()
    image = np.frombuffer(pixels, np.uint8).reshape(int(height), int(width))
    assert [code.text for code in zxingcpp.read_barcodes(image)] == [text]


def test_the_qr_code_is_that_of_its_library_with_white_around():
    """Each module of the library's matrix is in the path, and nothing else."""
    found = squares("Job log van.jsonl, closing seal ABCD EFGH IJKL")
    matrix = np.array(segno.make("Job log van.jsonl, closing seal ABCD EFGH IJKL", error="q", micro=False).matrix)
    image = raster(found.path, found.size, 1)
    assert ((image == 0) == np.pad(matrix.astype(bool), QUIET)).all()


# -- the pictures ------------------------------------------------------------------------------------------------------

def value(**changes) -> dict:
    """A row of the record's values."""
    row = {"name": "torque", "item": "", "fastener": "", "value": "8.0", "unit": "N·m", "low": "7.5", "high": "8.5",
           "verdict": "inside", "uncertainty": "0.24", "rose_from": None, "replaced_by": None, "line": 1}
    return {**row, **changes}


@pytest.mark.parametrize(("changes", "shape", "whisker"), [
    ({}, "inside", True), ({"uncertainty": None}, "inside", False),
    ({"verdict": "too close", "value": "8.4"}, "close", True),
    ({"verdict": "outside", "value": "99"}, "outside", True), ({"rose_from": "2"}, "outside", True),
    ({"value": "8.6"}, "outside", True)])
def test_a_value_s_shape_tells_its_verdict(changes, shape, whisker):
    """Never colour alone: dot, ring or square, and the verdict in words beside it."""
    strip = tightening({"values": [value(**changes)]}).strips[0]
    assert [mark.shape for mark in strip.marks] == ["limits", *["whisker"] * whisker, shape]
    assert {"close": "too close to call"}.get(shape, changes.get("verdict", "inside")) in strip.note
    assert ("though logged as inside" in strip.note) == (changes == {"value": "8.6"})


def test_the_stages_of_one_fastener_stand_beneath_each_other():
    """Torque, then angle, of the clamp bolt, though a union came between them; a pressure is no tightening."""
    rows = [value(fastener="clamp bolt", name="snug"), value(name="union torque"),
            value(fastener="clamp bolt", name="angle", unit="°", value="75", low="70", high="80", uncertainty=None),
            value(name="pressure", unit="bar"), value(name="lean", unit="°")]
    assert [strip.name for strip in tightening({"values": rows}).strips] == [
        "clamp bolt, stage 1: snug", "clamp bolt, stage 2: angle", "union torque"]
    assert [strip.name for strip in limit_bars({"values": rows}).strips] == ["pressure", "lean"]


FIGURE = st.decimals(-10**6, 10**6, places=3).map(lambda number: format(number, "f"))


@given(FIGURE, st.none() | FIGURE, st.none() | FIGURE, st.none() | st.decimals(0, 10**4, places=3).map(str))
def test_every_mark_lies_within_the_picture_and_in_its_order(at, low, high, sure):
    """Whatever the figures: box, whisker and point lie between the edges, and a value inside lies within its box."""
    chart = limit_bars({"values": [value(unit="bar", value=at, low=low, high=high, uncertainty=sure)]})
    if chart is None:
        assert low is None and high is None or None not in (low, high) and Decimal(low) > Decimal(high)
        return
    box, *_, point = chart.strips[0].marks
    assert all(0 <= mark.start <= mark.end <= 100 for mark in chart.strips[0].marks)
    if (low is None or Decimal(low) <= Decimal(at)) and (high is None or Decimal(at) <= Decimal(high)):
        assert box.start <= point.start <= box.end
    else:
        assert not box.start < point.start < box.end


@pytest.mark.parametrize("changes", [{"value": "(erased)"}, {"value": "NaN"}, {"low": None, "high": None},
                                     {"low": "9", "high": "1"}, {"value": "1e999"}])
def test_what_cannot_be_drawn_is_not(changes):
    """No picture of what is no number, or of limits that cannot be."""
    assert tightening({"values": [value(**changes)]}) is None


# -- as a page ---------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("name", [LEAK, STOPPED, LEARNING])
@pytest.mark.parametrize("sheet", SHEETS)
def test_a_page_is_light_sealed_and_open_to_all(folder, name, sheet):
    """At most 1 MB; its policy allows its own style and nothing else; no address; one h1, headings without a gap; every
    picture has a title and words; every table a caption."""
    text = made(folder, name, sheet).read_text("utf-8")
    shown = Page(text)
    assert len(text.encode()) <= 1_000_000 and not re.search(r"https?://|//[a-z]", text)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)[1]
    digest = b64encode(sha256(style.encode()).digest()).decode()
    policy = next(given["content"] for _, given in shown.elements if "http-equiv" in given)
    assert policy == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    assert shown.headings[0] == 1 and shown.headings.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(shown.headings, shown.headings[1:]))
    ids = [given["id"] for _, given in shown.elements if "id" in given]
    assert len(ids) == len(set(ids)) and links(shown) <= set(ids)
    for name_, given in shown.elements:
        if name_ == "svg":
            assert given["role"] == "img" and set(given["aria-labelledby"].split()) <= set(ids)
    kinds = [kind for kind, _ in shown.elements]
    assert kinds.count("caption") == kinds.count("table") and "svg" in kinds


def luminance(colour: str) -> float:
    """As WCAG 2.1 defines it (from memory)."""
    parts = [int(digit * 2, 16) / 255 for digit in colour]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_text_and_shapes_stand_out_from_what_is_behind_them():
    """WCAG 2.1 (from memory): 4.5 to 1 for text, 3 to 1 for the parts of a picture that tell something."""
    style = files("companion.office.record").joinpath("page.css").read_text("utf-8")
    rules = dict(re.findall(r"([^{}]+)\{([^{}]*)\}", style))
    for selector, body in rules.items():
        if "watermark" in selector or "tick" in selector:
            continue  # a mark behind the text, and the scale's thin lines: nothing hangs on either
        behind = (re.findall(r"background:#([0-9a-f]{3})\b", body) or ["fff"])[0]
        shape = selector.strip().startswith("svg") and "text" not in selector
        for kind, colour in re.findall(r"(?<![-\w])(color|fill|stroke):#([0-9a-f]{3})\b", body):
            low, high = sorted((luminance(colour), luminance(behind)))
            if shape and (kind == "fill" and colour == "fff" or selector.strip() == "svg .runs" and kind == "stroke"):
                continue  # the inside of an outlined bar, and the gap between black bars
            if "svg text" in selector and kind == "stroke":
                continue  # the white round the letters
            assert (high + 0.05) / (low + 0.05) >= (3 if shape else 4.5), (selector, kind, colour)


# -- the command -------------------------------------------------------------------------------------------------------

def act(*words: str) -> int:
    """The command with these words."""
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    return run(parser.parse_args(words))


def test_each_paper_has_its_name_beside_the_log(tmp_path, capsys):
    """Six papers of one log, none in another's place, and where it went is printed."""
    log = write_log(tmp_path, "van", worked(LEARNING, ["next"]))
    for sheet in SHEETS:
        for pdf in (False, True):
            assert act(str(log), "--sheet", sheet, *["--pdf"] * pdf) == 0
    names = [Path(line).name for line in capsys.readouterr().out.splitlines()]
    assert names == ["van.html", "van.pdf", "van-customer.html", "van-customer.pdf", "van-claim.html", "van-claim.pdf"]
    assert all((tmp_path / name).stat().st_mode & 0o777 == 0o600 for name in names)


def test_an_unfinished_job_has_papers_that_say_so(tmp_path):
    """No seal, no QR code, and the words why."""
    write_log(tmp_path, "van", worked(LEARNING, ["next"]))
    for sheet in SHEETS:
        shown = page(tmp_path, "van", sheet)
        assert "None: the job is unfinished." in shown.words and "QR code" not in shown.words
        assert "unfinished" in re.search("<title>(.*?)</title>", made(tmp_path, "van", sheet).read_text("utf-8"))[1]


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_log_that_does_not_hold_says_so_on_every_paper(tmp_path, sheet):
    """A changed line: exit code 1, a banner before all else, no seal."""
    log = write_log(tmp_path, "van", session(LEARNING))
    lines = log.read_bytes().splitlines(keepends=True)
    log.write_bytes(b"".join([*lines[:9], lines[9].replace(b'"step":"', b'"step":"x'), *lines[10:]]))
    assert act(str(log), "--sheet", sheet) == 1 and act(str(log), "--sheet", sheet, "--pdf") == 1
    path = tmp_path / ("van.pdf" if sheet == "record" else f"van-{sheet}.pdf")
    shown = Page(path.with_suffix(".html").read_text("utf-8"))
    says, why = (("This log does not hold", "None: the log does not hold.") if sheet == "record" else
                 ("Not for handing out: the record is damaged.", "None: the record is damaged."))
    assert says in shown.words and why in shown.words
    assert sheet == "record" or not re.search("hash|chain|sha256|must hold|his log does", shown.words)
    assert links(shown) <= {given.get("id") for _, given in shown.elements}, "none to a line that is not shown"
    assert says in printed(path)[0]


def test_why_a_log_does_not_hold_is_said_at_the_prompt(tmp_path, capsys):
    """On standard error, not in what is printed; nothing there for a log that holds."""
    log = write_log(tmp_path, "van", session(LEARNING))
    assert act(str(log), "--text") == 0 and capsys.readouterr().err == ""
    log.write_bytes(log.read_bytes().replace(b'"step":"torch-on"', b'"step":"torch-off"', 1))
    assert act(str(log)) == 1
    printed_ = capsys.readouterr()
    assert printed_.out == f"{log.with_suffix('.html')}\n"
    assert re.match(r"companion: van\.jsonl does not hold: line \d+: ", printed_.err)


def test_no_signature_is_shown(folder):
    """The seals' letters tell a reader nothing: the log and --json have them, page and paper do not."""
    account = read_account(folder / f"{STOPPED}.jsonl")
    sigs = [one["fields"]["sig"] for one in record_of(account)["entries"] if one["event"] == "sealed"]
    text = made(folder, STOPPED, "record").read_text("utf-8")
    assert sigs and "vouches for every line before it" in text
    assert not any(sig[:24] in text for sig in sigs) and "sig:" not in text


@pytest.mark.parametrize(("words", "says"), [
    (["--text", "--pdf"], "must stand without"), (["--json", "--sheet", "claim"], "must stand without"),
    (["--pdf", "--out", "LOG"], "must not take the log's place")])
def test_wrong_use_is_said(tmp_path, words, says):
    """What cannot be both, and what would write over the evidence."""
    log = write_log(tmp_path, "van", worked(LEARNING, ["next"]))
    before = log.read_bytes()
    with pytest.raises(BadInput, match=says):
        act(str(log), *(str(log) if word == "LOG" else word for word in words))
    assert log.read_bytes() == before


def test_the_typesetter_is_not_even_loaded_for_a_page(folder):
    """It is large: only --pdf pays for it. The QR code's library waits for a sheet."""
    code = ("import sys; from companion.__main__ import main; log = sys.argv[1]; main(['verify', log]); "
            "main(['record', log, '--text']); assert 'segno' not in sys.modules; main(['record', log, '--out', '-']); "
            "assert 'typst' not in sys.modules")
    subprocess.run([sys.executable, "-c", code, str(folder / f"{LEARNING}.jsonl")], check=True, capture_output=True)


def test_a_customer_s_sheet_of_nothing_is_still_a_sheet(tmp_path):
    """An empty file: it is said that nothing holds, and nothing fails."""
    (tmp_path / "van.jsonl").write_bytes(b"")
    account = read_account(tmp_path / "van.jsonl")
    paper = customer_sheet(Told(account, record_of(account)))
    assert paper.banner and as_pdf(paper).startswith(b"%PDF-")


def test_what_the_office_says_of_the_card_stands_on_the_papers(tmp_path):
    """A job on a card that was withdrawn before it began, in a folder whose office keeps a register."""
    log = write_log(tmp_path, "van", session("learning"))
    card = read_account(log).card
    withdrawn = CardWithdrawn(by="Office", card=card.id, version=card.version, sha256=sha256(card.text.encode()).hexdigest(),
                              reason="Its light was wrong.")
    review_path(tmp_path).parent.mkdir()
    review_path(tmp_path).write_bytes(review_bytes([("2020-01-01T00:00:00.000Z", withdrawn)], KEY))
    assert main(["record", str(log)]) == 0
    page = log.with_suffix(".html").read_text("utf-8")
    assert "had been withdrawn on 2020-01-01 by Office: Its light was wrong." in page
