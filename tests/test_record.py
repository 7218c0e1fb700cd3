"""`companion record`: every fact of a log is on its page, and nothing a log can hold does harm there."""
from __future__ import annotations

import argparse
import json
import re
import stat
import subprocess
from base64 import b64decode, b64encode
from dataclasses import fields, replace
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files
from io import BytesIO
from pathlib import Path

import pytest

from companion.core import events as ev
from companion.core.events import Hearing
from companion.core.job.inputs import (
    Faltered, Heard, MemoTaken, RoomHeard, SoundFound, SoundLost, SpokenToEnd, Stuttered)
from companion.core.log.chain import Chain
from companion.core.log.codec import vocabulary
from companion.core.log.closing import closing_seal
from companion.core.log.journal import digest, public_hex
from companion.core.log.rfc3339 import stamp
from companion.core.log.sidecar import dump_sidecar
from companion.errors import BadInput
from companion.office.account import account_in
from companion.office.findings import findings
from companion.office.record import add_arguments, run, write_record
from companion.office.record.gather import record_of
from companion.office.record.paper.blocks import Facts, Paper, Section, Sound
from companion.office.record.paper.html import as_html
from companion.office.record.summary import behind
from companion.office.review_log import Reviewed
from companion.office.trusted import Trusted, TrustedKey
from logmaker import KEY, objects, opened, rewritten
from parts_needed import needs
from simulator import EVERY_KIND, Simulator, at



class Lines:
    """A log and its sidecar, without a disk."""

    def __init__(self, log: bytes, beside: bytes) -> None:
        self.files = {"van.jsonl": log, "van.personal": beside}

    def open(self, name: str) -> BytesIO:
        """See `Place`."""
        if name not in self.files:
            raise FileNotFoundError(name)
        return BytesIO(self.files[name])

    def has(self, name: str) -> bool:
        """See `Place`."""
        return name in self.files


STAMP = "PRACTICE – invented figures"


def logged(events, moments) -> tuple[list[bytes], bytes]:
    """A log of events, sealed where it must be, and its sidecar."""
    chain, lines, beside = Chain(), [], []
    for event, (at_ms, up_ms) in zip(events, moments):
        line, personal = chain.add(event, stamp(at_ms), up_ms, lambda: len(beside).to_bytes(16, "big"))
        lines.append(line)
        beside += personal
        if event.seals:
            lines.append(chain.seal(KEY)[0])
    return lines, dump_sidecar(beside)


def of_job(job: Simulator) -> tuple[list[bytes], bytes]:
    """The log and sidecar of a simulated job."""
    first = replace(job.events[0], key=public_hex(KEY), mechanic=ev.Personal("Robin Example"))
    return logged([first, *job.events[1:]], [(now.at_ms, now.up_ms) for now in job.stamps])


@lru_cache(maxsize=None)
def eventful() -> tuple[tuple[bytes, ...], bytes]:
    """A whole job in which nearly everything happens once."""
    job = Simulator()
    job.say("next", "alfa bravo", "affirm", "leave open", "affirm").say("seven point five", score="0.91")
    job.say("correction seven point two", "correction nine", "the maker allows it", "affirm").mumble()
    job.say("cylinder two", "two", "three", "papa zero two six three", "no more codes", "alfa one bravo two", "affirm")
    job.say("timer two minutes", "next").wait(60)
    job.say("log value five volts", "next", "pause", "resume", "emergency", "emergency over", "affirm")
    job.come_back(60).say("taking over", "charlie delta", "affirm", "affirm", "affirm").wait(240)
    job.say("forty bar").wait(240).say("zero bar", "pressure gone", "next", "affirm")
    job.say("leave out", "part not fitted here", "affirm", "next").wait(30)
    job.say("end the wait", "maker's tool says ready", "affirm", "next", "next").wait(60).say("dry").wait(90)
    job.say("next").wait(60).say("leaking at the union", "next").wait(60).say("dry").wait(60).say("dry").wait(60)
    job.say("dry", "stop job", "affirm").come_back(8 * 3600, same_boot=False).say("same mechanic", "next", "next")
    assert job.job.done, job.spoken[-3:]
    lines, beside = of_job(job)
    return tuple(lines), beside


@pytest.fixture
def record(capsysbinary, tmp_path, monkeypatch):
    """Run the command on a log given as lines; exit code, standard output, and the page beside the log."""
    monkeypatch.chdir(tmp_path)

    def act(lines, *words: str, beside: bytes = b"") -> tuple[int, str, str]:
        Path("van.jsonl").write_bytes(b"".join(lines))
        Path("van.personal").write_bytes(beside)
        parser = argparse.ArgumentParser()
        add_arguments(parser)
        code = run(parser.parse_args(["van.jsonl", *words]))
        page = Path("van.html")
        return code, capsysbinary.readouterr().out.decode("utf-8"), page.read_text("utf-8") if page.exists() else ""
    return act


