"""The office's log against its list of trusted keys, and against what this machine has seen of it."""
from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.core.log.journal import public_hex
from companion.edge.device import device_key, home
from companion.errors import BadEvidence, BadInput
from companion.office.page.desk import Desk
from companion.office.review.indexing import update
from companion.office.review.store import Store
from companion.office.review_log import (
    CardApproved, CardWithdrawn, DoubtAnswered, HoldSignedOff, append, read_review, review_bytes, review_path, reviewed)
from companion.office.review_log.seen import Memory
from companion.office.trusted import LIST, Trusted, TrustedKey
from logmaker import KEY, OTHER_KEY
from officemaker import session, write_log
from pagemaker import Reader

A = "a" * 64
APPROVED = CardApproved(by="R. Example", card="wheels", version="1", sha256=A, reason="new data")
WITHDRAWN = CardWithdrawn(by="R. Example", card="wheels", version="1", sha256=A, reason="the torque was wrong")
HOLD = HoldSignedOff(by="R. Example", log="van.jsonl", step="release", reason="seen", seal=A)
ANSWER = DoubtAnswered(by="R. Example", text="found", reason="restored")


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch) -> Path:
    """A machine of each test's own."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def jobs(tmp_path) -> Path:
    """A folder of logs."""
    (tmp_path / "jobs").mkdir()
    return tmp_path / "jobs"


def day(number: int) -> str:
    """A time on a day of an invented month."""
    return f"2026-02-{number:02d}T08:00:00.000Z"


def trust(folder: Path, *keys: tuple) -> None:
    """Write a list: key, first day and the day of its revocation, or ""."""
    entries = [f"  - {{key: {public_hex(key)}, name: machine {place}, from: 2026-02-{since:02d}"
               + (f", revoked: 2026-02-{revoked:02d}" if revoked else "") + "}"
               for place, (key, since, revoked) in enumerate(keys)]
    (folder / "office").mkdir(exist_ok=True)
    (folder / "office" / LIST).write_text("\n".join(["trusted_keys: 1", "keys:", *entries]) + "\n", encoding="utf-8")


# -- whose keys count --------------------------------------------------------------------------------------------------

ONE = TrustedKey(public_hex(KEY), "office one", "2026-02-02")
GONE = TrustedKey(public_hex(OTHER_KEY), "office two", "2026-02-02", "2026-02-05", "stolen")

COUNTED = [  # the list, lines as (day, key), those that count
    (None, [(1, KEY), (2, OTHER_KEY)], [0, 1]),
    ((ONE,), [(3, KEY), (3, OTHER_KEY)], [0]),
    ((ONE,), [(1, KEY), (2, KEY)], [1]),
    ((), [(3, KEY)], []),
    ((ONE, GONE), [(4, OTHER_KEY), (5, OTHER_KEY), (6, KEY)], [0, 2]),
    ((ONE, GONE), [(6, KEY), (4, OTHER_KEY)], [0]),  # it tells an earlier day, behind a line of a later one
    ((ONE, GONE), [(4, KEY), (4, OTHER_KEY)], [0, 1]),
]


@pytest.mark.parametrize("keys, lines, counted", COUNTED)
def test_only_lines_by_keys_on_the_list_count(keys, lines, counted):
    """On the day of the line; of a revoked key none that stands after another's of a later day. All stay in the chain."""
    data = b""
    for place, (number, key) in enumerate(lines):
        fact = HoldSignedOff(by="R. Example", log="van.jsonl", step=f"step {place}", reason="seen", seal=A)
        data += _added(data, day(number), fact, key)
    found = reviewed(data.splitlines(keepends=True)).judged_by(None if keys is None else Trusted(keys))
    assert len(found.entries) == len(lines) and not found.broken
    assert [step for _, step in found.holds] == [f"step {place}" for place in counted]
    assert sorted(found.uncounted) == [place for place in range(len(lines)) if place not in counted]
    assert all(why.startswith("the key is ") for why in found.uncounted.values())


