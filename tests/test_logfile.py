"""A log on the disk: what was acknowledged is there, whatever happens after."""
from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from companion.core.log.chain import BadLine
from companion.core.log.evidence import examine
from companion.core.events import JobEnded, JobResumed, Personal, StepBegun, StepEnded, TakenOver
from companion.core.log.closing import closing_seal
from companion.core.log.journal import LONGEST, Sealed, digest
from companion.core.log.rfc3339 import stamp
from companion.edge import durable
from companion.edge.logfile import LogFile, NotWritten
from companion.errors import BadEvidence, BadInput, BrokenMachine
from logmaker import KEY, OTHER_KEY, START, opened, value

AT = stamp(START)
DECISIONS = [[opened(mechanic=Personal("Ann"))], [StepBegun(step="torque.1")], [value(), StepEnded(step="torque.1")],
             [StepBegun(step="wipe"), StepEnded(step="wipe"), StepBegun(step="close")]]
AGAIN = JobResumed(boot="boot-b", away_ms=5, same_boot=False)


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "van.jsonl"


def begun(path: Path, decisions=DECISIONS) -> tuple[LogFile, list[int], list]:
    """A log with decisions appended; the file's size after each, and all entries."""
    log, sizes, entries = LogFile.create(path, KEY), [], []
    for count, events in enumerate(decisions):
        entries += log.append(events, AT, 500 + count)
        sizes.append(path.stat().st_size)
    return log, sizes, entries


def holds(path: Path) -> bool:
    return examine(lambda: path.read_bytes().splitlines(keepends=True)).holds


class Faulty:
    """The `os` module on a failing disk: `fsync` and `write` may be given another conduct."""

    def __init__(self, **conduct) -> None:
        self.__dict__.update(conduct)

    def __getattr__(self, name):
        return getattr(os, name)


def test_what_is_written_is_read_again(path):
    """Entries come back as they were acknowledged, with their seals, and the log goes on where it stopped."""
    log, _, entries = begun(path)
    log.close()
    log, again, torn = LogFile.resume(path, KEY)
    assert again == entries and torn == b"" and [entry.n for entry in entries] == list(range(9))
    assert [type(entry.event) for entry in entries[2:5]] == [type(value()), StepEnded, Sealed]
    assert log.append([AGAIN], AT, 3)[0].n == 9
    ended = log.append([JobEnded()], AT, 4)
    assert isinstance(ended[-1].event, Sealed) and holds(path)
    assert log.closing_seal == closing_seal(digest(path.read_bytes().splitlines(keepends=True)[-1]))
    log.close()
    with pytest.raises(BadInput, match="the job is finished"):
        LogFile.resume(path, KEY)


def test_personal_words_are_only_in_the_sidecar(path):
    """The name lies in the sidecar, readable by its owner only, and nowhere in the log."""
    log, _, _ = begun(path)
    log.close()
    beside = path.with_name("van.personal")
    assert b"Ann" in beside.read_bytes() and b"Ann" not in path.read_bytes()
    if os.name != "nt":
        assert stat.S_IMODE(beside.stat().st_mode) == 0o600
    beside.unlink()
    log, entries, _ = LogFile.resume(path, KEY)
    assert entries[0].event.mechanic == Personal("(erased)")
    log.close()


def test_a_log_cut_at_any_byte_resumes_with_all_that_was_acknowledged(path):
    """A write torn at each byte of the file: every decision acknowledged before is there, the torn bytes are reported
    and still in the file, and nothing half is taken for an entry."""
    log, sizes, entries = begun(path)
    log.close()
    text = path.read_bytes()
    for cut in reversed(range(len(text))):
        os.truncate(path, cut)
        log, found, torn = LogFile.resume(path, KEY)
        log.close()
        acknowledged = sum(size <= cut for size in sizes)
        least = sum(len(events) + sum(event.seals for event in events) for events in DECISIONS[:acknowledged])
        assert len(found) >= least and found == entries[:len(found)]
        assert not (found and found[-1].event.seals) and text[:cut].endswith(torn) and path.read_bytes() == text[:cut]


def test_the_torn_end_is_cut_by_the_next_entry(path):
    """A sample of cuts within the last decision: the next append cuts the torn bytes and the log holds again."""
    log, sizes, _ = begun(path)
    log.close()
    text = path.read_bytes()
    for cut in range(sizes[-2] + 1, sizes[-1], 53):
        path.write_bytes(text[:cut])
        log, found, torn = LogFile.resume(path, KEY)
        log.append([AGAIN, StepEnded()], AT, 7)
        log.close()
        assert holds(path) and path.read_bytes().startswith(text[:cut - len(torn)])