class Page(HTMLParser):
    """A page read strictly: every element closed in turn. Its texts, and the cells of each table by its caption."""

    ALONE = {"meta"}

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict]] = []
        self.tables: dict[str, list[list[str]]] = {}
        self.headings: list[int] = []
        self.words = ""
        self._caption = ""
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, name, attributes):
        self.elements.append((name, dict(attributes)))
        assert len(dict(attributes)) == len(attributes), "an attribute stands twice"
        if name not in self.ALONE:
            self.open.append(name)
        if re.fullmatch("h[1-6]", name):
            self.headings.append(int(name[1]))
        if name == "table":
            self._caption = ""
        if name == "tr":
            self.tables.setdefault(self._caption, []).append([])
        if name in ("td", "th"):
            self.tables[self._caption][-1].append("")

    def handle_endtag(self, name):
        assert self.open and self.open[-1] == name, (name, self.open, self.getpos())
        self.open.pop()

    def handle_startendtag(self, name, attributes):
        raise AssertionError(f"<{name}/>")

    def handle_data(self, text):
        if "style" in self.open:
            return
        self.words += text
        if "caption" in self.open:
            self._caption += text
        if {"td", "th"} & set(self.open):
            self.tables[self._caption][-1][-1] += text

    def table(self, caption: str) -> list[dict[str, str]]:
        """The rows of a table, by heading."""
        found = next(rows for name, rows in self.tables.items() if name.startswith(caption))
        return [dict(zip(found[0], row)) for row in found[1:]]

    @property
    def facts(self) -> dict[str, str]:
        """The head of the page, and what it rests on."""
        return {row[0]: row[1] for name in ("This job", "Behind this record") for row in self.tables[name]}


# -- every fact --------------------------------------------------------------------------------------------------------

FACTS = [
    # table, row (from 0), what stands there
    ("Measured values", 0, {"Step": "torque", "Name": "bolt torque", "Value": "7.5 N·m", "Limits": "7 to 8 N·m",
                            "Verdict": "inside", "As said": "“seven point five”", "Ear": "test ear 0.91"}),
    ("Measured values", 1, {"Value": "7.2 N·m", "Corrected": "corrects the one before", "Ear": "typed"}),
    ("Measured values", 2, {"Value": "9 N·m", "Verdict": "outside", "Reason": "the maker allows it"}),
    ("Measured values", 3, {"Value": "40 bar", "Limits": "0 to 5 bar", "Verdict": "outside"}),
    ("Counts", 0, {"What": "rags", "Count": "2", "Must be": "3", "Verdict": "wrong"}),
    ("Counts", 1, {"Count": "3", "Verdict": "right"}),
    ("Fault codes", 0, {"List": "codes before", "Code": "P0263"}),
    ("Choices and answers", 0, {"What": "mechanic", "Answer": "AB"}),
    ("Choices and answers", 1, {"What": "Is the cover fitted?", "Answer": "affirm"}),
    ("Choices and answers", 2, {"What": "suspect cylinder", "Answer": "cylinder two"}),
    ("Cautions", 0, {"Step": "crack", "Caution": "pressure", "As said": "“pressure gone”"}),
    ("The cautions in words", 0, {"Words": "Fuel may be under high pressure. Keep your hands away.",
                                  "Source": "common practice, no source"}),
    ("Waits", 0, {"Wait": "the pressure wait", "Protects": "a person", "Length": "4 min", "Lasted": "4 min",
                  "Of it away": "1 min", "How it ended": "its full length"}),
    ("Waits", 2, {"Wait": "the settling wait", "Protects": "the work", "Length": "2 min", "Lasted": "30 s",
                  "How it ended": "cut short with 1 min 30 s left: maker's tool says ready"}),
    ("Runs", 0, {"Run": "the leak watch", "Length": "3 min", "How it ended": "broken: silence"}),
    ("Runs", 1, {"Lasted": "1 min", "How it ended": "ended by an answer: leaking at the union"}),
    ("Runs", 2, {"Lasted": "3 min", "How it ended": "its full length, every answer good"}),
    ("Questions of the runs", 0, {"Question": "1", "Answer": "dry"}),
    ("Questions of the runs", 1, {"Question": "2", "Answered": "never", "Answer": "none"}),
    ("Questions of the runs", 2, {"Question": "1", "Answer": "leaking at the union"}),
    ("Questions of the runs", 5, {"Question": "3", "Answer": "dry", "As said": "“dry”"}),
    ("The mechanic's own timers", 0, {"Step": "key-out", "Length": "2 min", "How it ended": "its full length"}),
    ("Values nobody asked for", 0, {"Step": "pressure-wait", "Value": "5 V"}),
    ("Steps left open", 0, {"Step": "tidy", "Outcome": "done"}),
    ("Steps left out", 0, {"Step": "cover.1", "Reason": "part not fitted here"}),
    ("Gaps", 0, {"How": "the program stopped", "Away": "1 min", "Machine not restarted": "yes",
                 "Shown on resuming": "taken over by CD, key held: still so, bleed-down: the time away counted"}),
    ("Gaps", 1, {"How": 'by "stop job"', "Away": "8 h", "Machine not restarted": "no",
                 "Shown on resuming": "the same mechanic"}),
    ("Pauses", 0, {"Step": "pressure-wait", "As said": "“pause”"}),
    ("Emergencies", 0, {"Step": "pressure-wait", "As said": "“emergency”"}),
    ("Not understood", 0, {"Step": "suspect", "What": "not understood", "Ear": "test ear 0.10"}),
    ("Refused", 0, {"Act": "next", "Why": "The wait is not over"}),
    ("Steps in order", 0, {"Stage": "first words", "Step": "begin", "Words": "Lay the mat out.", "Outcome": "done"}),
    ("Steps in order", 10, {"Words": "Read the fault codes for cylinder two."}),
]


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Page:
    """The page of the eventful job."""
    log = tmp_path_factory.mktemp("record") / "van.jsonl"
    lines, beside = eventful()
    log.write_bytes(b"".join(lines))
    log.with_suffix(".personal").write_bytes(beside)
    return Page(write_record(log).read_text("utf-8"))


