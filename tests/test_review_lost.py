"""Logs that are gone, shortened, copied, or cannot be read just now, and where the index is kept."""
from __future__ import annotations

import json
import os
import shutil
import stat
from contextlib import ExitStack
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.errors import BadInput
from companion.office.account import read_account
from companion.office.page.desk import Desk
from companion.office.review import batch, cut
from companion.office.review.cut import CUT
from companion.office.review.gone import GONE
from companion.office.review.indexing import _held, update
from companion.office.review.live import INDEX
from companion.office.review.opening import open_index
from companion.office.review.query import Filters
from companion.office.review.store import Store
from companion.office.review_log import FindingAnswered, append
from companion.office.trends.rates import by_kind
from logmaker import KEY
from officemaker import session, worked, write_log

AT = "2026-02-03T08:00:00.000Z"
DAY_MS = 86_400_000


@pytest.fixture(scope="module")
def some(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three short jobs, the second without an end, indexed once."""
    folder = tmp_path_factory.mktemp("jobs")
    write_log(folder, "a", session("learning"))
    write_log(folder, "b", worked("learning", ["next"]), DAY_MS)
    write_log(folder, "c", session("learning"), 2 * DAY_MS)
    update(Store(str(folder)), workers=1)
    return folder


@pytest.fixture
def logs(some: Path, tmp_path: Path) -> Path:
    """A copy of them, with their index."""
    return Path(shutil.copytree(some, tmp_path / "jobs"))


def found(logs: Path, apart: str = "") -> dict[str, list[str]]:
    """After a look: every log that is told, with what was found, save that typed answers come faster than words."""
    update(Store(str(logs)), workers=1, apart=apart)
    every = open_index(Store(str(logs)), apart).names(Filters())
    return {log: [name for name in names if name != "caution-rushed"] for log, names in every}


def answer(logs: Path, log: str, seal: str, finding: str = "log-missing") -> None:
    """The office says why a log, or what it had, is gone."""
    append(logs, FindingAnswered(by="R. Example", log=log, finding=finding, lines=(), text="made by mistake", seal=seal), KEY, AT)


def shorten(log: Path, lines: int) -> bytes:
    """Leave the first `lines` lines of a log; what it had."""
    whole = log.read_bytes()
    log.write_bytes(b"".join(whole.splitlines(keepends=True)[:lines]))
    return whole


# -- gone --------------------------------------------------------------------------------------------------------------

def test_a_log_that_is_gone_is_told_until_the_office_says_why(logs):
    """Look after look it stands in the list, with when it was seen and whether it was whole; a reply ends that, and a reply
    on another log of that name does not."""
    ends = {name: read_account(logs / name).mark() for name in ("a.jsonl", "b.jsonl")}
    for name in ends:
        (logs / name).unlink()
    for _ in range(2):
        assert found(logs) == {"a.jsonl": ["log-missing"], "b.jsonl": ["log-missing"], "c.jsonl": []}
    index = open_index(Store(str(logs)))
    said = [index.findings_of(name)[0]["said"] for name in ends]
    assert "lines, finished; on 20" in said[0] and "lines, without an end; on 20" in said[1]
    assert index.job("a.jsonl")["vehicle"] == index.job("a.jsonl")["mechanic"] == "", "nobody's data is kept with it"
    answer(logs, "a.jsonl", "f" * 64)
    assert "a.jsonl" in found(logs)
    answer(logs, "a.jsonl", ends["a.jsonl"])
    answer(logs, "b.jsonl", ends["b.jsonl"])
    assert found(logs) == {"c.jsonl": []} == found(logs)


def test_a_log_that_is_back_is_a_job_again(logs):
    """As if nothing had happened."""
    (logs / "a.jsonl").rename(logs / "a.kept")
    assert found(logs)["a.jsonl"] == ["log-missing"]
    (logs / "a.kept").rename(logs / "a.jsonl")
    assert found(logs)["a.jsonl"] == [] and len(found(logs)) == 3


def test_a_log_under_a_new_name_is_not_gone(logs):
    """Nothing is lost that lies here to the last line."""
    (logs / "a.jsonl").rename(logs / "z.jsonl")
    assert found(logs) == {"b.jsonl": ["job-unfinished"], "c.jsonl": [], "z.jsonl": []}


@pytest.mark.parametrize("spoil", [
    lambda index: [path.unlink() for path in (index / "jobs").iterdir()],
    lambda index: [path.write_bytes(b"spoiled") for path in (index / "jobs").iterdir()]])
def test_it_is_told_even_where_the_index_is_spoiled(logs, spoil):
    """Then only its name is known."""
    (logs / "a.jsonl").unlink()
    spoil(logs / INDEX)
    assert found(logs)["a.jsonl"] == ["log-missing"]
    assert "and could not be read" in open_index(Store(str(logs))).findings_of("a.jsonl")[0]["said"]


def test_it_is_told_by_a_program_with_another_form_of_the_index(logs, monkeypatch):
    """A new version makes the index anew, and yet knows what the old one had."""
    from companion.office.review import live
    (logs / "a.jsonl").unlink()
    monkeypatch.setattr(live, "FORM", "another")
    assert found(logs) == {"a.jsonl": ["log-missing"], "b.jsonl": ["job-unfinished"], "c.jsonl": []}


def test_what_is_remembered_of_gone_logs_is_not_given_up_unseen(logs, capsys):
    """A spoiled list of them is named, and not begun anew."""
    (logs / "a.jsonl").unlink()
    assert found(logs)["a.jsonl"] == ["log-missing"]
    (logs / INDEX / GONE).write_bytes(b"spoiled")
    assert main(["review", str(logs)]) == 1
    assert f"{GONE}: cannot be read" in capsys.readouterr().err and (logs / INDEX / GONE).read_bytes() == b"spoiled"


def test_the_page_takes_the_reply(logs):
    """The job's page stands, says that the log is gone, leads to no paper of it, and offers the reply; then the log is told no
    more."""
    from pagemaker import Reader, looked_at
    (logs / "a.jsonl").unlink()
    office = Reader(looked_at(logs))
    assert office.logs(finding="log-missing") == ["a"]
    page = office.page("/job/a.jsonl")
    assert "It is gone. Restore it, or say why it is gone." in page and "/job/a.jsonl/record" not in page
    assert office.send("/job/a.jsonl/reply", "/job/a.jsonl", by="R. Example", text="made by mistake").status_code == 303
    assert office.logs() == ["c", "b"] and "made by mistake" in office.page("/office")


# -- shortened ---------------------------------------------------------------------------------------------------------

SHORT = ["job-unfinished", "log-shortened"]


def test_a_finished_log_that_is_shortened_is_told_until_the_office_says_why(logs):
    """Look after look, also when it is shortened once more, and in a new form of the index; a reply ends it, one on another
    end does not."""
    end, lines = read_account(logs / "a.jsonl").mark(), len(read_account(logs / "a.jsonl").entries)
    for left in (lines - 2, lines - 2, 3):
        shorten(logs / "a.jsonl", left)
        assert found(logs)["a.jsonl"] == SHORT
    said = [one["said"] for one in open_index(Store(str(logs))).findings_of("a.jsonl") if one["name"] == SHORT[1]]
    assert len(said) == 2 and f"the log had {lines} lines, finished; on 20" in said[0]
    answer(logs, "a.jsonl", "f" * 64, SHORT[1])
    answer(logs, "a.jsonl", end, SHORT[1])
    assert found(logs)["a.jsonl"] == SHORT, "the second time is not yet answered"
    assert main(["office", str(logs), "gone", "a.jsonl", "--by", "R. Example", "--reason", "a copy that was cut"]) == 0
    assert found(logs) == {"a.jsonl": ["job-unfinished"], "b.jsonl": ["job-unfinished"], "c.jsonl": []}


def test_a_log_that_is_whole_again_is_not_told(logs):
    """As if nothing had happened; the index forgets it too."""
    whole = shorten(logs / "a.jsonl", 9)
    assert found(logs)["a.jsonl"] == SHORT
    (logs / "a.jsonl").write_bytes(whole)
    assert found(logs)["a.jsonl"] == [] and json.loads((logs / INDEX / CUT).read_bytes()) == []


def test_a_log_that_only_grew_or_lost_a_torn_end_is_not_told(logs):
    """A job that goes on; and bytes without a newline were never a line."""
    whole = shorten(logs / "a.jsonl", 9)
    shutil.rmtree(logs / INDEX)
    torn = (logs / "a.jsonl").read_bytes() + b'{"n":9,"at'
    for text in ((logs / "a.jsonl").read_bytes(), torn, whole):
        (logs / "a.jsonl").write_bytes(text)
        assert "log-shortened" not in found(logs)["a.jsonl"]
    assert found(logs)["a.jsonl"] == [] and not (logs / INDEX / CUT).exists()


@pytest.mark.parametrize("between", [
    lambda log: None, lambda log: log.unlink(), lambda log: log.write_bytes(b"spoiled\n"),
    lambda log: log.write_bytes(log.read_bytes().replace(b'"n":4,', b'"n":5,', 1))])
def test_another_text_in_place_of_a_log_is_told(logs, between):
    """At once, or after a look at which it was gone, unreadable or damaged."""
    between(logs / "a.jsonl")
    assert "log-shortened" not in found(logs).get("a.jsonl", [])
    write_log(logs, "a", session("learning"), 9 * DAY_MS)
    assert found(logs)["a.jsonl"] == ["log-shortened"] == found(logs)["a.jsonl"]


def test_a_name_that_is_used_anew_is_told_of_nothing(logs):
    """Where the first log lies under another name, or the office had said why it was gone."""
    end = read_account(logs / "c.jsonl").mark()
    (logs / "a.jsonl").rename(logs / "z.jsonl")
    (logs / "c.jsonl").unlink()
    found(logs)
    answer(logs, "c.jsonl", end)
    write_log(logs, "a", session("learning"), 8 * DAY_MS)
    write_log(logs, "c", session("learning"), 9 * DAY_MS)
    assert found(logs) == {"a.jsonl": [], "b.jsonl": ["job-unfinished"], "c.jsonl": [], "z.jsonl": []}


def test_a_log_that_grew_but_could_not_be_read_twice_is_asked_for_again(logs, monkeypatch):
    """A disk that fails for a moment leaves no finding behind."""
    whole = shorten(logs / "a.jsonl", 9)
    shutil.rmtree(logs / INDEX)
    found(logs)
    (logs / "a.jsonl").write_bytes(whole)
    with monkeypatch.context() as patched:
        patched.setattr(cut, "lines_in", lambda *_: open(logs / "none.jsonl", "rb"))
        assert found(logs)["a.jsonl"] == ["log-shortened"], "not known is not well"
    assert found(logs)["a.jsonl"] == [] and update(Store(str(logs)), workers=1) == 0


@pytest.mark.parametrize("form", ["the same", "another"])
def test_a_shortened_log_is_told_after_a_run_that_died(logs, monkeypatch, form):
    """The index still knows the old end, and so does one of another form."""
    from companion.office.review import indexing, live
    shorten(logs / "a.jsonl", 9)
    monkeypatch.setattr(live, "FORM", form if form == "another" else live.FORM)
    with monkeypatch.context() as patched:
        patched.setattr(indexing, "write_live", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            found(logs)
    assert found(logs)["a.jsonl"] == SHORT


def test_what_is_remembered_of_shortened_logs_is_not_given_up_unseen(logs, capsys):
    """A spoiled list of them is named, and not begun anew."""
    shorten(logs / "a.jsonl", 9)
    assert found(logs)["a.jsonl"] == SHORT
    (logs / INDEX / CUT).write_bytes(b"spoiled")
    assert main(["review", str(logs)]) == 1 and f"{CUT}: cannot be read" in capsys.readouterr().err


def test_the_page_takes_the_reply_to_a_shortened_log(logs):
    """The job stays in the list, and is told of it no more."""
    from pagemaker import Reader, looked_at
    shorten(logs / "a.jsonl", 9)
    office = Reader(looked_at(logs))
    assert office.logs(finding="log-shortened") == ["a"]
    sent = office.send("/job/a.jsonl/reply", "/job/a.jsonl", "log-shortened", by="R. Example", text="a copy that was cut")
    assert sent.status_code == 303 and office.logs(finding="log-shortened") == [] and "a" in office.logs()


# -- copied ------------------------------------------------------------------------------------------------------------

def test_a_copy_under_another_name_is_told_and_counts_once(logs):
    """The first by name is the job. Every list shows both; no trend counts the second."""
    shutil.copy(logs / "b.jsonl", logs / "b copy.jsonl")
    assert found(logs) == {"a.jsonl": [], "b copy.jsonl": ["job-unfinished"], "b.jsonl": ["job-unfinished", "log-copied"],
                           "c.jsonl": []}
    index = open_index(Store(str(logs)))
    said = [one["said"] for one in index.findings_of("b.jsonl") if one["name"] == "log-copied"]
    assert said == ["This log is the same, to the last line, as b copy.jsonl, and counts once with it."]
    assert [(rate.hits, rate.jobs) for rate in by_kind(index.db.cursor()) if rate.name == "job-unfinished"] == [(1, 3)]


# -- unreadable for now ------------------------------------------------------------------------------------------------

def test_a_log_that_the_disk_did_not_give_is_asked_for_again(logs, monkeypatch):
    """A fault of the disk passes; the log is read the next time, though nothing about it has changed."""
    real = batch.account_in

    def failing(place, name):
        if name == "a.jsonl":
            raise OSError(5, "Input/output error")
        return real(place, name)
    (logs / "a.jsonl").touch()
    monkeypatch.setattr(batch, "account_in", failing)
    for _ in range(2):
        assert found(logs)["a.jsonl"] == ["log-unreadable"]
    monkeypatch.setattr(batch, "account_in", real)
    assert found(logs)["a.jsonl"] == []
    assert update(Store(str(logs)), workers=1) == 0


# -- where the index is kept -------------------------------------------------------------------------------------------

def test_the_index_is_for_its_owner_alone(logs):
    """It holds who worked when, and on which vehicle."""
    if os.name == "nt":
        return
    (logs / INDEX).chmod(0o755)
    update(Store(str(logs)), workers=1)
    (logs / "a.jsonl").touch()
    update(Store(str(logs)), workers=1)
    assert stat.S_IMODE((logs / INDEX).stat().st_mode) == 0o700
    files = [path for path in (logs / INDEX).rglob("*") if path.is_file()]
    assert files and {stat.S_IMODE(path.stat().st_mode) for path in files} == {0o600}


def test_logs_that_may_only_be_read_are_reviewed_with_an_index_elsewhere(logs, tmp_path, monkeypatch, capsys):
    """Nothing is written beside them; two folders of logs share one folder of indexes, and neither is taken for the other."""
    shutil.rmtree(logs / "office")
    other = Path(shutil.copytree(logs, tmp_path / "other"))
    (other / "a.jsonl").unlink()
    (other / "b.jsonl").unlink()
    apart = str(tmp_path / "indexes")
    for _ in range(2):
        assert main(["review", str(logs), "--json", "--index", apart]) == 0
        assert [json.loads(line)["log"] for line in capsys.readouterr().out.splitlines()] == ["a.jsonl", "b.jsonl", "c.jsonl"]
        assert found(other, apart) == {"c.jsonl": []}
    assert sorted(path.name for path in logs.iterdir()) == ["a.jsonl", "b.jsonl", "c.jsonl"]
    desk = Desk(logs, KEY, lambda: AT, apart=apart)
    desk.look()
    assert desk.sight().logs == 3 and not (logs / "office").exists()


def test_where_the_index_cannot_be_written_the_way_out_is_said(logs, tmp_path, capsys):
    """A file stands in its place, as a folder that may only be read would."""
    shutil.rmtree(logs / "office")
    (logs / "office").write_text("in the way")
    assert main(["review", str(logs)]) == 1
    assert "--index FOLDER" in capsys.readouterr().err
    assert GONE not in {path.name for path in logs.iterdir()}


# -- two programs ------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("pauses", [3, 10**6])
def test_the_page_waits_for_its_turn(logs, pauses):
    """Another program is at the index: the page begins when that one is done, and gives up after ten seconds."""
    (logs / "a.jsonl").touch()
    other, waited = ExitStack(), []
    other.enter_context(_held(Store(str(logs)).within(INDEX)))

    def wait(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == pauses:
            other.close()
    desk = Desk(logs, KEY, lambda: AT, wait=wait)
    with other:
        if pauses == 3:
            desk.look()
            assert desk.sight().logs == 3 and len(waited) == 3
        else:
            with pytest.raises(BadInput, match="another program"):
                desk.look()
            assert sum(waited) == pytest.approx(10)


def test_a_spoiled_part_of_the_index_is_said(logs, capfd):
    """Whether a log was shortened since cannot be told then: nobody is left to believe that it was looked at."""
    found(logs)
    for path in (logs / INDEX / "jobs").iterdir():
        path.write_bytes(b"spoiled")
    log = logs / "c.jsonl"
    log.write_bytes(b"".join(log.read_bytes().splitlines(keepends=True)[:-1]))
    capfd.readouterr()
    update(Store(str(logs)), workers=1)
    assert "whether logs that it knew were shortened since cannot be told" in capfd.readouterr().err
