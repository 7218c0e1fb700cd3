"""`companion forget`: what is kept about people goes, from every file; the log stays, holds and replays."""
from __future__ import annotations

import hashlib
import json
import os
import shutil
from pathlib import Path

import duckdb
import pytest

from companion.__main__ import main
from companion.core.log.codec import ERASED
from companion.edge import erasing
from companion.edge.device import device_key
from companion.edge.logfile import LogFile
from companion.edge.loop import replayed
from companion.office.account import read_account
from companion.office.kept import kept_beside
from companion.office.review_log import CardWithdrawn, append, read_review
from companion.office.verify import verify

FROZEN = Path(__file__).parent / "formats" / "nothing-lost"
AT = "2026-11-28T12:00:00.000Z"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of logs, on the device that wrote them."""
    (tmp_path / "home").mkdir()
    shutil.copyfile(FROZEN.parent / "device.key", tmp_path / "home" / "device.key")
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    made = tmp_path / "jobs"
    made.mkdir()
    for name in ("injector", "resumed", "unfinished", "spoken", "learning"):
        for path in FROZEN.glob(f"{name}.*"):
            shutil.copyfile(path, made / path.name)
    return made


def entries_of(log: Path) -> list[dict[str, str]]:
    """The lines of its sidecar; [] where there is none."""
    beside = log.with_suffix(".personal")
    return [json.loads(line) for line in beside.read_text("utf-8").splitlines()] if beside.exists() else []


def found_in(folder: Path, words: set[str]) -> set[str]:
    """Which of `words` stand in any file of the folder, as they are, or in a row of any Parquet file."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    held = [path.read_bytes() for path in files if path.suffix != ".parquet"]
    held += [repr(duckdb.sql(f"SELECT * FROM read_parquet('{path}')").fetchall()).encode()
             for path in files if path.suffix == ".parquet"]
    return {word for word in words if any(word.encode() in some for some in held)}


def told_by(log: Path) -> set[str]:
    """Every personal text of a log that could not stand anywhere else, with its salt."""
    return {entry[part] for entry in entries_of(log) for part in ("text", "salt") if len(entry[part]) > 6}


