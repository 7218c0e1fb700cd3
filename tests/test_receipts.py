"""Receipts: what a depot handed out shows later that a log was there and is unchanged, and finds what was taken out."""
from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.core.log import closing
from companion.core.log.journal import digest, public_hex
from companion.edge import durable
from companion.edge.device import device_key
from companion.errors import BadEvidence
from companion.office.receipts.forms import Entry, Head, Later, Receipt, letters, read_form
from companion.office.receipts.ledger import HEADS, LIST, extend, read_ledger, receipts_folder
from companion.office.trusted import LIST as TRUST
from logmaker import KEY, OTHER_KEY, small, written

AT = "2026-02-03T08:00:00.000Z"
LOGS = {f"van-{n}.jsonl": b"".join(written(small(text=f"7.{n}0"))) for n in range(1, 8)}
TRUSTED = "trusted_keys: 1\nkeys:\n" + "".join(
    f"  - key: {{{name}}}\n    name: {name}\n    from: 2025-01-01\n{{more_{name}}}" for name in ("van", "office"))


@pytest.fixture
def depot(tmp_path, capsys, monkeypatch):
    """A folder of finished logs, and commands on it: exit code, output, complaint."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(closing, "_N", 2**4)  # its own tests pay a tenth of a second for each head in letters
    closing.closing_seal.cache_clear()
    folder = tmp_path / "jobs"
    folder.mkdir()

    def act(*words: str, **options) -> tuple[int, str, str]:
        code = main([*words[:1], str(folder), *words[1:]] if words[0] == "receipts" else list(words))
        return code, *capsys.readouterr()

    def put(*names: str) -> None:
        for name in names:
            (folder / name).write_bytes(LOGS[name])

    def kept(name: str) -> str:
        """A receipt, kept elsewhere."""
        copy = tmp_path / Path(name).with_suffix(".receipt").name
        copy.write_bytes((receipts_folder(folder) / copy.name).read_bytes())
        return str(copy)
    act.folder, act.put, act.kept = folder, put, kept
    yield act
    closing.closing_seal.cache_clear()


def verify(depot, name: str, *words: str) -> tuple[int, str]:
    return depot("verify", str(depot.folder / name), *words)[:2]


def test_a_receipt_shows_that_a_log_was_there(depot):
    """Given once for each finished log; offline, with nothing but the log, it names the day and the place on the list."""
    depot.put("van-1.jsonl", "van-2.jsonl", "van-3.jsonl")
    (depot.folder / "open.jsonl").write_bytes(b"".join(written(small())[:5]))
    code, out, err = depot("receipts", "give")
    assert code == 0 and out.startswith("3 new jobs on the list; receipts: ") and "head of 3 jobs, 20" in out and not err
    code, out = verify(depot, "van-2.jsonl", "--receipt", depot.kept("van-2.jsonl"))
    assert code == 0 and "note: the receipt shows that this very log was there on 20" in out and "as job 2 of 3" in out
    assert f"not checked: whose key {public_hex(device_key())}, which signed the receipt, is" in out
    assert depot("receipts", "give")[1].startswith("0 new jobs") and len(read_ledger(depot.folder).heads) == 1


@pytest.mark.parametrize("change, words", [
    (lambda log: b"".join(written(small(text="7.29"))), "van-2.jsonl was written anew since"),
    (lambda log: log[:log.rindex(b"\n", 0, -1) + 1], "the unfinished end it has now: van-2.jsonl was written anew since, or its end was cut off"),
    (lambda log: log.replace(b"7.20", b"7.21"), "bad: line 3: ")])
def test_a_log_that_was_changed_cut_or_written_anew_is_found_by_its_receipt(depot, change, words):
    """Even by whoever has the device's key: the receipt holds the hash of the last line. The depot's own check finds it
    too."""
    depot.put(*LOGS)
    depot("receipts", "give")
    kept, path = depot.kept("van-2.jsonl"), depot.folder / "van-2.jsonl"
    path.write_bytes(change(LOGS["van-2.jsonl"]))
    code, out = verify(depot, "van-2.jsonl", "--receipt", kept)
    assert code == 1 and words in out
    code, out, _ = depot("receipts", "check")
    assert code == 1 and "bad: van-2.jsonl: " in out and "7 jobs on the list, 1 bad" in out


def test_a_log_that_is_gone_is_missed(depot):
    """The list has it, and so has the receipt; a later head shows that the list still does."""
    depot.put(*LOGS)
    depot("receipts", "give")
    (depot.folder / "van-5.jsonl").unlink()
    code, out, _ = depot("receipts", "check")
    assert code == 1 and "van-5.jsonl: is gone or cannot be read (No such file or directory); job 5 of the list" in out


def test_a_later_head_shows_that_nothing_before_it_was_taken_out(depot, tmp_path):
    """Three jobs, a receipt kept, four more: the new head continues the old one, and says so offline."""
    depot.put("van-1.jsonl", "van-2.jsonl", "van-3.jsonl")
    depot("receipts", "give")
    kept = depot.kept("van-3.jsonl")
    depot.put(*LOGS)
    assert depot("receipts", "give")[1].startswith("4 new jobs")
    code, out, err = depot("receipts", "head", "--since", kept)
    (tmp_path / "later.head").write_text(out)
    assert code == 0 and err.startswith("head of 7 jobs, ")
    code, out = verify(depot, "van-3.jsonl", "--receipt", kept, "--later", str(tmp_path / "later.head"))
    assert code == 0 and "7 jobs, has this job and all before it" in out
    assert depot("receipts", "check", "--held", kept, str(tmp_path / "later.head"))[0] == 0
    letters_ = err.strip().rpartition(": ")[2]
    assert depot("receipts", "check", "--jobs", "7", "--letters", letters_.lower())[0] == 0
    code, out, _ = depot("receipts", "check", "--jobs", "6", "--letters", letters_)
    assert code == 1 and "the first 6 jobs must have the head" in out


def rewritten_list(depot, names) -> None:
    """The depot begins its list again with other jobs, signed by its own machine as before."""
    for name in (LIST, HEADS):
        (receipts_folder(depot.folder) / name).unlink()
    entries = tuple(Entry(at=AT, last=digest(LOGS[name].splitlines(keepends=True)[-1]), log=name) for name in names)
    extend(depot.folder, lambda before: entries, device_key(), AT)


def test_a_list_that_was_rewritten_does_not_agree_with_what_was_handed_out(depot, tmp_path):
    """Whoever has the office's key can sign another list, without one job; it holds by itself, but not against a receipt,
    a head or its letters that were kept elsewhere."""
    depot.put(*LOGS)
    depot("receipts", "give")
    kept, head = depot.kept("van-6.jsonl"), depot("receipts", "head")
    (tmp_path / "old.head").write_text(head[1])
    names = [name for name in LOGS if name != "van-2.jsonl"]
    rewritten_list(depot, names)
    assert depot("receipts", "check")[0] == 0
    for held in (kept, str(tmp_path / "old.head")):
        code, out, _ = depot("receipts", "check", "--held", held)
        assert code == 1 and "the list does not begin with the 7 jobs of this head" in out
    code, out, _ = depot("receipts", "check", "--jobs", "7", "--letters", head[2].strip().rpartition(": ")[2])
    assert code == 1 and "the list must have the 7 jobs of that head, not 6" in out
    assert depot("receipts", "head", "--since", kept)[0] == 1
    later = read_ledger(depot.folder).later(6)  # made up: it cannot continue the receipt's head
    (tmp_path / "later.head").write_text(later.model_copy(update={"since": 7}).model_dump_json())
    code, out = verify(depot, "van-6.jsonl", "--receipt", kept, "--later", str(tmp_path / "later.head"))
    assert code == 1 and "the later head does not continue the receipt's list" in out


@pytest.mark.parametrize("change, words", [
    (lambda d: d["entry"].update(last="00" * 32), "the receipt does not hold by itself"),
    (lambda d: d["entry"].update(at="2020-01-01T00:00:00.000Z"), "the receipt does not hold by itself"),
    (lambda d: d.update(index=2), "the receipt does not hold by itself"),
    (lambda d: d["path"].pop(), "the receipt does not hold by itself"),
    (lambda d: d["head"].update(at="2020-01-01T00:00:00.000Z"), "the receipt does not hold by itself"),
    (lambda d: d["head"].update(key=public_hex(KEY)), "the receipt does not hold by itself"),
    (lambda d: d["head"].update(root="00" * 32), "the receipt does not hold by itself")])
def test_a_receipt_that_was_changed_does_not_hold(depot, change, words):
    """Entry, place, path, time, signer, root: each is bound by the path or the signature."""
    depot.put(*LOGS)
    depot("receipts", "give")
    kept = Path(depot.kept("van-2.jsonl"))
    data = json.loads(kept.read_text())
    change(data)
    kept.write_text(json.dumps(data))
    code, out = verify(depot, "van-2.jsonl", "--receipt", str(kept))
    assert code == 1 and words in out
    code, out, _ = depot("receipts", "check", "--held", str(kept))
    assert code == 1 and "does not hold by itself" in out


@pytest.mark.parametrize("data, words", [
    (b"", "Invalid JSON"), (b"[]", "must be a receipt: "), (b"{" * 60_000, "Invalid JSON"),
    (b" " * 100_001, "at most 100,000 bytes"),
    (b'{"receipt":1}', "entry: Field required"), (None, "No such file"), (b"\xff", "must be a receipt: ")])
def test_what_is_no_receipt_is_wrong_use(depot, tmp_path, data, words):
    """Exit 2 and why, whatever lies in the file."""
    depot.put("van-1.jsonl")
    path = tmp_path / "bad.receipt"
    if data is not None:
        path.write_bytes(data)
    code, _, err = depot("verify", str(depot.folder / "van-1.jsonl"), "--receipt", str(path))
    assert code == 2 and words in err and len(err) < 600
    assert depot("verify", str(depot.folder / "van-1.jsonl"), "--later", str(path))[0] == 2
    assert depot("receipts", "check", "--jobs", "1")[0] == 2 and depot("receipts", "head")[0] == 2


@pytest.mark.parametrize("revoked, code, words", [
    ("2099-01-01", 0, "note: the key is van's and was revoked later; the receipt shows that the log is older"),
    ("2025-11-01", 0, "not checked: the key is van's, revoked since 2025-11-01. This says it was sealed before")])
def test_a_receipt_from_before_a_revocation_is_what_proves_a_log_older(depot, revoked, code, words):
    """The log says that it was sealed in October 2025, by the device's own clock. Only a receipt by the office's machine,
    given before the key was revoked, shows that it was there."""
    depot.put("van-1.jsonl")
    depot("receipts", "give")
    (depot.folder / "office" / TRUST).write_text(TRUSTED.format(
        van=public_hex(KEY), office=public_hex(device_key()), more_van=f"    revoked: {revoked}\n", more_office=""))
    found, out = verify(depot, "van-1.jsonl", "--receipt", depot.kept("van-1.jsonl"))
    assert found == code and words in out and "note: the key that signed the receipt is office's" in out
    assert "only a receipt" in verify(depot, "van-1.jsonl")[1]


def test_a_receipt_that_nobody_known_signed_is_not_fine(depot):
    """Where there is a list of trusted keys, the office's machine must be on it, for `verify` and for `receipts check`."""
    depot.put("van-1.jsonl")
    depot("receipts", "give")
    (depot.folder / "office" / TRUST).write_text(TRUSTED.format(
        van=public_hex(KEY), office=public_hex(OTHER_KEY), more_van="", more_office=""))
    code, out = verify(depot, "van-1.jsonl", "--receipt", depot.kept("van-1.jsonl"))
    assert code == 1 and "bad: the key that signed the receipt is not on the list of trusted keys" in out
    code, out, _ = depot("receipts", "check")
    assert code == 1 and "bad: head of 1 jobs: the key that signed it is not on the list" in out
    depot.put("van-2.jsonl")
    code, _, err = depot("receipts", "give")
    assert code == 0 and "whoever goes by that list will not take these receipts" in err