@pytest.mark.parametrize("table, place, facts", FACTS)
def test_every_kind_of_fact_is_in_its_table(whole, table, place, facts):
    """What happened in the job stands on the page, in the table and under the heading where a reader looks for it."""
    row = whole.table(table)[place]
    assert {head: row.get(head) for head in facts} == facts


def test_the_head_says_what_who_when_and_whether_it_holds(whole):
    """Card, deferring sentence, people, times, check, seal (code and ICAO words), device, starts of the machine."""
    lines, _ = eventful()
    facts, seal = whole.facts, closing_seal(digest(lines[-1]))
    assert "Every kind of step" in whole.words and "Follow the maker's data, local codes" in whole.words
    assert facts["Card"] == "card.yaml, version 0.1.0" and re.search("[0-9a-f]{64}", facts["Card SHA-256"])
    assert "Robin Example, named at the start" in facts["Mechanic"] and "CD, took over" in facts["Mechanic"]
    assert facts["Began"] == "2023-11-14 22:13:20 UTC" and facts["Duration"].endswith("worked, and 8 h 1 min away")
    assert facts["Check"] == f"The log holds: {len(lines)} entries, {sum(b'sealed' in line for line in lines)} seals."
    assert facts["Closing seal"].startswith(seal) and "Not shown by the check" in facts and "Clock" not in facts
    assert facts["Device key"] == public_hex(KEY) and re.match("boot, .*boot two, ", facts["Starts of the machine"])


@pytest.mark.parametrize("key, said, found", [
    (public_hex(KEY), "van's, on the list of trusted keys from 2020-01-01", False), ("ab" * 32, "not on the list", True)])
def test_whose_key_it_is_stands_beside_the_key(key, said, found):
    """Where the office keeps a list of trusted keys: whose it is, or a finding; and that is no longer said to be unknown."""
    lines, sidecar = eventful()
    account = account_in(Lines(b"".join(lines), sidecar), "van.jsonl")
    data = record_of(account, Reviewed(trusted=Trusted((TrustedKey(key, "van", "2020-01-01"),))))
    facts = dict(behind(data))
    assert facts["Device key"][0] == public_hex(KEY) and said in facts["Device key"][1]
    assert not any("whose key" in words for words in facts["Not shown by the check"])
    assert any(one["name"] == "key-unknown" for one in data["findings"]) == found


def test_what_a_reader_should_see_first_comes_first(whole):
    """Every finding stands on top with its weight, and leads to its lines, which also stand below it in full."""
    top = whole.words[:whole.words.index("Stages in time")]
    lines, _ = eventful()
    found = findings(account_in(Lines(b"".join(lines), eventful()[1]), "van.jsonl"))
    assert {"emergency-called", "value-outside", "step-left-out", "wait-cut-short"} <= {one.name for one in found}
    for one in found:
        assert f"{one.severity.capitalize()} {one.said}" in top
    named = {line for one in found for line in one.lines}
    links = {given["href"] for name, given in whole.elements if name == "a"}
    places = {f"#{given['id']}" for name, given in whole.elements if name == "tr" and "id" in given}
    assert links == {f"#line-{line}" for line in named} and links <= places and len(places) == len(lines)
    assert {row["Line"] for row in whole.table("Lines that the findings name")} == set(map(str, named))
    assert "7.5 N·m" not in top.replace("from 7.5 N·m", "")