def test_without_a_choice_it_only_lists(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Names and numbers, no text; nothing is changed."""
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert main(["forget", *map(str, sorted(folder.glob("*.jsonl")))]) == 0
    said = capsys.readouterr().out
    assert [line.rsplit("/", 1)[-1] for line in said.splitlines()] == [
        "injector.jsonl: customer (5 texts), mechanic (6 texts)", "learning.jsonl: mechanic (1 text)",
        "resumed.jsonl: mechanic (6 texts)", "spoken.jsonl: memo (1 text), 4 sound files", "unfinished.jsonl: mechanic (1 text)"]
    assert "FH42" not in said and "Ann" not in said
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize("name", ["injector", "resumed", "spoken"])
def test_neither_text_nor_salt_is_left_and_the_log_holds(folder: Path, name: str, capsys) -> None:
    """In no file of the folder; the log's bytes are the same, it verifies, replays, and its record says "(erased)"."""
    log, words = folder / f"{name}.jsonl", told_by(folder / f"{name}.jsonl")
    for other in folder.iterdir():  # whose words are others'
        if other.name.split(".")[0] not in (name, "spoken" if name != "spoken" else "resumed"):
            other.unlink()
    before, job = log.read_bytes(), read_account(log).standing()
    assert main(["review", str(folder), "--json", "--workers", "1"]) == 0
    assert found_in(folder, words) == words
    assert main(["forget", str(log), "--all", "--sound"]) == 0
    assert found_in(folder, words) == set()
    found = verify(log)
    assert log.read_bytes() == before and found["holds"] and any("are erased" in text for text in found["not_checked"])
    after = read_account(log).standing()
    assert (after.mode, after.at, after.outcomes, after.clocks) == (job.mode, job.at, job.outcomes, job.clocks)
    assert all(after.answers[key] in (job.answers[key], ERASED) for key in job.answers)
    assert main(["record", str(log), "--text"]) == 0
    assert ERASED in capsys.readouterr().out


def test_one_name_goes_and_the_others_stay(folder: Path) -> None:
    """The customer's texts go; every other line of the sidecar is as it was, for its owner alone."""
    log = folder / "injector.jsonl"
    before, gone = entries_of(log), kept_beside(log).texts["customer"]
    assert main(["forget", str(log), "--name", "customer"]) == 0
    assert entries_of(log) == [entry for entry in before if entry["sha256"] not in gone]
    assert len(gone) == 5 and kept_beside(log).texts.keys() == {"mechanic"}
    assert os.name == "nt" or log.with_suffix(".personal").stat().st_mode & 0o777 == 0o600


def test_what_was_erased_cannot_be_found_by_trying(folder: Path) -> None:
    """A customer's reference of four characters is found from its salted hash while the salt is there, and not without."""
    log = folder / "injector.jsonl"
    tries = [f"{first}H{number}" for first in "EFG" for number in range(10, 100)]
    entry = next(entry for entry in entries_of(log) if entry["text"] == "FH42")
    assert entry["sha256"] in log.read_text("utf-8")
    salt = bytes.fromhex(entry["salt"])
    assert [text for text in tries if hashlib.sha256(salt + text.encode()).hexdigest() == entry["sha256"]] == ["FH42"]
    assert main(["forget", str(log), "--name", "customer"]) == 0
    assert found_in(folder, {entry["salt"]}) == set() and len(entry["salt"]) == 32  # 128 bits to be guessed
    assert not [text for text in tries if hashlib.sha256(text.encode()).hexdigest() in log.read_text("utf-8")]


def test_an_index_that_is_kept_elsewhere_forgets_too(folder: Path, capsys) -> None:
    """Named as for `review`; what lies there is for its owner alone."""
    log, apart = folder / "injector.jsonl", folder.parent / "apart"
    assert main(["review", str(folder), "--json", "--workers", "1", "--index", str(apart)]) == 0
    before = [path for path in apart.rglob("*.parquet") if path.parent.name == "jobs"]
    assert duckdb.sql(f"SELECT mechanic FROM read_parquet('{before[0]}') WHERE log = 'injector.jsonl'").fetchall() == [("ME",)]
    assert main(["forget", str(log), "--all", "--index", str(apart)]) == 0
    after = [path for path in apart.rglob("*.parquet") if path.parent.name == "jobs"]
    assert len(after) == 1 and not set(before) & set(after)
    assert duckdb.sql(f"SELECT mechanic FROM read_parquet('{after[0]}') WHERE log = 'injector.jsonl'").fetchall() == [(ERASED,)]
    assert os.name == "nt" or not any(path.stat().st_mode & 0o077 for path in apart.rglob("*.parquet"))


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot lose its name there")
@pytest.mark.parametrize("choice", [["--all"], ["--name", "customer"]])
def test_the_old_bytes_are_overwritten(folder: Path, choice: list[str]) -> None:
    """What the old file held is zeros on the disk, not only without a name."""
    log = folder / "injector.jsonl"
    with open(log.with_suffix(".personal"), "rb") as old:
        size = len(old.read())
        assert main(["forget", str(log), *choice]) == 0
        old.seek(0)
        assert old.read() == bytes(size)


def test_a_log_in_use_is_refused_and_the_others_are_done(folder: Path, capsys) -> None:
    """Nobody erases beside a running job, which would write on."""
    log = folder / "unfinished.jsonl"
    with LogFile.resume(log, device_key())[0]:
        assert main(["forget", str(log), str(folder / "resumed.jsonl"), "--all"]) == 2
    assert "another companion holds this log" in capsys.readouterr().err
    assert entries_of(log) and not entries_of(folder / "resumed.jsonl")


def test_a_forgotten_unfinished_job_goes_on(folder: Path) -> None:
    """It resumes without the old texts, and keeps new ones."""
    log = folder / "unfinished.jsonl"
    assert main(["forget", str(log), "--all"]) == 0
    file, entries, _ = LogFile.resume(log, device_key())
    with file:
        assert replayed(entries).mechanic == ERASED and replayed(entries).mode == "waiting"


def test_it_is_recorded_where_the_office_keeps_a_log(folder: Path, capsys) -> None:
    """Who, what kind, how many, when and why, before it is done and never the words; without a name nothing is erased.
    The page tells what was erased from what only lies elsewhere."""
    log = folder / "injector.jsonl"
    first = CardWithdrawn(by="R. Example", card="learning", version="9", sha256="ab" * 32, reason="none")
    append(folder, first, device_key(), AT)
    assert main(["forget", str(log), "--name", "customer"]) == 2
    assert "--by" in capsys.readouterr().err and len(kept_beside(log).texts["customer"]) == 5
    assert main(["forget", str(log), "--name", "customer", "--by", "R. Example", "--reason", "asked for by letter"]) == 0
    entry = read_review(folder).entries[-1]
    assert vars(entry.fact) == {"by": "R. Example", "log": "injector.jsonl", "what": "customer (5 texts)",
                                "reason": "asked for by letter"}
    assert main(["forget", str(log), "--name", "mechanic", "--by", "R. Example"]) == 0
    assert len(read_review(folder).entries) == 3
    from pagemaker import Reader, looked_at
    (folder / "learning.personal").rename(folder.parent / "learning.personal")
    page = Reader(looked_at(folder))
    assert "Mechanic (erased)" in page.page("/job/injector.jsonl")
    assert "Mechanic (not here, or erased)" in page.page("/job/learning.jsonl"), "it may only not have come with the log"
    (folder.parent / "learning.personal").rename(folder / "learning.personal")
    (folder / "office" / "review.jsonl").write_bytes(b"broken\n")
    assert main(["forget", str(folder / "learning.jsonl"), "--all", "--by", "R. Example"]) == 1
    assert entries_of(folder / "learning.jsonl")


@pytest.mark.parametrize("failing", ["fsync", "replace", "unlink"])
def test_a_failing_disk_leaves_the_old_file_or_the_new_one(folder: Path, failing: str, monkeypatch, capsys) -> None:
    """It says so, the log holds, and done again it is done."""
    log = folder / "injector.jsonl"

    def fails(*args: object, **more: object) -> None:
        raise OSError(5, "the disk failed")

    with monkeypatch.context() as broken:
        broken.setattr(erasing.Path if failing == "unlink" else erasing.os, failing, fails)
        broken.setattr(erasing, "settle_folder", lambda folder: None)
        code = main(["forget", str(log), *(["--all"] if failing == "unlink" else ["--name", "customer"])])
    assert code == 1 and "the disk failed" in capsys.readouterr().err and verify(log)["holds"]
    assert len(entries_of(log)) in (11, 6)
    assert main(["forget", str(log), "--all"]) == 0 and not list(folder.glob("injector.personal*"))


def test_a_damaged_sidecar_is_erased_whole_or_not_at_all(folder: Path, capsys) -> None:
    """Of a line that does not hold nobody can tell whose it is."""
    log = folder / "injector.jsonl"
    beside = log.with_suffix(".personal")
    beside.write_bytes(beside.read_bytes().replace(b"FH42", b"FH43"))
    assert main(["forget", str(log)]) == 0 and "damaged" in capsys.readouterr().out
    assert main(["forget", str(log), "--name", "customer"]) == 2 and b"FH43" in beside.read_bytes()
    assert main(["forget", str(log), "--all"]) == 0 and not beside.exists() and verify(log)["holds"]


def test_sound_goes_only_when_asked_for(folder: Path, capsys) -> None:
    """With files that a power cut left; the log then says that the memo is erased or kept elsewhere. Papers are named."""
    log = folder / "spoken.jsonl"
    (folder / "spoken.memo-2.part").write_bytes(b"half a memo")
    assert main(["record", str(log), "--out", str(folder / "spoken.html")]) == 0
    assert main(["forget", str(log), "--all"]) == 0
    assert (folder / "spoken.memo-1.flac").exists() and "not erased: spoken.html" in capsys.readouterr().out
    assert main(["forget", str(log), "--sound"]) == 0 and not list(folder.glob("spoken.memo*"))
    found = verify(log)
    assert found["holds"] and any("spoken.memo-1.flac is erased" in text for text in found["not_checked"])


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_what_a_link_leads_to_is_left_alone(folder: Path, capsys) -> None:
    """A link beside a log must not have files elsewhere erased, nor another log; a copy by another name is told."""
    log, elsewhere = folder / "learning.jsonl", folder / "elsewhere"
    elsewhere.write_bytes(b"not ours")
    (folder / "learning.memo-1.flac").symlink_to(elsewhere)
    os.link(folder / "learning.personal", folder.parent / "backup")
    assert main(["forget", str(log), "--sound"]) == 1 and "is a link" in capsys.readouterr().err
    assert elsewhere.read_bytes() == b"not ours"
    held = (folder.parent / "backup").read_bytes()
    assert main(["forget", str(log), "--all"]) == 0 and "learning.personal has another name" in capsys.readouterr().out
    assert (folder.parent / "backup").read_bytes() == held and not entries_of(log)


@pytest.mark.parametrize("args, words", [(["nothing.jsonl", "--all"], "must be a job log"),
                                         (["injector.personal", "--all"], "must be a job log"),
                                         (["learning.jsonl", "--name", "customer"], "is kept under: mechanic")])
def test_wrong_use_is_told(folder: Path, args: list[str], words: str, capsys) -> None:
    """What cannot be erased is said with what can."""
    assert main(["forget", str(folder / args[0]), *args[1:]]) == 2 and words in capsys.readouterr().err


def test_a_name_that_no_log_keeps_anything_under_is_told(folder: Path, capsys) -> None:
    """Mistyped over several logs it must not look as if all was erased; the names that are there go all the same."""
    logs = [str(folder / "injector.jsonl"), str(folder / "learning.jsonl")]
    assert main(["forget", *logs, "--name", "customre", "--name", "mechanic"]) == 2
    assert '"customre" in any of these logs' in capsys.readouterr().err
    assert "mechanic" not in kept_beside(folder / "injector.jsonl").texts