def test_a_log_that_does_not_hold_gets_no_receipt(depot):
    """It is said, and the others get theirs; a name that cannot be written down is said too."""
    depot.put("van-1.jsonl")
    (depot.folder / "bad.jsonl").write_bytes(LOGS["van-2.jsonl"].replace(b"7.20", b"7.21"))
    (depot.folder / "a\x1bb.jsonl").write_bytes(LOGS["van-3.jsonl"])
    (depot.folder / "folder.jsonl").mkdir()
    code, out, err = depot("receipts", "give")
    assert code == 1 and out.startswith("1 new job on the list") and "\x1b" not in err
    assert "bad.jsonl: does not hold, and gets no receipt" in err and err.count("gets no receipt") == 3


@pytest.mark.parametrize("name, change, words", [
    (LIST, lambda text: text.replace(b"van-2", b"van-9"), "must begin with the 7 entries that line 1 of heads.jsonl signed"),
    (LIST, lambda text: text[:-80], "must begin with the 7 entries"), (LIST, lambda text: b"", "must begin with the 7 entries"),
    (LIST, lambda text: text.replace(b'"at"', b'"At"', 1), "list.jsonl:1: must be a line as it was written"),
    (HEADS, lambda text: text.replace(b'"size":7', b'"size":6'), "heads.jsonl:1: sig must be the signature"),
    (HEADS, lambda text: text + text, "heads.jsonl:2: size must be more than in the line before"),
    (HEADS, lambda text: b"{}\n", "heads.jsonl:1: must be a line as it was written")])