def test_the_timeline_holds_every_entry(whole):
    """One row a line, with its time in UTC and its event; here with dates, as the job went on over midnight."""
    lines, _ = eventful()
    rows = whole.table("Every entry of the log")
    assert [row["Line"] for row in rows] == [str(n) for n in range(1, len(lines) + 1)]
    assert [row["Entry"] for row in rows] == [line["event"].replace("_", " ") for line in objects(lines)]
    assert [row["Time"] for row in rows] == [line["at"][:19].replace("T", " ") for line in objects(lines)]


def test_the_page_is_sound_html_that_anyone_can_read(whole):
    """Language, viewport, headings in order, captions, scopes, a named picture; no script, no link, nothing loaded."""
    names = [name for name, _ in whole.elements]
    assert ("html", {"lang": "en"}) in whole.elements and names.count("h1") == 1
    assert all(after <= before + 1 for before, after in zip(whole.headings, whole.headings[1:]))
    assert names.count("caption") == names.count("table") > 20
    assert all("scope" in given for name, given in whole.elements if name == "th")
    pictures = [given for name, given in whole.elements if name == "svg"]
    named = {given.get("id") for name, given in whole.elements if name in ("title", "desc")}
    assert len(pictures) > 3 and all(picture["role"] == "img" for picture in pictures)
    assert {name for picture in pictures for name in picture["aria-labelledby"].split()} == named - {None}
    assert not {"script", "link", "img", "iframe", "object", "form", "base"} & set(names)
    loading = {"src", "srcset", "action", "style"}
    assert all(given["href"].startswith("#line-") for _, given in whole.elements if "href" in given), "within the page"
    assert not any(loading & given.keys() or any(key.startswith("on") for key in given) for _, given in whole.elements)
    metas = {given.get("name") or given.get("http-equiv"): given.get("content") for name, given in whole.elements
             if name == "meta"}
    assert metas["viewport"] == "width=device-width, initial-scale=1"
    policy = metas["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-") and "unsafe" not in policy


def test_the_style_has_no_fixed_widths_and_loads_nothing():
    """Widths bend to the screen; how text stands out is in test_sheets."""
    style = files("companion.office.record").joinpath("page.css").read_text("utf-8")
    assert not re.search(r"[^-]width:\d+px", style.replace("width:1px", ""))
    assert not re.search("http|url\\(|@import", style)


def test_the_picture_shows_each_stage_wait_and_run(whole):
    """A bar for every stage and every clock; gap and emergency as lines; the same in words for whoever hears it."""
    kinds = [given.get("class") for _, given in whole.elements]
    assert {kind: kinds.count(kind) for kind in ("waits", "runs", "emergencies")} == {
        "waits": 3 + 1, "runs": 3 + 1, "emergencies": 1 + 1}  # one each is the class of a table
    assert kinds.count("stage") == 4, "first words twice, as an open step was closed there; make safe; leak watch"
    assert "make safe from" in whole.words and "the settling wait from" in whole.words
    for _, given in whole.elements:
        if given.get("class") in ("stage", "waits", "runs") and "x" in given:
            x, width = float(given["x"].rstrip("%")), float(given["width"].rstrip("%"))
            assert 0 <= x and width > 0 and x + width <= 100.02


# -- personal words ----------------------------------------------------------------------------------------------------

def test_personal_words_come_from_the_sidecar_and_are_said_to_be_erased_without_it(record):
    """With the sidecar the words are on the page; without it "(erased)" stands there, and no hash in its place."""
    lines, beside = eventful()
    assert "Robin Example" in record(lines, beside=beside)[2]
    code, _, page = record(lines)
    assert code == 0 and "Robin Example" not in page
    assert Page(page).facts["Mechanic"].startswith("(erased), named at the start")
    assert Page(page).table("Choices and answers")[0]["Answer"] == "(erased)"


def test_the_page_is_its_owners_alone(record):
    """It may hold the sidecar's words, so a new file has the sidecar's mode (POSIX)."""
    record(eventful()[0])
    assert stat.S_IMODE(Path("van.html").stat().st_mode) & 0o077 == 0 or not hasattr(stat, "S_IRGRP")


# -- unfinished, broken, practice --------------------------------------------------------------------------------------

def test_an_unfinished_job_says_where_it_stands(record):
    """Exit 0, no closing seal, the present step with its clocks as the live job's own fold gives them."""
    job = Simulator()
    job.say("next", "alfa bravo", "affirm", "leave open", "affirm", "7.5", "cylinder two", "three", "no codes",
            "alfa one bravo two", "affirm", "next").wait(130)
    code, _, text = record(of_job(job)[0])
    facts = Page(text).facts
    assert code == 0 and facts["Closing seal"] == "None: the job is unfinished." and "Last entry" in facts
    assert facts["Stood at the last entry"] == "at step pressure-waitbleed-down: 2 min leftopen: tidy"
    assert Page(text).table("Waits")[0]["How it ended"] == "had not ended"


