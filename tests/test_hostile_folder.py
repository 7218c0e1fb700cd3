"""A folder of logs from somebody who wants to harm whoever looks at it: every text in it steers, marks up or leads elsewhere,
and every log holds, signed with a key of its own. Each command, each paper and each page is tried on it."""
from __future__ import annotations

import io
import os
import sys
from pathlib import Path
from random import Random
from urllib.parse import quote

import pytest

from hostile.all_targets import CASES
from hostile.bounds import fit_for_terminal, no_markup, within
from hostile.changing import STRANGE, bytewise, objects_of
from hostile.logs import healed, small_jobs, split
from hostile.texts import SMALL, command
from logmaker import KEY
from pagemaker import Reader, looked_at

from companion.core.log.journal import canonical
from companion.core.log.rfc3339 import stamp
from companion.edge.ear import load_ear
from companion.office.review_log import CardApproved, FindingAnswered, JobSignedOff, review_path
from companion.office.review_log.lines import review_bytes

KEPT = {"card_text", "key", "boot", "sig", "kind", "how", "mode", "word", "part", "tools_text"}
"""Fields whose words decide whether there is anything to be told."""
TEXTS = [text for text in STRANGE if text.strip() and "\ud800" not in text and len(text) < 100]
NAMES = ("van.jsonl", "\x1b[31mred.jsonl", "<img src=x onerror=alert(1)>.jsonl", "\u202elsnoj.jsonl", "\x9b31m.jsonl",
         "-rf.jsonl", "a b;id.jsonl", "..jsonl", "\n.jsonl", "#x.jsonl", "%2e%2e.jsonl", "'\".jsonl")
SHOWN = [name for name in NAMES if name.isprintable()]
"""Those that the office's log can name."""


def poisoned(case: bytes, chance: Random) -> bytes:
    """Each text of each line has something strange in it; all healed."""
    return healed(b"\n".join(canonical(_poison(line, chance)) for line in map(objects_of, case.split(b"\n")) if line) + b"\n")


def _poison(line: dict, chance: Random) -> dict:
    if "salt" in line:
        return {**line, "text": chance.choice(TEXTS)}
    data = dict(line["data"])
    for name, value in data.items():
        if isinstance(value, list):
            data[name] = [chance.choice(TEXTS)] * len(value)
        elif isinstance(value, str) and name not in KEPT and chance.random() < 0.5:
            data[name] = chance.choice((value, "")) + chance.choice(TEXTS)
    return {**line, "data": data}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The folder, under names as bad as what is in them, with the office's own log and a list of keys."""
    place, chance = tmp_path_factory.mktemp("hostile"), Random(7)
    for turn, name in enumerate(NAMES):
        log, beside = split(poisoned(small_jobs()[turn % len(small_jobs())], chance))
        (place / name).write_bytes(log)
        if beside:
            (place / name.replace(".jsonl", ".personal")).write_bytes(beside)
    facts = [CardApproved(by="<b>A</b>", card="nut", version="<i>1", sha256="a" * 64, reason="\"><script>alert(1)</script>"),
             *(JobSignedOff(by="' onload='x", log=name, seal="b" * 64, reason="&lt;b&gt;") for name in SHOWN),
             FindingAnswered(by="<u>", log="van.jsonl", finding="job-unfinished", lines=(1,), text="<script>")]
    review_path(place).parent.mkdir()
    review_path(place).write_bytes(review_bytes([(stamp(1_700_000_000_000), fact) for fact in facts], KEY))
    (place / "card.yaml").write_text(SMALL, "utf-8")
    return place


@pytest.fixture(scope="module")
def indexed(tmp_path_factory) -> Path:
    """A small folder with its index, under a name that no query may stumble over."""
    place = tmp_path_factory.mktemp("indexed") / "o'brien; DROP [*] {a}"
    place.mkdir()
    (place / "van.jsonl").write_bytes(split(small_jobs()[0])[0])
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COMPANION_HOME", str(place / "home"))
        command(["review", str(place), "--workers", "1"])
    return place


@pytest.fixture
def home(folder, monkeypatch) -> Path:
    """The device's own folder lies inside the watched one."""
    monkeypatch.setenv("COMPANION_HOME", str(folder / "home"))
    return folder / "home"