def test_a_list_that_is_not_as_it_was_signed_is_refused(depot, name, change, words):
    """Nothing is added to it and no receipt given until somebody has looked."""
    depot.put(*LOGS)
    depot("receipts", "give")
    path = receipts_folder(depot.folder) / name
    path.write_bytes(change(path.read_bytes()))
    before = path.read_bytes()
    for act in (["give"], ["check"], ["head"]):
        code, out, err = depot("receipts", *act)
        assert code == 1 and words in err and not out
    assert path.read_bytes() == before


def test_what_no_head_signed_was_never_handed_out(depot, monkeypatch):
    """The disk fails between list and head, or tears the head's line: no receipt was given, and the next run begins from
    the last head."""
    depot.put("van-1.jsonl", "van-2.jsonl")
    depot("receipts", "give")
    before = {name: (receipts_folder(depot.folder) / name).read_bytes() for name in (LIST, HEADS)}
    depot.put(*LOGS)
    real, seen = durable.os.write, []

    def fails(fd, data):
        seen.append(bytes(data))
        if b'"root"' in seen[-1]:
            real(fd, data[:40])
            raise OSError(28, "No space left on device")
        return real(fd, data)
    monkeypatch.setattr(durable.os, "write", fails)
    code, out, err = depot("receipts", "give")
    assert code == 1 and not out and "No receipt was given. Make room" in err
    monkeypatch.setattr(durable.os, "write", real)
    assert len(read_ledger(depot.folder).entries) == 2
    assert depot("receipts", "give")[1].startswith("5 new jobs") and depot("receipts", "check")[0] == 0
    for name, text in before.items():
        assert (receipts_folder(depot.folder) / name).read_bytes().startswith(text), "only ever appended"