def test_a_job_left_says_so(record):
    """Left by "stop job" and not taken up again: a gap without an end."""
    code, _, text = record(of_job(Simulator().say("next", "stop job", "affirm"))[0])
    page = Page(text)
    assert code == 0 and page.table("Gaps")[0]["Went on"] == "not yet"
    assert 'left by "stop job"' in page.facts["Stood at the last entry"]


def test_a_simulated_clock_is_said_plainly(record):
    """Log format: a boot that begins with "simulated" counts no real time."""
    lines, _ = logged([opened(boot="simulated 1", card_text=EVERY_KIND, card_sha256=_sha(EVERY_KIND))], [(0, 0)])
    assert "SIMULATED" in Page(record(lines)[2]).facts["Clock"] and "SIMULATED" in record(lines, "--text")[1]


def _sha(text: str) -> str:
    return sha256(text.encode("utf-8")).hexdigest()


def _renamed(lines):
    """Every answer changed, and the chain made to fit again; only the device's key is missing for new seals."""
    return rewritten([{**line, "data": {**line["data"], "answer": "x"}} if line["event"] == "answer_given" else line
                      for line in objects(lines)], None)


BROKEN = [
    # what was done to the lines, the first bad line, what is wrong with it
    (lambda lines: [*lines[:40], lines[40].replace(b'"step":"', b'"step":"x'), *lines[41:]], 41, "when line 42 was"),
    (lambda lines: [*lines[:40], *lines[41:]], 41, "n must be 40"),
    (lambda lines: [*lines[:40], lines[40][:-1]], 41, "unfinished"),
    (lambda lines: [*lines, lines[-1]], len(eventful()[0]) + 1, "nothing may follow the closing seal"),
    (_renamed, 0, "the seal must hold"),
    (lambda lines: [b"no log\n"], 1, "one line of JSON"),
    (lambda lines: [], 1, "an empty file"),
]


@pytest.mark.parametrize("harm, line, words", BROKEN)
def test_a_log_that_does_not_hold_gets_a_banner_and_only_what_holds(record, harm, line, words):
    """Exit 1; the banner names the first bad line; what is shown stops where verification stops."""
    lines = harm(list(eventful()[0]))
    code, out, text = record(lines)
    page = Page(text)
    banner = re.search(r'<div class="banner" role="alert">(.*?)</div>', text)[1]
    assert code == 1 and out == "van.html\n" and words in banner and "does not hold: line " in banner
    shown = page.table("Every entry of the log") if "Every entry" in text else []
    assert len(shown) == json.loads(record(lines, "--json")[1])["check"]["entries"]
    assert "DOES NOT HOLD" in page.facts["Check"] and page.words.index("does not hold") < page.words.index("Device key")
    if line:
        assert f"line {line}: " in banner and len(shown) == line - 1


def test_what_a_newer_program_wrote_is_not_passed_over(record):
    """An event that this program does not know: the log holds, but the record is not whole, so exit 1 and a banner."""
    lines = objects(eventful()[0])
    lines[20] = {**lines[20], "event": "something_new"}
    code, _, text = record(rewritten(lines, KEY))
    assert code == 1 and "must be an event this program knows" in text


def test_a_card_that_cannot_be_read_is_said_and_trusted_with_nothing(record):
    """Its words and its practice flag are unknown: the stamp says so, and the facts still stand."""
    events = [opened(), ev.StepBegun(step="a"), ev.CountLogged(step="a", name="caps", count=4, must_be=4)]
    code, _, text = record(logged(events, [(0, 0)] * 3)[0])
    assert code == 0 and "The job card cannot be read" in text and "CARD NOT READABLE – trust no figure" in text
    assert Page(text).table("Counts")[0]["Count"] == "4" and Page(text).table("Steps in order")[0]["Step"] == "a"


def test_only_a_practice_card_is_stamped(record):
    """The card's own flag decides; practice is stamped on screen, in the text, and in the printed margin."""
    real = EVERY_KIND.replace("practice: true", "practice: false")
    lines = of_job(Simulator(real))[0]
    assert STAMP not in record(lines)[2] and STAMP not in record(lines, "--text")[1]
    page = record(of_job(Simulator())[0])[2]
    assert f'>{STAMP}</aside>' in page and f'content: "{STAMP}"' in page and 'class="watermark"' in page