def test_a_log_that_never_got_its_first_line_is_opened_anew(path):
    """A crash within the very first write leaves a log that can still be begun."""
    begun(path, [])[0].close()
    path.write_bytes(b'{"at":"2026')
    log, found, torn = LogFile.resume(path, KEY)
    assert found == [] and torn == b'{"at":"2026'
    log.append([opened()], AT, 5)
    log.close()
    assert holds(path)


def test_the_bytes_a_torn_sidecar_ends_in_are_cut(path):
    """A sidecar torn in its last line keeps the others, and the next personal words follow them whole."""
    log, _, _ = begun(path)
    log.close()
    beside = path.with_name("van.personal")
    whole = beside.read_bytes()
    beside.write_bytes(whole + b'{"salt":"00' + b"0" * LONGEST)
    log, found, _ = LogFile.resume(path, KEY)
    assert beside.read_bytes() == whole
    assert found[0].event.mechanic == Personal("Ann")
    log.append([AGAIN, TakenOver(mechanic=Personal("Bob"))], AT, 5)
    log.close()
    assert beside.read_bytes().startswith(whole) and beside.read_bytes().count(b"\n") == 2
    log, found, _ = LogFile.resume(path, KEY)
    assert found[-2].event.mechanic == Personal("Bob")
    log.close()


def test_blocks_that_never_came_are_a_torn_end_and_nothing_else_is(path):
    """Zeros anywhere in the last decision are what a power cut leaves: it is cut off, and said. Zeros before it are a change, for
    what follows them was acknowledged: the log is refused and left as it is."""
    log, sizes, entries = begun(path)
    log.close()
    text = path.read_bytes()
    for start in range(sizes[-2], sizes[-1] - 16, 16):
        path.write_bytes(text[:start] + bytes(16) + text[start + 16:])
        log, found, torn = LogFile.resume(path, KEY)
        log.close()
        assert found == entries[:len(found)] and len(found) >= 5 and b"\0" in torn
    for start in range(0, sizes[-3] - 16, 97):
        path.write_bytes(text[:start] + bytes(16) + text[start + 16:])
        refused(lambda: LogFile.resume(path, KEY), BadEvidence, "must be one line of JSON")
        assert path.read_bytes() == text[:start] + bytes(16) + text[start + 16:]