def _added(data: bytes, at: str, fact, key) -> bytes:
    from companion.office.review_log.lines import Lines
    from companion.office.review_log.reviewed import read_into
    lines = Lines()
    read_into(lines, data.splitlines(keepends=True))
    return lines.add(fact, at, key)


def test_a_key_of_ones_own_making_approves_nothing(jobs, capsys):
    """Reproduces what was wrong: any key that somebody made counted. With a list it does not, and that is said by the review,
    the list of cards and the page; without one it is said that every key counts."""
    append(jobs, APPROVED, KEY, day(3))
    path = review_path(jobs)
    path.write_bytes(path.read_bytes() + _added(path.read_bytes(), day(3), WITHDRAWN, OTHER_KEY))
    assert not read_review(jobs).register["wheels"][-1].approved
    assert main(["review", str(jobs)]) == 0
    said = capsys.readouterr().err
    assert "There is no list of trusted keys" in said and "companion trust FOLDER add KEY --name NAME" in said
    trust(jobs, (KEY, 2, 0))
    assert [mark.approved for mark in read_review(jobs).register["wheels"]] == [True]
    assert main(["review", str(jobs)]) == 0
    assert "Line 2 of the office's log does not count: the key is not on the list" in capsys.readouterr().err
    assert main(["cards", str(jobs), "list"]) == 0
    said = capsys.readouterr()
    assert "approved" in said.out and "withdrawn" not in said.out and "Line 2" in said.err
    page = Reader(Desk(jobs, KEY, lambda: day(4)))
    page.desk.look()
    assert "Line 2 of the office&#x27;s log does not count" in page.page("/cards")
    assert "Does not count: </strong>the key is not on the list" in page.page("/office")


UNLISTED = f"is not on the list of trusted keys. Nothing was written. Add it: companion trust FOLDER add {public_hex(KEY)} --name"
NOT_COUNTED = "must count in the office's list of trusted keys.*Nothing was written"


@pytest.mark.parametrize("keys, number, told", [
    ([(OTHER_KEY, 2, 0)], 3, UNLISTED), ([(KEY, 4, 0)], 3, NOT_COUNTED), ([(KEY, 2, 3)], 3, NOT_COUNTED),
    ([(KEY, 2, 5)], 6, NOT_COUNTED)])
def test_a_machine_whose_key_would_not_count_writes_nothing(jobs, keys, number, told):
    """It is told at once, and not after a month of sign-offs; the page offers no form, and says it before anything is
    typed."""
    trust(jobs, *keys)
    with pytest.raises(BadInput, match=told):
        append(jobs, HOLD, KEY, day(number))
    assert not read_review(jobs).entries
    write_log(jobs, "van", session("learning"))
    page = Reader(Desk(jobs, KEY, lambda: day(number)))
    page.desk.look()
    for address in ("/job/van.jsonl", "/cards"):
        said = page.page(address)
        assert "its sign-offs do not count" in said.lower() and re.findall('action="([^"]*)"', said) == ["/look"]


# -- what this machine has seen ----------------------------------------------------------------------------------------

def filled(jobs: Path) -> bytes:
    """Three lines, seen by this machine."""
    for number, fact in enumerate((APPROVED, HOLD, WITHDRAWN), 3):
        append(jobs, fact, KEY, day(number))
    return review_path(jobs).read_bytes()


def _shortened(data: bytes) -> bytes:
    return data[:data.rindex(b"\n", 0, -1) + 1]


LOST = [
    ("one line short", lambda path, data: path.write_bytes(_shortened(data)),
     "had 3 lines on 20.* and has 2 now: it was shortened"),
    ("empty", lambda path, data: path.write_bytes(b""), "has 0 now: it was deleted"),
    ("deleted", lambda path, data: path.unlink(), "has 0 now: it was deleted"),
    ("written anew, as long", lambda path, data: path.write_bytes(review_bytes(
        [(day(3), HOLD), (day(4), APPROVED), (day(5), WITHDRAWN)], KEY)), "Line 3 of the office's log is not the one"),
    ("cut within a line", lambda path, data: path.write_bytes(data[:-9]), "and has 2 now: it was shortened"),
]