def test_every_printed_page_bears_the_stamp(record, tmp_path):
    """A real browser prints the page; the stamp is read back from each sheet, so it cannot be lost with the first."""
    needs("chromium", "pdftotext")
    _, _, page = record(eventful()[0])
    subprocess.run(["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
                    f"--user-data-dir={tmp_path / 'browser'}", "--no-pdf-header-footer", "--print-to-pdf=van.pdf",
                    (tmp_path / "van.html").as_uri()], check=True, capture_output=True, timeout=60)
    read = subprocess.run(["pdftotext", "-raw", "-enc", "UTF-8", "van.pdf", "-"], check=True, capture_output=True)
    sheets = read.stdout.decode("utf-8").split("\f")[:-1]
    assert len(sheets) > 1 and all(STAMP in sheet for sheet in sheets)
    assert all(sheet.count("PRACTICE") >= 2 for sheet in sheets), "in the margin, and across the sheet for other browsers"


# -- hostile logs ------------------------------------------------------------------------------------------------------

EVIL = ("</td></table><script>alert(1)</script>\"' onload=x &lt;b&gt; \x1b[2J\x00\u202e]]>--> {a} [red]x[/red] "
        "../../etc/passwd\n")

EVIL_MEMO = "\"><script>alert(1)<%2e&#46;.memo-1.flac"
"""The worst name that can be a memo's."""


_HARM = {"tuple": (EVIL,), "Decimal": Decimal("-1"), "str": EVIL, "Words": EVIL, "int": 10**9, "bool": True,
         "Personal": ev.Personal(EVIL), "Hearing": None}
"""What goes into a field, by its type."""


def _evil(kind: type[ev.Event]) -> ev.Event:
    """An event of which every text is hostile."""
    made = {}
    for field in fields(kind):
        hint = str(field.type)
        made[field.name] = next(value for word, value in _HARM.items() if word in hint)
    made["heard"] = None if {"ear", "by"} & made.keys() else ev.Hearing(EVIL, Decimal("0.5"), EVIL, EVIL)
    if kind in (ev.MemoKept, ev.ClipKept):
        made.update(file=EVIL_MEMO, sha256=_sha(EVIL))
    return kind(**{field.name: made[field.name] for field in fields(kind)})


def hostile(card: str) -> list[bytes]:
    """A log, rightly sealed, with every kind of event twice, hostile in every field."""
    first = replace(_evil(ev.JobOpened), step="", format=1, key=public_hex(KEY), card_text=card, card_sha256=_sha(card))
    kinds = [kind for kind in vocabulary().values()
             if kind.__module__.startswith(ev.__name__) and kind not in (ev.JobOpened, ev.JobEnded)]
    events = [first, *(_evil(kind) for kind in kinds + kinds[::-1])]
    return logged(events, [(1000 * n, 10**9 + 1000 * n) for n in range(len(events))])[0]


CARDS = [EVIL, EVERY_KIND, EVERY_KIND.replace("Every kind of step", "<script>alert(1)</script><b>")]


@pytest.mark.parametrize("card", CARDS)
def test_nothing_in_a_log_can_act_on_the_page_or_the_terminal(record, card):
    """Markup and control characters in every field of every event: the page stays sound, holds no element of theirs and
    no control character; the text and the JSON hold none either."""
    lines = hostile(card)
    code, out, text = record(lines)
    page = Page(text)
    assert code == 0 and {name for name, _ in page.elements} <= set(
        "html head meta title style body aside p div header main footer section h1 h2 table caption thead tbody tr th td ul "
        "li a strong details summary figure figcaption svg desc defs pattern path g rect circle line text "
        "tspan".split())
    assert "<script>alert(1)</script>" in page.words, "shown as text, not dropped"
    assert not any(key.startswith("on") for _, given in page.elements for key in given)
    plain, as_json = record(lines, "--text")[1], record(lines, "--json")[1]
    for shown in (text, plain, as_json, out):
        assert not [c for c in shown if c != "\n" and not c.isprintable()]
    assert json.loads(as_json)["entries"][1]["step"] == EVIL, "the data itself is as it was logged"
    assert any(line.startswith("|") and "[red]x[/red]" in line for line in plain.splitlines()), "no markup there either"
    assert {path.name for path in Path().iterdir()} == {"van.html", "van.jsonl", "van.personal"}


def test_a_memo_s_name_cannot_act_on_the_page_even_where_its_sound_is_there(record):
    """Only its bytes get into the page, whatever it is called, and they as sound alone."""
    Path(EVIL_MEMO).write_text(EVIL, "utf-8", newline="")
    page = Page(record(hostile(EVERY_KIND))[2])
    links = [given["src"] for name, given in page.elements if "src" in given]
    assert links == ["data:audio/flac;base64," + b64encode(EVIL.encode()).decode()]
    assert not [name for name, _ in page.elements if name == "script"]


# -- sound -------------------------------------------------------------------------------------------------------------