def disk_full_after(room: int):
    """A disk with room for so many more bytes."""
    left = [room]

    def write(fd, data):
        if not left[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        written = os.write(fd, data[:left[0]])
        left[0] -= written
        return written
    return write


def failing(*_):
    raise OSError(errno.EIO, os.strerror(errno.EIO))


def failing_once():
    """An fsync that fails the first time only, as Linux reports a lost write: only once."""
    told = []

    def fsync(fd):
        if not told:
            told.append(fd)
            failing()
        os.fsync(fd)
    return fsync


FAULTS = [
    ("no room", lambda: {"write": disk_full_after(0)}, "No space left on device"),
    ("room for a part", lambda: {"write": disk_full_after(100)}, "No space left on device"),
    ("write fails", lambda: {"write": failing}, "Input/output error"),
    ("nothing is written", lambda: {"write": lambda *_: 0}, "nothing could be written"),
    ("fsync fails once", lambda: {"fsync": failing_once()}, "Input/output error"),
]


@pytest.mark.skipif(os.name == "nt", reason="the words are POSIX's")
@pytest.mark.parametrize("event", [StepEnded(step="x"), TakenOver(mechanic=Personal("Bob"))], ids=["log", "sidecar"])
@pytest.mark.parametrize("conduct, words", [row[1:] for row in FAULTS], ids=[row[0] for row in FAULTS])
def test_a_failing_disk_loses_nothing_and_the_log_goes_on_when_it_works_again(path, monkeypatch, conduct, words, event):
    """After a fault: an error that says what is safe, and files as acknowledged; the same decision can be given again."""
    log, _, entries = begun(path)
    files = path, path.with_name("van.personal")
    before = [file.read_bytes() for file in files]
    monkeypatch.setattr(durable, "os", Faulty(**conduct()))
    with pytest.raises(NotWritten, match=f"{words}. All 9 entries before are safe"):
        log.append([event], AT, 600)
    monkeypatch.undo()
    assert [file.read_bytes() for file in files] == before
    entries += log.append([event], AT, 600) + log.append([AGAIN], AT, 700)
    log.close()
    log, found, torn = LogFile.resume(path, KEY)
    assert found == entries and torn == b"" and holds(path)
    log.close()


def test_a_disk_that_stays_broken_is_not_called_safe(path, monkeypatch):
    """Where even cutting back fails, the error says that nothing could be checked."""
    log, _, _ = begun(path)
    monkeypatch.setattr(durable, "os", Faulty(fsync=failing))
    with pytest.raises(BrokenMachine, match="Whether all 9 entries before are safe could not be checked"):
        log.append([StepBegun()], AT, 600)


def test_a_sidecar_that_cannot_be_made_ends_the_handle_too(path):
    """Personal words that have no place of their own are not logged, and what was logged before is safe."""
    log, _, _ = begun(path, [[opened()], [StepBegun()]])
    path.with_name("van.personal").write_bytes(b"mine")
    with pytest.raises(BrokenMachine, match="it is there already. All 2 entries before are safe"):
        log.append([TakenOver(mechanic=Personal("Bob"))], AT, 600)
    assert path.with_name("van.personal").read_bytes() == b"mine" and holds(path)


def test_short_writes_are_completed(path, monkeypatch):
    """A disk that takes one byte at a time costs nothing but time."""
    monkeypatch.setattr(durable, "os", Faulty(write=lambda fd, data: os.write(fd, data[:1])))
    log, _, _ = begun(path)
    log.close()
    assert holds(path) and path.read_bytes().count(b"\n") == 9


def test_a_decision_is_one_write_and_then_one_fsync(path, monkeypatch):
    """All lines of a decision, seals too, go in one write; personal words are durable before it."""
    calls: list[tuple[str, int]] = []

    def noted(name):
        def call(fd, *rest):
            calls.append((name, os.fstat(fd).st_ino))
            return getattr(os, name)(fd, *rest)
        return call

    log, _, _ = begun(path)
    monkeypatch.setattr(durable, "os", Faulty(write=noted("write"), fsync=noted("fsync")))
    log.append([TakenOver(mechanic=Personal("Bob")), StepEnded(), StepBegun(step="next")], AT, 600)
    log.close()
    beside, main = path.with_name("van.personal").stat().st_ino, path.stat().st_ino
    assert calls == [("write", beside), ("fsync", beside), ("write", main), ("fsync", main)]


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be deleted there")
def test_a_log_that_was_deleted_under_the_job_is_noticed(path):
    """Nothing is acknowledged into a file that no name leads to any more."""
    log, _, _ = begun(path)
    path.unlink()
    with pytest.raises(BrokenMachine, match="the file was deleted while in use"):
        log.append([StepBegun()], AT, 600)


def test_a_log_that_another_program_wrote_to_is_noticed(path):
    """Foreign bytes at the end are cut, said, and never chained to."""
    log, _, _ = begun(path)
    with open(path, "ab") as file:
        file.write(b"{}\n")
    with pytest.raises(BrokenMachine, match="another program changed the file. All 9 entries before are safe"):
        log.append([StepBegun()], AT, 600)
    assert holds(path)


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be replaced there")
def test_a_file_put_in_the_log_s_place_is_left_alone(path):
    """Another file under the log's name is not cut, and not called safe."""
    log, _, _ = begun(path)
    other = path.with_name("other")
    other.write_bytes(b"x" * 100_000)
    other.replace(path)
    for words in ("no longer there as they were written", "takes no more entries"):
        with pytest.raises(NotWritten, match=words) as told:
            log.append([StepBegun()], AT, 600)
        assert told.value.for_good
    assert path.stat().st_size == 100_000


@pytest.mark.parametrize("before", [True, False], ids=["before fsync", "after fsync"])
def test_whoever_interrupts_a_write_does_not_break_the_log(path, monkeypatch, before):
    """Ctrl-C within a write: that decision is not logged, and the next one is, whole."""
    log, _, entries = begun(path)

    def interrupted(fd):
        if not before:
            os.fsync(fd)
        raise KeyboardInterrupt

    monkeypatch.setattr(durable, "os", Faulty(fsync=interrupted))
    with pytest.raises(KeyboardInterrupt):
        log.append([StepBegun(), value()], AT, 600)
    monkeypatch.undo()
    assert log.append([StepBegun(step="after")], AT, 700)[0].n == len(entries)
    log.close()
    assert holds(path)


def test_an_event_that_cannot_be_logged_leaves_the_log_alive(path):
    """A wrong event is refused before anything is written, and the next one is logged."""
    log, _, _ = begun(path)
    before = path.read_bytes()
    for events, up, error in (([StepBegun(step="\ud800")], 600, BadInput), ([StepBegun(), opened()], 600, BadLine),
                              ([StepBegun()], 1, BadLine)):
        with pytest.raises(error):
            log.append(events, AT, up)
    assert path.read_bytes() == before and log.append([StepBegun()], AT, 600)[0].n == 9
    log.close()


def refused(act, error, words) -> None:
    with pytest.raises(error, match=words):
        act()


def test_what_is_no_place_for_a_new_log_is_refused(path, tmp_path):
    """An old file is never written over; names and folders are checked."""
    path.write_bytes(b"mine")
    refused(lambda: LogFile.create(path, KEY), BadInput, "must be a new file")
    assert path.read_bytes() == b"mine"
    refused(lambda: LogFile.create(tmp_path / "no" / "van.jsonl", KEY), BadInput, "No such file")
    refused(lambda: LogFile.create(tmp_path / "van.txt", KEY), BadInput, "must end in .jsonl")
    refused(lambda: LogFile.create(tmp_path / "van.personal", KEY), BadInput, "must end in .jsonl")
    refused(lambda: LogFile.create(tmp_path / "a\0.jsonl", KEY), BadInput, "null")
    (tmp_path / "b.personal").write_bytes(b"")
    refused(lambda: LogFile.create(tmp_path / "b.jsonl", KEY), BadInput, "must not be there before its log")


def test_what_cannot_be_resumed_is_refused_and_left_alone(path, tmp_path):
    """A missing, changed, or foreign log: each with its own words, and never a byte written."""
    refused(lambda: LogFile.resume(path, KEY), BadInput, "No such file")
    refused(lambda: LogFile.resume(tmp_path, KEY), BadInput, "directory")
    begun(path)[0].close()
    refused(lambda: LogFile.resume(path, OTHER_KEY), BadInput, "was begun on another device")
    text = path.read_bytes()
    path.write_bytes(text.replace(b'"7.50"', b'"7.51"'))
    refused(lambda: LogFile.resume(path, KEY), BadEvidence, r"van.jsonl:4: prev must be")
    cut = text.splitlines(keepends=True)[:5]
    path.write_bytes(b"".join(cut[:4]) + cut[4].replace(b'"up":502', b'"up":503'))
    refused(lambda: LogFile.resume(path, KEY), BadEvidence, "the last seal must hold")
    path.write_bytes(b"\0" * 5_000_000)
    refused(lambda: LogFile.resume(path, KEY), BadEvidence, "van.jsonl:1: must be at most")
    assert path.stat().st_size == 5_000_000


def test_one_log_is_held_once(path):
    """Even within one program a log is open once; closing lets it go."""
    log, _, _ = begun(path)
    refused(lambda: LogFile.resume(path, KEY), BadInput, "another companion holds this log")
    log.close()
    LogFile.resume(path, KEY)[0].close()


WRITER = """
import sys, os
sys.path[:0] = {paths!r}
from logmaker import KEY, START, opened, value
from companion.core.events import JobResumed, StepBegun, StepEnded
from companion.core.log.rfc3339 import stamp
from companion.edge.logfile import LogFile, NotWritten
path, boot = sys.argv[1:]
if os.path.exists(path):
    log, _, torn = LogFile.resume(path, KEY)
    log.append([JobResumed(boot=boot, away_ms=0, same_boot=False, torn_bytes=len(torn))], stamp(START), 0)
else:
    log = LogFile.create(path, KEY)
    log.append([opened()], stamp(START), 0)
print("held", flush=True)
for up in range(1, 10**6):
    entries = log.append([StepBegun(step="s"), value(step="s"), StepEnded(step="s")], stamp(START + up), up)
    os.write(1, b"%d\\n" % entries[-1].n)
"""


def writer(path: Path, boot: str) -> subprocess.Popen:
    """Another program that writes a log and prints the n of each acknowledged entry."""
    code = WRITER.format(paths=[str(Path(__file__).parent), str(Path(__file__).parents[1])])
    return subprocess.Popen([sys.executable, "-c", code, str(path), boot], stdout=subprocess.PIPE)


def test_a_killed_program_loses_no_acknowledged_entry(path):
    """A writer is killed by SIGKILL at several moments and resumed by another: each n it was told is in the log, the
    log holds, and while it lives no other program gets the log."""
    for boot, wanted in (("b1", 1), ("b2", 4), ("b3", 9), ("b4", 25)):
        with writer(path, boot) as program:
            assert program.stdout.readline() == b"held\n"
            refused(lambda: LogFile.resume(path, KEY), BadInput, "another companion holds this log")
            told = [int(program.stdout.readline()) for _ in range(wanted)]
            program.kill()
            told += [int(line) for line in program.stdout.read().splitlines()]
        log, entries, torn = LogFile.resume(path, KEY)
        log.close()
        assert [entry.n for entry in entries] == list(range(len(entries))) and entries[-1].n >= told[-1] > wanted
    report = examine(lambda: path.read_bytes()[:-len(torn) or None].splitlines(keepends=True))
    assert report.bad is None and report.torn == 0