@pytest.mark.skipif(os.name == "nt", reason="a link needs rights of its own there")
def test_a_link_that_came_with_the_folder_leads_no_receipt_elsewhere(depot, tmp_path):
    depot.put("van-1.jsonl")
    (tmp_path / "elsewhere").write_text("as it was")
    receipts_folder(depot.folder).mkdir(parents=True)
    (receipts_folder(depot.folder) / "van-1.receipt").symlink_to(tmp_path / "elsewhere")
    assert depot("receipts", "give")[0] == 0 and (tmp_path / "elsewhere").read_text() == "as it was"
    assert read_form(Receipt, receipts_folder(depot.folder) / "van-1.receipt").holds()


def test_receipts_are_written_again(depot, tmp_path):
    """`give --all --out` writes them all under the present head; the old ones still hold."""
    depot.put("van-1.jsonl")
    depot("receipts", "give")
    old = depot.kept("van-1.jsonl")
    depot.put(*LOGS)
    assert depot("receipts", "give", "--all", "--out", str(tmp_path / "sent"))[0] == 0
    files = sorted((tmp_path / "sent").iterdir())
    assert len(files) == 7 and all(read_form(Receipt, file).head.size == 7 and read_form(Receipt, file).holds() for file in files)
    assert depot("receipts", "check", "--held", old, *map(str, files))[0] == 0


def test_two_machines_may_sign_one_list(depot):
    """Each head names its own key; the list goes on from one to the other."""
    entries = [Entry(at=AT, last="ab" * 32, log=name) for name in ("a.jsonl", "b.jsonl")]
    extend(depot.folder, lambda before: (entries[0],), KEY, AT)
    ledger, new = extend(depot.folder, lambda before: (entries[1],), OTHER_KEY, AT)
    assert new == 1 and [head.key for head in ledger.heads] == [public_hex(KEY), public_hex(OTHER_KEY)]
    assert ledger == read_ledger(depot.folder) and all(ledger.receipt(n).holds() for n in (0, 1))
    first, second = ledger.heads
    assert ledger.later(1).continues(first) and not Later(since=1, path=(), head=second).continues(first)


def test_the_letters_bind_size_and_root():
    """The same twenty letters for the same list only."""
    head = Head.signed(3, bytes(32), AT, KEY)
    assert head.holds() and letters(3, head.root) != letters(4, head.root) and len(letters(3, head.root).split()) == 5


def test_an_unsigned_list_is_no_list(depot):
    """Entries without a head count for nothing."""
    place = receipts_folder(depot.folder)
    place.mkdir(parents=True)
    (place / LIST).write_bytes(Entry(at=AT, last="ab" * 32, log="a.jsonl").line() + b"\n")
    assert read_ledger(depot.folder).entries == ()
    (place / HEADS).write_bytes(Head.signed(1, bytes(32), AT, KEY).line() + b"\n")
    with pytest.raises(BadEvidence, match="must begin with the 1 entries"):
        read_ledger(depot.folder)