SOUND = b"the sound of a memo"


def sounding() -> tuple[list[bytes], bytes]:
    """A job with two memos, a microphone lost and found, a room measured, a voice set, and an attention word."""
    job = Simulator(ear="test ear")
    job.take(RoomHeard("noisy", Decimal("-31.5"), Decimal("-24.0"), Decimal("7.5"), Decimal("0.2"), ("A headset.",)))
    job.take(Heard(Hearing("slower", Decimal("0.95"), "test ear", "attention word")))
    job.say("memo").take(MemoTaken(1, "van.memo-1.flac", sha256(SOUND).hexdigest(), 12_000, "the <union> was wet"))
    job.say("memo").take(MemoTaken(2))
    for part in ("microphone", "loudspeaker"):
        job.take(SoundLost(part, "unplugged"))
    job.wait(9).take(SoundFound("microphone"))
    return of_job(job)


def test_sound_has_its_tables(record):
    """Room, voice, memos and devices stand where a reader looks for them, and what is amiss stands on top."""
    Path("van.memo-1.flac").write_bytes(SOUND)
    lines, beside = sounding()
    page = Page(record(lines, beside=beside)[2])
    assert page.table("How well it could hear")[0].items() >= {
        "Verdict": "noisy", "Noise, below full scale": "-31.5 dB", "Speech": "-24.0 dB", "Speech above noise": "7.5 dB",
        "Overdriven": "0.2 %", "Advice": "A headset."}.items()
    assert page.table("Voice set")[0].items() >= {
        "To": "slower", "Speed": "85 %", "Loudness": "0 dB", "Ear": "test ear 0.95, attention word"}.items()
    kept, lost = page.table("Spoken memos")
    assert kept.items() >= {"Memo": "1", "Length": "12 s", "Sound": "kept, as recorded", "File": "van.memo-1.flac",
                            "Draft, by machine": "the <union> was wet"}.items()
    assert lost["Sound"] == "not kept: nothing was said"
    microphone, loudspeaker = page.table("Parts that were gone")
    assert microphone["Why"] == "unplugged" and microphone["Back"] and loudspeaker["Back"] == "not again"
    top = page.words[:page.words.index("Stages in time")]
    assert "Memo 2 at step begin was not kept: nothing was said." in top
    assert "The loudspeaker was lost at step begin and not found again." in top and "microphone was lost" not in top


def test_what_failed_for_a_moment_has_its_table_and_a_shown_caution_says_so(record):
    """An ear that missed something, sound that stuttered, a clock that was set back; a caution read in place of a dead voice."""
    job = at("rail-pressure", ear="test ear", speaks=False)
    job.take(Faltered("ear", "ValueError at beam.py:55"))
    job.take(Stuttered("loudspeaker", 12, 3_400))
    job.at -= 3_600_000
    job.say("zero bar").take(SoundLost("voice", "OSError"))
    job.take(SpokenToEnd("caution:pressure", shown=True))
    page = Page(record(of_job(job)[0])[2])
    assert [(row["Part"], row["What"], row["By, or for"]) for row in page.table("What failed for a moment")] == [
        ("ear", "ValueError at beam.py:55", ""), ("loudspeaker", "sound was lost 12 times", "3 s"),
        ("time of day", "set back", "1 h")]
    assert page.table("Cautions")[0].items() >= {"Caution": "pressure", "How": "shown"}.items()


def test_a_memo_can_be_played_from_the_page_wherever_that_lies(record):
    """The page is whole in one file: the sound is in it, and leave for that alone in its policy."""
    Path("sheets").mkdir()
    Path("van.memo-1.flac").write_bytes(SOUND)
    record(sounding()[0], "--out", "sheets/van.html")
    page = Page(Path("sheets/van.html").read_text("utf-8"))
    (player,) = [given for name, given in page.elements if name == "audio"]
    held = player.pop("src").removeprefix("data:audio/flac;base64,")
    assert b64decode(held) == SOUND
    assert player == {"controls": "controls", "preload": "none", "aria-label": "Memo 1"}
    policy = next(given["content"] for name, given in page.elements if "http-equiv" in given)
    assert "; media-src data:;" in policy and policy.startswith("default-src 'none'")


def test_a_page_can_do_without_the_sound(record):
    """For whoever must not hear the voice: the draft stays, no player, nothing of the sound."""
    Path("van.memo-1.flac").write_bytes(SOUND)
    text = record(sounding()[0], "--no-sound")[2]
    assert "audio" not in [name for name, _ in Page(text).elements] and b64encode(SOUND).decode() not in text
    assert "Memo 1. Draft, by machine" in text


