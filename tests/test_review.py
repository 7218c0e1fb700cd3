"""`companion review`: many logs at once, read only when new, by one process, by several, or by a cluster's workers."""
from __future__ import annotations

import json
import os
import re
import shutil
from functools import lru_cache
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.office.account import read_account
from companion.office.findings.kinds import KINDS
from companion.office.review import batch, compacting, indexing, workers
from companion.office.review import live as form
from companion.office.review.indexing import update
from companion.office.review.live import INDEX, live
from companion.office.review.opening import open_index
from companion.office.review.query import Filters, Index
from companion.office.review.store import Store, logs_in
from companion.office.review.tables import TABLES
from companion.errors import BadInput, BrokenMachine
from officemaker import session, write_log

SESSIONS = ("injector-clean", "injector-wrong-cylinder", "road-wheels", "learning")
_DAY_MS = 86_400_000
_made = lru_cache(maxsize=None)(session)


@pytest.fixture(scope="module")
def some(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with twelve logs: each session three times, a day apart."""
    folder = tmp_path_factory.mktemp("logs")
    for count in range(3):
        for name in SESSIONS:
            write_log(folder, f"{name}-{count}", _made(name), later_ms=count * _DAY_MS)
    return folder


@pytest.fixture()
def logs(some: Path, tmp_path: Path) -> Path:
    """The same, to be changed."""
    return Path(shutil.copytree(some, tmp_path / "jobs", ignore=shutil.ignore_patterns("office")))


def reviewed(logs: Path, *options: str, capsys: pytest.CaptureFixture) -> dict[str, list[str]]:
    """What `--json` prints, by log."""
    assert main(["review", str(logs), "--json", *options]) == 0
    return {found["log"]: found["findings"] for found in map(json.loads, capsys.readouterr().out.splitlines())}


def parts(logs: Path) -> dict[str, bytes]:
    """Every file of the index by its place, with its bytes."""
    index = logs / INDEX
    return {str(path.relative_to(index)): path.read_bytes() for path in sorted(index.rglob("*.parquet"))}


def test_json_has_one_line_for_every_log_clean_ones_too(logs: Path, capsys: pytest.CaptureFixture) -> None:
    """A program can read what was found in which log, and nothing else stands on standard output."""
    found = reviewed(logs, capsys=capsys)
    assert sorted(found) == sorted(path.name for path in logs.glob("*.jsonl"))
    assert "wrong-cylinder" in found["injector-wrong-cylinder-1.jsonl"]
    assert "wrong-cylinder" not in found["injector-clean-1.jsonl"]


def test_only_new_and_changed_logs_are_read_again(logs: Path) -> None:
    """A second review reads nothing; then only what was added, changed, or lost its sidecar; what is gone is told."""
    store = Store(str(logs))
    assert update(store) == 12 and update(store) == 0
    shutil.copy(logs / "learning-0.jsonl", logs / "learning-9.jsonl")
    (logs / "injector-clean-0.personal").unlink()
    (logs / "road-wheels-2.jsonl").unlink()
    with open(logs / "learning-1.jsonl", "ab") as file:
        file.write(b"{")
    assert update(store) == 3
    index = open_index(store)
    assert index.count() == 13
    assert index.job("road-wheels-2.jsonl")["findings"] == ["log-missing"]
    assert index.job("learning-9.jsonl")["findings"][-1] == "log-copied"
    assert index.job("injector-clean-0.jsonl")["mechanic"] == "(erased)"
    assert index.job("injector-clean-1.jsonl")["mechanic"] == "ME"
    assert "chain-broken" in index.job("learning-1.jsonl")["findings"]


BAD = {"empty": b"", "text": b"hello\n", "zeros": bytes(100), "other": b'{"event":"other"}\n', "big": b"x" * 1_000_001}


@pytest.mark.parametrize("name", [*BAD, "nowhere", "no UTF-8 \udcff"])
def test_one_bad_log_stops_nothing_and_is_listed(
        logs: Path, name: str, capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever lies in the folder under a log's name, the others are reviewed, and it stands in the list with its reason."""
    monkeypatch.setattr(batch, "MOST_BYTES", 1_000_000)
    bad = logs / f"{name}.jsonl"
    bad.symlink_to(logs / "nothing there") if name == "nowhere" else bad.write_bytes(BAD.get(name, b""))
    found = reviewed(logs, "--workers", "1", capsys=capsys)
    shown = bad.name.replace("\udcff", "\\xff")
    assert found[shown] == ["log-unreadable"] and len(found) == 13
    assert open_index(Store(str(logs))).findings_of(shown)[0]["said"]


def test_a_log_that_the_program_fails_on_is_a_finding_too(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of our own in one log must not hide the others, and is said with the log."""
    real = batch.account_in
    monkeypatch.setattr(batch, "account_in", lambda place, name: 1 / 0 if name == "learning-0.jsonl" else real(place, name))
    update(Store(str(logs)), workers=1)
    index = open_index(Store(str(logs)))
    assert index.count() == 12
    assert "ZeroDivisionError" in index.job("learning-0.jsonl")["fault"]
    assert "log-unreadable" in index.job("learning-0.jsonl")["findings"]


def test_whoever_does_the_work_the_index_is_the_same_byte_for_byte(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One process and two make the same files."""
    monkeypatch.setattr(indexing, "BATCH", 5)
    update(Store(str(logs)), workers=1)
    alone = parts(logs)
    shutil.rmtree(logs / "office")
    update(Store(str(logs)), workers=2)
    assert parts(logs) == alone and len(alone) == 3 * len(TABLES) + 1


def test_a_run_that_died_leaves_nothing_that_counts(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts without their entry in `live.parquet` are cleared and made anew; no job stands twice."""
    store = Store(str(logs))
    monkeypatch.setattr(indexing, "BATCH", 5)
    first = next(iter(workers.done(indexing._batches(store, store.within(INDEX), logs_in(store.listing()),
                                                      list(logs_in(store.listing())), 1), 1)))
    assert first.logs == 5 and Index.open(store).count() == 0
    (logs / "learning-0.jsonl").unlink()
    assert update(store, workers=1) == 11
    assert Index.open(store).count() == 11


def test_an_index_of_another_form_is_made_anew(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program's findings may follow other rules."""
    store = Store(str(logs))
    update(store)
    monkeypatch.setattr(form, "FORM", "another")
    assert live(store.within(INDEX)) == {}
    assert update(store) == 12
    assert open_index(store).count() == 12


def test_an_index_that_grew_day_by_day_is_merged(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After many runs the same jobs stand in one part a table, and nothing is read again for it."""
    monkeypatch.setattr(compacting, "MOST_RUNS", 3)
    store, kept = Store(str(logs)), logs.parent / "kept"
    kept.mkdir()
    later = sorted(logs.glob("learning-*"))
    for path in later:
        path.rename(kept / path.name)
    update(store)
    for path in later:
        (kept / path.name).rename(path)
        assert update(store) == 1
    (logs / "learning-0.jsonl").touch()
    assert update(store) == 1
    index = Index.open(store)
    assert index.count() == 12 and len(index.rows("SELECT * FROM stages WHERE log = 'learning-1.jsonl'")) > 0
    assert len(list((logs / INDEX / "jobs").iterdir())) == 2


def test_a_log_changed_without_a_trace_in_size_or_time_is_read_again(logs: Path, capsys: pytest.CaptureFixture) -> None:
    """The time that a file bears can be set back; that of its last change cannot."""
    assert "chain-broken" not in reviewed(logs, capsys=capsys)["injector-clean-0.jsonl"]
    log = logs / "injector-clean-0.jsonl"
    before, text = log.stat(), log.read_bytes()
    log.write_bytes(text.replace(b'"n":49,', b'"n":94,'))
    os.utime(log, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert log.stat().st_size == before.st_size and log.read_bytes() != text
    assert "chain-broken" in reviewed(logs, capsys=capsys)["injector-clean-0.jsonl"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_under_a_logs_name_holds_nobody_up(logs: Path, capsys: pytest.CaptureFixture) -> None:
    """Nobody will ever write to it; whoever would read it waits for ever."""
    os.mkfifo(logs / "pipe.jsonl")
    assert reviewed(logs, capsys=capsys)["pipe.jsonl"] == ["log-unreadable"]
    with pytest.raises(BadInput, match="no plain file"):
        read_account(logs / "pipe.jsonl")


@pytest.mark.parametrize("tables", [("jobs",), ("findings",), tuple(TABLES)])
def test_no_job_is_hidden_by_taking_away_a_part_of_the_index(
        logs: Path, tables: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """What is missing is seen by whoever opens the index, and the next review makes it anew."""
    monkeypatch.setattr(indexing, "BATCH", 5)
    store = Store(str(logs))
    update(store, workers=1)
    for table in tables:
        (logs / INDEX / table / "000001-00001.parquet").unlink()
    with pytest.raises(BrokenMachine, match="some are missing.*remove this folder"):
        Index.open(store)
    if tables != tuple(TABLES):
        assert update(store, workers=1) == 12 and Index.open(store).count() == 12


def test_a_spoiled_part_of_the_index_is_named(logs: Path) -> None:
    """The person is told which folder to remove, and that nothing is lost by it."""
    store = Store(str(logs))
    update(store)
    (logs / INDEX / "jobs" / "000001-00000.parquet").write_bytes(b"spoiled")
    with pytest.raises(BrokenMachine, match="cannot be read.*made anew from the logs"):
        Index.open(store)


def test_an_index_that_cannot_be_written_is_named(logs: Path) -> None:
    """With what to do; not the file of our own that was to be copied there."""
    (logs / INDEX / "live.parquet.new").mkdir(parents=True)
    with pytest.raises(BrokenMachine, match=f"^{re.escape(str(logs / INDEX))}/live.parquet: cannot be written: .*Make room"):
        update(Store(str(logs)))


def test_a_folder_that_cannot_be_listed_is_said_to_be_so(logs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may be there and yet not be for us to read."""
    def denied(self: Store) -> dict[str, str]:
        raise PermissionError(13, "Permission denied")
    monkeypatch.setattr(Store, "listing", denied)
    with pytest.raises(BadInput, match="must be a folder that can be read: Permission denied"):
        update(Store(str(logs)))


def test_a_folder_without_logs_is_said_to_be_so(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Somebody may have named the wrong one."""
    assert main(["review", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "There is no job log (.jsonl) in this folder.\n"


def test_two_reviews_do_not_get_in_each_others_way(logs: Path) -> None:
    """The second one says so, and nothing is lost."""
    store = Store(str(logs))
    with indexing._held(store.within(INDEX)), pytest.raises(BadInput, match="another program"):
        update(store)
    assert update(store) == 12


def test_logs_and_index_may_lie_at_any_address(logs: Path) -> None:
    """The same review over another kind of storage: here memory, by the same interface as a depot's."""
    import fsspec
    memory = fsspec.filesystem("memory")
    for path in logs.iterdir():
        memory.pipe_file(f"/depot/{path.name}", path.read_bytes())
    store = Store("memory://depot")
    assert update(store, workers=1) == 12 and update(store, workers=1) == 0
    assert open_index(store).count(Filters(finding="wrong-cylinder")) == 3
    memory.pipe_file("/depot/learning-0.jsonl", b"hello\n")
    assert update(store, workers=1) == 1
    assert "log-unreadable" in open_index(store).job("learning-0.jsonl")["findings"]
    memory.rm("/depot", recursive=True)


@pytest.mark.parametrize("filters, count", [
    (Filters(), 12), (Filters(since="2023-11-15"), 8), (Filters(until="2023-11-14"), 4),
    (Filters(since="2023-11-15", until="2023-11-15"), 4), (Filters(mechanic="me"), 9), (Filters(mechanic="nobody"), 0),
    (Filters(vehicle="004217"), 9), (Filters(card="road-wheels"), 3), (Filters(finding="wrong-cylinder"), 3),
    (Filters(finding="wrong-cylinder", since="2023-11-16"), 1), (Filters(text="WHEELS"), 3), (Filters(text="' OR 1=1 --"), 0),
    (Filters(severity="serious", text="injector-wrong"), 3)])
def test_jobs_are_found_by_what_is_known_of_them(some: Path, filters: Filters, count: int) -> None:
    """Each filter alone and together; text from outside stays text."""
    update(Store(str(some)))
    index = open_index(Store(str(some)))
    assert index.count(filters) == count
    assert len(index.jobs(filters, limit=50)) == count
    assert len(list(index.names(filters))) == count


def test_the_rows_of_a_job_say_what_its_log_says(some: Path) -> None:
    """Facts of the clean injector session as its script has them."""
    update(Store(str(some)))
    index = open_index(Store(str(some)))
    job = index.job("injector-clean-1.jsonl")
    expected = {"day": "2023-11-15", "mechanic": "ME", "vehicle": "0FHVN2RX8H0004217", "card": "common-rail-injector",
                "practice": True, "holds": True, "finished": True, "stopped": False, "cylinder": "cylinder three",
                "complaint": "rough idle", "fault": ""}
    assert {name: job[name] for name in expected} == expected
    assert index.job("injector-wrong-cylinder-0.jsonl")["stopped"]
    values = index.rows("""SELECT name, value, unit, nominal, tool FROM "values" WHERE log = $log AND name = 'clamp torque'""",
                        {"log": "injector-clean-1.jsonl"})
    assert values == [{"name": "clamp torque", "value": 8.0, "unit": "N·m", "nominal": 8.0, "tool": "short wrench"}]
    [stage] = index.rows("SELECT worked_ms, estimate_ms FROM stages WHERE log = $log AND stage = 'make the fuel system safe'",
                         {"log": "injector-clean-1.jsonl"})
    assert stage["worked_ms"] >= 11 * 60_000 and stage["estimate_ms"] == 18 * 60_000


@pytest.mark.parametrize("options, said", [
    (("nowhere",), "must be a folder"), (("{logs}", "--since", "yesterday"), "must be a day"),
    (("{logs}", "--until", "2026-02-30"), "must be a day"), (("{logs}", "--most", "-1"), "must be 0 or more"),
    (("no\x1b[31mwhere",), "no\ufffd[31mwhere: must be a folder"),
    (("{logs}", "--since", "2026-10-02", "--until", "2026-10-01"), "must be 2026-10-02 or later"),
    (("{logs}", "--trends", "--json"), "goes with the jobs"), (("{logs}", "--finding", "nonsense"), "must be any, none, or one of"), (("{logs}", "--workers", "0"), "must be 1 or more"),
    (("nonsense://x",), "must be a folder, or an address"),
    (("{logs}", "--cluster", "tcp://127.0.0.1:1"), "a scheduler that answers")])
def test_wrong_use_says_what_must_hold(logs: Path, options: tuple[str, ...], said: str, capsys: pytest.CaptureFixture,
                                       monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit code 2, and one line for the person who typed it."""
    monkeypatch.setattr(workers, "PATIENCE", "1s")
    assert main(["review", *(option.format(logs=logs) for option in options)]) == 2
    assert said in capsys.readouterr().err


def test_the_terminal_shows_the_worst_first(logs: Path, capsys: pytest.CaptureFixture) -> None:
    """Counts by kind with their meaning, then the jobs; a hostile name stays on its line."""
    shutil.copy(logs / "injector-wrong-cylinder-0.jsonl", logs / "a\x1b[31m\nb.jsonl")
    assert main(["review", str(logs), "--finding", "wrong-cylinder"]) == 0
    said = capsys.readouterr()
    assert "another cylinder was named" in said.out and "injector-wrong-cylinder-2.jsonl" in said.out
    assert "\x1b" not in said.out
    assert "review:" in said.err


def test_one_kind_of_finding_is_told_in_words(logs: Path, capsys: pytest.CaptureFixture) -> None:
    """Whoever asks for a kind sees what was found; who asks for what is not there is told so."""
    assert main(["review", str(logs), "--finding", "wrong-cylinder"]) == 0
    assert "cylinder three" in " ".join(capsys.readouterr().out.split())
    assert main(["review", str(logs), "--mechanic", "ZZ"]) == 0
    assert "No job is like that, of 12" in capsys.readouterr().out


def test_help_names_every_kind_of_finding(capsys: pytest.CaptureFixture) -> None:
    """With what each means."""
    with pytest.raises(SystemExit):
        main(["review", "--help"])
    said = capsys.readouterr().out
    assert all(f"  {kind.name} " in said and kind.says in said for kind in KINDS.values())