COMMANDS = [["verify", "--json", "LOG"], ["verify", "LOG"], ["record", "LOG"], ["record", "LOG", "--text"],
            ["record", "LOG", "--json"], ["record", "LOG", "--sheet", "customer"], ["record", "LOG", "--sheet", "claim"],
            ["record", "LOG", "--out", "-"],
            ["forget", "LOG"], ["forget", "LOG", "--all", "--sound"], ["check", "LOG"], ["check", "--json", "LOG"],
            ["job", "learning", "--typed", "--clock", "simulated", "--voice", "none", "--log", "LOG"]]


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_no_command_is_led_astray_by_a_log(name, folder, home) -> None:
    """Two commands for each log: nothing printed steers, the page that is made has no element of theirs, and no file outside
    the folder is opened."""
    place = NAMES.index(name)
    for argv in (COMMANDS[place % len(COMMANDS)], COMMANDS[(place + 5) % len(COMMANDS)]):
        with within(folder):
            command([part.replace("LOG", str(folder / name)) for part in argv])
    for made in folder.glob("*.html"):
        no_markup(made.read_text("utf-8"))


@pytest.mark.parametrize("argv", [
    ["review", "FOLDER", "--workers", "1"], ["review", "FOLDER", "--trends", "--workers", "1"],
    ["cards", "FOLDER", "list"], ["cards", "FOLDER", "list", "--json"], ["check", "FOLDER/card.yaml"]], ids=" ".join)
def test_no_command_is_led_astray_by_a_folder(argv, folder, home) -> None:
    """The review of all of them, the register of cards: nothing that steers, nothing outside, nothing run."""
    with within(folder):
        command([part.replace("FOLDER", str(folder)) for part in argv])


ARGUMENTS = (
    ["\x1b[2J"], ["verify", "-\x1b[31m"], ["verify", "a", "--\x9bx"], ["record", "a", "--sheet", "\x1b[2J"],
    ["cards", "x", "\x1b"], ["review", "x", "--most", "\x1b"], ["work", "\x1b"], ["hear", "a", "--answer", "\x1b"],
    ["page", "\x1b[31m"],
    ["trust", "\x1b[31m", "list"], ["receipts", "\x1b[31m", "check"], ["forget", "\x1b[31m.jsonl"],
    ["job", "x", "--clock", "\u202e"], ["demo", "--out", f"{os.devnull}/\x1b[31m"])


@pytest.mark.parametrize("argv", ARGUMENTS, ids=range(len(ARGUMENTS)))
def test_no_argument_steers_the_terminal(argv, home) -> None:
    """Wrong use with what steers in it, as a shell makes of a folder's names: told in plain characters."""
    assert command(argv)[0] == 2


def test_no_page_has_an_element_of_theirs(folder, home) -> None:
    """Each view of the supervisor's page, each job, each paper."""
    reader = Reader(looked_at(folder))
    views = ["/jobs", "/jobs?finding=any", "/trends", "/cards", "/office", "/help", "/jobs?text=%3Cb%3E"]
    papers = [f"/job/{quote(log)}{paper}" for log in SHOWN for paper in ("", "/record", "/customer", "/claim")]
    pages = [reader.get(address) for address in views + papers]
    assert sum(page.status_code == 200 for page in pages) > len(SHOWN), [page.status for page in pages]
    for page in pages:
        no_markup(page.text)


ADDRESSES = (
    "/job/..%2f..%2fetc%2fpasswd", "/job/%2e%2e/%2e%2e/etc/passwd", "/job/van.jsonl/..%2f..%2fetc%2fpasswd",
    "/job/van.jsonl/van.personal",
    "/job/van.jsonl/%00", "/job/%1b%5b31m", "/jobs?order=%3Cb%3E", "/jobs?since=2026-13-99", "/jobs?page=99999999999999999999",
    "/jobs?mechanic=%27%20OR%201=1--", "/jobs?text=%25%27%3B%20DROP%20TABLE%20jobs",
    "/next?after=%3Cscript%3E&from=//elsewhere.example",
    "/page.css/..%2f..", "//elsewhere.example/", "/jobs?" + "a=b&" * 2000, "/%F0%28%8C%BC", "/office?page=-1")
"""That somebody made up."""