@pytest.mark.parametrize("what, damage, said", LOST, ids=[case[0] for case in LOST])
def test_a_log_that_is_not_what_was_seen_is_told_until_somebody_says_why(jobs, capsys, what, damage, said):
    """The command ends with 1 and nothing can be written; after the answer, which is itself a line of the log, all is as
    usual."""
    data = filled(jobs)
    damage(review_path(jobs), data)
    with pytest.raises(BadEvidence, match="Until then nothing is added"):
        append(jobs, HOLD, KEY, day(9))
    for _ in range(2):
        assert main(["office", str(jobs)]) == 1
        assert_said(said, capsys.readouterr().err)
    assert main(["office", str(jobs), "accept", "--by", "R. Example", "--reason", "restored from Friday's copy"]) == 0
    last = read_review(jobs).entries[-1].fact
    assert (last.reason, last.by) == ("restored from Friday's copy", "R. Example")
    assert_said(said, last.text)
    append(jobs, HOLD, KEY, day(9))
    assert main(["office", str(jobs)]) == 0


def assert_said(pattern: str, text: str) -> None:
    """What was said, whatever day it was."""
    assert re.search(pattern, text), text


def test_review_and_page_tell_it_too(jobs, capsys):
    """Review ends with 1; the page says it, and offers no form, until it is answered."""
    filled(jobs)
    review_path(jobs).unlink()
    assert main(["review", str(jobs), "--json"]) == 1 and "it was deleted" in capsys.readouterr().err
    page = Reader(Desk(jobs, KEY, lambda: day(9)))
    page.desk.look()
    told = page.page("/cards")
    assert "Nothing can be signed now" in told and 'class="entry"' not in told
    assert "companion office FOLDER accept --by NAME --reason TEXT" in told
    append(jobs, ANSWER, KEY, day(9))
    assert "Nothing can be signed now" not in page.page("/jobs") and "went on with what was found" in page.page("/office")
    assert main(["review", str(jobs), "--json"]) == 0


def test_what_others_write_meanwhile_is_no_loss(jobs):
    """A log that has grown since, by whichever machine, is what was seen, and more."""
    data = filled(jobs)
    review_path(jobs).write_bytes(data + _added(data, day(8), HOLD, OTHER_KEY))
    found = read_review(jobs)
    assert found.sound and len(found.entries) == 4
    review_path(jobs).write_bytes(data)
    assert not read_review(jobs).sound, "and from then on those four lines are what was seen"


def test_another_machine_has_what_the_index_remembers(jobs, tmp_path, monkeypatch):
    """One that never saw the folder is told by what lies beside the index; one without an index has nothing to compare."""
    filled(jobs)
    update(Store(str(jobs)))
    read_review(jobs)
    review_path(jobs).unlink()
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "another"))
    assert "was deleted" in read_review(jobs).doubts[0]
    (jobs / "office" / "index" / "seen.json").unlink()
    assert read_review(jobs).sound


@pytest.mark.skipif(os.name == "nt", reason="a link needs rights of its own there")
def test_a_link_that_came_with_the_folder_leads_no_memory_elsewhere(jobs, tmp_path):
    filled(jobs)
    update(Store(str(jobs)))
    (jobs / "office" / "index" / "seen.json").unlink(missing_ok=True)
    (tmp_path / "elsewhere").write_text("as it was")
    (jobs / "office" / "index" / f"seen.json.{os.getpid()}").symlink_to(tmp_path / "elsewhere")
    read_review(jobs)
    assert (tmp_path / "elsewhere").read_text() == "as it was" and (jobs / "office" / "index" / "seen.json").is_file()


@pytest.mark.parametrize("change, said", [
    (lambda path: path.unlink(), "was deleted"), (lambda path: path.write_text(path.read_text().replace("machine 0", "van")),
                                                  "was changed"),
    (lambda path: trust(path.parent.parent, (KEY, 2, 0), (OTHER_KEY, 2, 0)), "was changed")])