def test_a_served_page_links_to_the_sound_beside_it():
    """Where a page is served with its files, the sound is asked for only when it is played."""
    given = [Section("Spoken memos", (Sound("Memo 1", "van #1.memo-1.flac", "words"),))]
    text = as_html(Paper("record", "t", "s", "", "", (), Facts("This job", ()), tuple(given), "", ""))
    (player,) = [given for name, given in Page(text).elements if name == "audio"]
    assert player["src"] == "./van%20%231.memo-1.flac" and "; media-src 'self';" in text.replace("&#x27;", "'")


def test_the_page_never_takes_a_memo_s_place(record):
    """The sound is evidence like the log."""
    Path("van.memo-1.flac").write_bytes(SOUND)
    with pytest.raises(BadInput, match="must not take the log's place"):
        record(sounding()[0], "--out", "van.memo-1.flac")
    assert Path("van.memo-1.flac").read_bytes() == SOUND


@pytest.mark.parametrize("sound, code, state", [(None, 0, "kept, missing"), (b"another sound", 1, "kept, wrong")])
def test_a_memo_that_is_missing_or_changed_is_said_so_and_cannot_be_played(record, sound, code, state):
    """Never a player for another sound than the one that was recorded; an erased draft is said to be erased."""
    if sound is not None:
        Path("van.memo-1.flac").write_bytes(sound)
    found, _, text = record(sounding()[0])
    page = Page(text)
    memo = page.table("Spoken memos")[0]
    assert found == code and memo["Sound"] == state and memo["Draft, by machine"] == "(erased)"
    assert "audio" not in [name for name, _ in page.elements] and "media-src" not in text


# -- the command -------------------------------------------------------------------------------------------------------

def test_json_is_one_object_and_nothing_else(record):
    """Machine-readable, with the same facts; no page is written."""
    code, out, page = record(eventful()[0], "--json", beside=eventful()[1])
    data = json.loads(out)
    assert code == 0 and page == "" and out.count("\n") == 1
    assert data["values"][0]["value"] == "7.5" and data["values"][0]["score"] == "0.91" and data["stamp"] == STAMP
    assert data["values"][0]["replaced_by"] == data["values"][1]["line"] and data["waits"][0]["lasts"] == 240_000
    assert data["check"]["closing_seal"] == closing_seal(digest(eventful()[0][-1]))
    assert data["mechanics"][0]["name"] == "Robin Example" and len(data["entries"]) == len(eventful()[0])


def test_the_text_has_every_table_of_the_page_but_the_folded_ones(record, whole):
    """Someone with a terminal reads the same record."""
    code, out, page = record(eventful()[0], "--text")
    assert code == 0 and page == "" and STAMP in out and max(map(len, out.splitlines())) <= 110
    captions = {re.sub(r", \d+$", "", caption).upper() for caption in whole.tables}
    assert {caption for caption in captions if f"\n{caption}\n" not in out} == {
        "THIS JOB", "LINES THAT THE FINDINGS NAME", "BEHIND THIS RECORD", "STEPS IN ORDER", "EVERY ENTRY OF THE LOG"}


def test_the_page_goes_where_it_is_told(record):
    """Beside the log, into a named file, or to standard output: the same bytes."""
    assert record(eventful()[0])[:2] == (0, "van.html\n")
    beside = Path("van.html").read_bytes()
    assert record(eventful()[0], "--out", "other.html")[:2] == (0, "other.html\n")
    assert Path("other.html").read_bytes() == beside
    assert record(eventful()[0], "--out", "-")[1].encode("utf-8") == beside


@pytest.mark.parametrize("words, says", [
    (["none.jsonl"], "No such file"),
    (["folder.jsonl"], "must be a job log that can be read"),
    (["a\0b"], "null"),
    (["van.jsonl", "--out", "van.jsonl"], "must not take the log's place"),
    (["van.jsonl", "--out", "van.personal"], "must not take the log's place"),
    (["van.jsonl", "--out", "linked.html"], "must not take the log's place"),
    (["van.jsonl", "--out", "no/such/folder.html"], "No such file"),
])
def test_wrong_use_is_said(tmp_path, monkeypatch, words, says):
    """The log is never overwritten; what cannot be read or written is wrong use."""
    monkeypatch.chdir(tmp_path)
    Path("van.jsonl").write_bytes(b"".join(eventful()[0]))
    Path("van.personal").write_bytes(eventful()[1])
    Path("linked.html").hardlink_to("van.jsonl")
    Path("folder.jsonl").mkdir()
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    with pytest.raises(BadInput, match=says):
        run(parser.parse_args(words))
    assert Path("van.jsonl").read_bytes() == b"".join(eventful()[0]) and Path("van.personal").read_bytes() == eventful()[1]
    with pytest.raises(SystemExit) as stopped:
        parser.parse_args(["van.jsonl", "--text", "--json"])
    assert stopped.value.code == 2