def test_no_address_leads_out_of_the_folder(folder, home) -> None:
    """Each has an answer of ours, below 500, without markup, without a file from outside, and leads nowhere else."""
    reader = Reader(looked_at(folder))
    for address in ADDRESSES:
        with within(folder):
            found = reader.get(address)
        assert found.status_code < 500 and "root:" not in found.text, address
        assert not found.headers.get("Location", "/").startswith(("//", "http://else")), address
        no_markup(found.text)


def test_no_sound_file_leads_the_ear_astray(folder, home) -> None:
    """Hostile sound under hostile names, through the real ear: a line of JSON for each, and nothing that steers."""
    sounds = {"loud\x1b[2J.wav": CASES / "as-loud-as-can-be.sound", "\x9bnone.wav": CASES / "no-numbers.sound", "-a.flac": None}
    for name, path in sounds.items():
        (folder / name).write_bytes(path.read_bytes() if path else b"fLaC" + bytes(40))
    load_ear("embedded")  # once a process it looks through the libraries that are loaded, whatever is heard
    with within(folder):
        files = [str(folder / name) for name in (*sounds, "none.wav")]
        code, said, _ = command(["hear", "--answer", "commands", *files])
    assert code == 1 and len(said.splitlines()) == len(sounds) + 1
    job = ["job", "learning", "--clock", "simulated", "--voice", "none", "--log", str(folder / "heard.jsonl"), "--sound-in"]
    with within(folder):
        assert command([*job, str(folder / "-a.flac")])[0] == 2


def test_typed_words_cannot_steer_the_terminal(folder, home, monkeypatch) -> None:
    """Everything strange, typed as an answer: the job goes on and prints nothing that steers."""
    lines = "\n".join(text.replace("\n", " ") for text in STRANGE if len(text) < 500)
    stdin = io.TextIOWrapper(io.BytesIO(lines.encode("utf-8", "replace")), "utf-8")
    monkeypatch.setattr(sys, "stdin", stdin)
    with within(folder):
        code, said, _ = command(["job", str(folder / "card.yaml"), "--typed", "--clock", "simulated", "--voice", "none", "--log",
                                 str(folder / "typed.jsonl"), "--mechanic", "\x1b[31mred"])
    assert code == 1 and "companion:" in said


@pytest.mark.parametrize("name", ["jobs", "findings", "values", "stages", "live.parquet", "looked.json", "seen.json"])
def test_a_spoiled_index_is_a_message(name, indexed, home) -> None:
    """An index that came with the folder, changed by somebody: jobs and trends are told, or that the index must go."""
    chance, index = Random(name), indexed / "office" / "index"
    for path in sorted((index / name).glob("*") if (index / name).is_dir() else [index / name]):
        kept = path.read_bytes()
        path.write_bytes(b"[" * 9_000 if name.endswith("json") else bytewise(kept, chance))
        view = ["--trends"] if name in ("values", "stages") else []
        assert command(["review", str(indexed), "--workers", "1", *view])[0] in (0, 1)
        path.write_bytes(kept)


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_in_the_folder_leads_nowhere(tmp_path, monkeypatch) -> None:
    """What a sender linked to somebody's own file is neither erased nor written over."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    own, place = tmp_path / "own", tmp_path / "sent"
    own.write_bytes(b"mine")
    place.mkdir()
    (place / "a.jsonl").write_bytes(split(small_jobs()[0])[0])
    for name in ("a.memo-1.flac", "a.personal", "a.html"):
        (place / name).symlink_to(own)
    assert command(["forget", str(place / "a.jsonl"), "--all", "--sound"])[0] == 1
    assert command(["record", str(place / "a.jsonl")])[0] == 2
    assert own.read_bytes() == b"mine"


def test_what_a_terminal_must_not_get_is_known() -> None:
    """The watch itself: it sees what steers, and a made-up element."""
    for text in ("\x1b[2J", "\x9b2J", "a\rb", "\u202e", "\x07", "\u200b"):
        with pytest.raises(AssertionError):
            fit_for_terminal(text)
    for page in ("<script>", "<p onclick=x>", "<a href='javascript:x'>", "<!-- x -->", "<img src=x>"):
        with pytest.raises(AssertionError):
            no_markup(page)
    with pytest.raises(AssertionError), within(Path(os.sep) / "nowhere"):
        exec("1")