def test_a_list_of_trusted_keys_that_was_changed_is_told(jobs, change, said):
    """Whoever may write beside the log could else put a key of their own on it, or take the list away; one that is made for
    the first time only makes things stricter."""
    append(jobs, APPROVED, KEY, day(3))
    trust(jobs, (KEY, 2, 0))
    assert read_review(jobs).sound
    change(jobs / "office" / LIST)
    assert f"list of trusted keys {said}" in read_review(jobs).doubts[0]
    assert append(jobs, ANSWER, KEY, day(4)).sound and read_review(jobs).sound


def test_a_list_changed_by_this_machine_s_own_command_is_no_surprise_to_it(jobs, capsys):
    """Adding and revoking devices stops no sign-off here; a change by anybody else, before or after, is told all the same."""
    append(jobs, APPROVED, KEY, day(3))
    trust(jobs, (KEY, 2, 0))
    assert read_review(jobs).sound
    add = ["trust", str(jobs), "add", public_hex(OTHER_KEY), "--name", "van two", "--from", "2026-02-01"]
    assert main(add) == 0 and read_review(jobs).sound
    assert main(["trust", str(jobs), "revoke", public_hex(OTHER_KEY)[:8], "--why", "stolen"]) == 0 and read_review(jobs).sound
    trust(jobs, (KEY, 2, 0))
    assert main(add) == 0 and "was changed" in read_review(jobs).doubts[0]


@pytest.mark.parametrize("spoilt", [b"", b"{}", b"[1]", b'{"folder":1,"at":2,"lines":"x","last":4,"keys":5}', b"\xff"])
def test_a_memory_that_cannot_be_read_is_told(jobs, spoilt):
    """It is no reason to believe the log; an answer begins it anew."""
    filled(jobs)
    memory = Memory("", jobs).own
    memory.write_bytes(spoilt)
    assert str(memory) in read_review(jobs).doubts[0]
    assert append(jobs, ANSWER, KEY, day(9)).sound and read_review(jobs).sound


def test_there_is_nothing_to_answer_where_nothing_is_wrong(jobs):
    """So that nobody answers beforehand."""
    filled(jobs)
    with pytest.raises(BadInput, match="there is nothing to answer"):
        append(jobs, ANSWER, KEY, day(9))


def test_a_machine_that_cannot_remember_says_so(jobs, own_home, capsys):
    """It reads all the same."""
    filled(jobs)
    for path in (own_home / "seen").iterdir():
        path.unlink()
    (own_home / "seen").rmdir()
    (own_home / "seen").write_text("in the way")
    assert len(read_review(jobs).entries) == 3
    assert "would not be noticed here" in capsys.readouterr().err


def test_the_memory_is_for_its_owner_alone_and_names_the_folder(jobs):
    """It tells which folders somebody looks after."""
    filled(jobs)
    path = Memory("", jobs).own
    seen = json.loads(path.read_text())
    assert path.is_relative_to(home()) and path.stat().st_mode & 0o077 == 0
    assert (seen["folder"], seen["lines"]) == (str(jobs.resolve()), 3)


# -- the command -------------------------------------------------------------------------------------------------------

def test_the_command_shows_how_the_log_stands_and_explains_a_missing_log(jobs, capsys):
    """Lines and keys; "gone" ends the finding of a log that was indexed and is not there."""
    write_log(jobs, "van", session("learning"))
    assert main(["office", str(jobs)]) == 0 and capsys.readouterr().out == "0 lines\n"
    assert main(["review", str(jobs)]) == 0
    assert main(["office", str(jobs), "gone", "van.jsonl", "--by", "R. Example", "--reason", "a trial"]) == 2
    (jobs / "van.jsonl").unlink()
    assert main(["review", str(jobs), "--json"]) == 0
    assert json.loads(capsys.readouterr().out.splitlines()[-1])["findings"] == ["log-missing"]
    assert main(["office", str(jobs), "gone", "van.jsonl", "--by", "R. Example", "--reason", "a trial"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("1 line, the last on 20") and public_hex(device_key())[:12] in said
    assert main(["review", str(jobs), "--json"]) == 0 and capsys.readouterr().out == ""
