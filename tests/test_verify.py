"""`companion verify` as its user meets it."""
from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path

import pytest

from companion.core.log.codec import encode
from companion.core.events import JobEnded, MemoKept, Personal, TakenOver
from companion.core.log.closing import closing_seal
from companion.core.log.journal import LONGEST, digest, public_hex
from companion.core.log.sidecar import dump_sidecar
from companion.errors import BadInput
from companion.office.verify import add_arguments, run
from logmaker import KEY, OTHER_KEY, objects, opened, rewritten, small, written

LINES = written(small())
SEAL = closing_seal(digest(LINES[-1]))


@pytest.fixture
def verify(capsys, tmp_path, monkeypatch):
    """Run the command on files given by name and content; exit code, what was printed, what was complained of."""
    monkeypatch.chdir(tmp_path)

    def act(*words: str, **files: bytes) -> tuple[int, str, str]:
        for name, content in files.items():
            Path(name.replace("_", ".")).write_bytes(content)
        parser = argparse.ArgumentParser()
        add_arguments(parser)
        return (run(parser.parse_args(words)), *capsys.readouterr())
    return act


def test_a_good_log_holds(verify):
    """Exit 0; the closing seal is shown, and what these checks cannot show is said."""
    code, out, _ = verify("van.jsonl", van_jsonl=b"".join(LINES))
    assert code == 0 and out.startswith("van.jsonl: holds. 7 entries, 2 seals, finished\n")
    assert f"closing seal: {SEAL}" in out
    assert "not checked: whose key" in out and "not checked: without the closing" in out


def test_json_is_all_there_is_on_standard_output(verify):
    """One JSON object a line for each log, whatever is found, unreadable files too."""
    code, out, err = verify("--json", "van.jsonl", "bad.jsonl", "none.jsonl", van_jsonl=b"".join(LINES),
                            bad_jsonl=b"".join(LINES).replace(b'"7.50"', b'"7.51"'))
    good, bad, none = map(json.loads, out.splitlines())
    assert code == 1 and err == "" and good["holds"] and good["finished"] and good["last"] == digest(LINES[-1])
    assert "closing_seal" not in good, "a tenth of a second each: shown for one log only"
    assert not bad["holds"] and bad["first_bad"] == {
        "line": 3, "n": 2, "why": "must be as it was when line 4 was written after it"}
    assert none == {"file": "none.jsonl", "holds": False, "error": "cannot be read: No such file or directory"}


@pytest.mark.parametrize("text, code, words", [
    (b"".join(LINES[:5]), 0, "holds. 5 entries, 1 seal, unfinished"),
    (b"".join(LINES[:4]), 0, "not checked: lines 1 to 4 have no seal after them yet"),
    (b"".join(LINES[:4]), 0, "note: the job is unfinished"),
    (b"".join(LINES)[:-1], 1, "bad: line 7: unfinished: "),
    (b"", 1, "bad: line 1: the first line must be job_opened, not an empty file"),
    (b"\x00" * (LONGEST + 2), 1, f"bad: line 1: must be at most {LONGEST} bytes"),
    (b"\x1b[31mred\n" + b"x" * 100, 1, "bad: line 1: must be one line of JSON"),
    (b"".join(LINES + LINES[1:2]), 1, "bad: line 8: nothing may follow the closing seal"),
    (b"".join(rewritten(objects(LINES), OTHER_KEY)), 1, "bad: line 5: the seal must hold; something since line 1"),
])
def test_each_finding_is_said_in_words(verify, text, code, words):
    """The finding, its line and its exit code; nothing from the log can act on a terminal."""
    found, out, _ = verify("van.jsonl", van_jsonl=text)
    assert found == code and words in out and "\x1b" not in out


def test_the_closing_seal_finds_a_shortened_and_a_rewritten_log(verify):
    """A cut at each line's end, and another log of the same device, hold by themselves but not against the sheet."""
    assert verify("van.jsonl", "--seal", SEAL.lower(), van_jsonl=b"".join(LINES))[0] == 0
    for end in range(1, len(LINES)):
        assert verify("van.jsonl", van_jsonl=b"".join(LINES[:end]))[0] == 0
        code, out, _ = verify("van.jsonl", "--seal", SEAL)
        assert code == 1 and f"the closing seal must be {SEAL}, not missing: the end was cut off" in out
    code, out, _ = verify("van.jsonl", "--seal", SEAL, van_jsonl=b"".join(written(small(text="7.51"))))
    assert code == 1 and f"the closing seal must be {SEAL}, not " in out


def test_an_old_log_keeps_its_short_seal_and_that_is_said(verify):
    """Format 1 had twelve characters: still checked, and said to be short. A new log has no short seal."""
    old = written([opened(format=1), *small()[1:]])
    short = closing_seal(digest(old[-1]), 1)
    code, out, _ = verify("van.jsonl", "--seal", short, van_jsonl=b"".join(old))
    assert code == 0 and f"closing seal: {short}" in out and "short (12 characters, now 20): whoever has the device" in out
    assert verify("van.jsonl", "--seal", closing_seal(digest(old[-1])))[0] == 1
    code, out, _ = verify("van.jsonl", "--seal", closing_seal(digest(LINES[-1]), 1), van_jsonl=b"".join(LINES))
    assert code == 1 and f"the closing seal must be {closing_seal(digest(LINES[-1]), 1)}, not {SEAL}" in out


LIST = "trusted_keys: 1\nkeys:\n  - key: {key}\n    name: van one\n    from: {since}\n{more}"
GONE = "    revoked: {day}\n    why: it was stolen\n"


@pytest.mark.parametrize("key, since, more, code, words, state", [
    (KEY, "2025-01-05", "", 0, "note: the key is van one's, on the list of trusted keys from 2025-01-05", "trusted"),
    (OTHER_KEY, "2025-01-05", "", 1, "is not on the list of trusted keys", "unknown"),
    (KEY, "2026-01-05", "", 1, "is van one's, but it counts only from 2026-01-05, and this was begun on 2025-10-09", "not yet"),
    (KEY, "2025-01-05", GONE.format(day="2025-10-09"), 1, "is van one's, but revoked since 2025-10-09 (it was stolen)",
     "revoked"),
    (KEY, "2025-01-05", GONE.format(day="2025-10-10"), 0, "not checked: the key is van one's, revoked since 2025-10-10",
     "revoked later")])
@pytest.mark.parametrize("beside", [True, False])
def test_the_key_is_looked_up_in_the_list_of_trusted_keys(verify, key, since, more, code, words, state, beside):
    """Beside the log or given: whose key it is, or why it does not count, which makes the log not fine."""
    text = LIST.format(key=public_hex(key), since=since, more=more)
    Path("office").mkdir()
    place = Path("office/trusted-keys.yaml") if beside else Path("held.yaml")
    place.write_text(text)
    given = [] if beside else ["--trusted", "held.yaml"]
    found, out, _ = verify("van.jsonl", *given, van_jsonl=b"".join(LINES))
    assert found == code and words in out and "whose key" not in out
    _, out, _ = verify("van.jsonl", "--json", *given)
    told = json.loads(out)
    assert (told["key_stands"], told["key_of"]) == (state, "" if state == "unknown" else "van one")


def test_a_key_held_elsewhere_is_compared(verify):
    """The device's own key: nothing is left to ask. Another: the log is another device's."""
    code, out, _ = verify("van.jsonl", "--key", public_hex(KEY).upper(), van_jsonl=b"".join(LINES))
    assert code == 0 and "whose key" not in out
    code, out, _ = verify("van.jsonl", "--key", public_hex(OTHER_KEY))
    assert code == 1 and f"line 1: the device's key must be {public_hex(OTHER_KEY)}, not {public_hex(KEY)}" in out


def test_without_a_key_the_chain_is_still_checked(verify):
    """What the key alone could show is said; a key that no seal confirms is no evidence, whatever the list says."""
    code, out, _ = verify("van.jsonl", van_jsonl=b"".join(LINES[:3]))
    assert code == 0 and f"not checked: whose key {public_hex(KEY)} is, without a list" in out
    assert "not checked: that the device of that key wrote it: no line is sealed yet" in out
    assert verify("van.jsonl", van_jsonl=b"".join(LINES[:2] + LINES[3:]))[0] == 1


def test_a_list_with_faults_is_wrong_use(verify):
    """Never passed over: a key that was struck out by a slip of the pen must not count as unlisted."""
    Path("office").mkdir()
    Path("office/trusted-keys.yaml").write_text("trusted_keys: 1\nkeys: none\n")
    with pytest.raises(BadInput, match="office/trusted-keys.yaml:2: keys must be a list"):
        verify("van.jsonl", van_jsonl=b"".join(LINES))


def test_personal_texts_are_checked_where_they_are(verify):
    """A sidecar beside the log is checked with it; an erased one is counted; a changed one does not hold."""
    lines = written([opened(), TakenOver(mechanic=Personal("Ann")), JobEnded()])
    beside = dump_sidecar(encode(TakenOver(mechanic=Personal("Ann")), lambda: bytes(16))[1])
    assert "personal texts that are erased or kept elsewhere: 1" in verify("van.jsonl", van_jsonl=b"".join(lines))[1]
    code, out, _ = verify("van.jsonl", van_personal=beside)
    assert code == 0 and "personal texts" not in out
    code, out, _ = verify("van.jsonl", van_personal=beside.replace(b"Ann", b"Bob"))
    assert code == 1 and "bad: van.personal, line 1: sha256 must be the hash of salt and text" in out
    code, out, _ = verify("van.jsonl", van_personal=beside + b"{")
    assert code == 1 and "van.personal: the last line is unfinished" in out


def test_wrong_use(verify, tmp_path):
    """Exit 2, or the error that becomes it: no file, a folder, a seal for two logs, a seal that is none."""
    assert verify("none.jsonl")[0] == 2 and verify(str(tmp_path))[0] == 2 and verify("a\0b")[0] == 2
    with pytest.raises(BadInput, match="goes with one log, not 2"):
        verify("a.jsonl", "b.jsonl", "--seal", SEAL)
    with pytest.raises(BadInput, match="must be 20 "):
        verify("a.jsonl", "--seal", "ABCD")
    with pytest.raises(BadInput, match="--key: must be 64 lower-case hex digits"):
        verify("a.jsonl", "--key", "abc")
    with pytest.raises(BadInput, match="none.yaml: must be a list of trusted keys that can be read: No such file"):
        verify("a.jsonl", "--trusted", "none.yaml")
    assert verify("none.jsonl", "\x1b[31m.jsonl")[1].count("\x1b") == 0


def test_a_stepped_clock_is_a_note_and_no_fault(verify):
    """The time of day stepped back: said, and exit 0."""
    lines = objects(LINES)
    lines[3]["at"] = "2001-01-01T00:00:00.000Z"
    code, out, _ = verify("van.jsonl", van_jsonl=b"".join(rewritten(lines, KEY)))
    assert code == 0 and "note: line 4: the time of day had stepped back" in out


def kept(file: str, sound: bytes) -> list[bytes]:
    """The log of a job with one memo."""
    memo = MemoKept(memo=1, file=file, sha256=hashlib.sha256(sound).hexdigest(), ms=900)
    return written([opened(), memo, JobEnded()])


@pytest.mark.parametrize("sound, code, words", [
    (b"as it was", 0, "van.jsonl: holds"),
    (b"as it is not", 1, "bad: line 2: the memo van.memo-1.flac must be as it was"),
    (None, 0, "not checked: line 2: the memo van.memo-1.flac is erased or kept elsewhere")])
def test_a_memo_is_checked_where_it_is(verify, sound, code, words):
    """The sound beside the log must have the hash in the log; a missing one is said as such, and is no fault."""
    if sound is not None:
        Path("van.memo-1.flac").write_bytes(sound)
    found, out, _ = verify("van.jsonl", van_jsonl=b"".join(kept("van.memo-1.flac", b"as it was")))
    assert found == code and words in out


@pytest.mark.parametrize("file", [
    "../van.memo-1.flac", "/etc/passwd", "a\\b.memo-1.wav", "c:a.memo-1.wav", "a\x1b.memo-1.wav"])
def test_a_log_cannot_have_other_files_read(verify, file):
    """A name that is no memo's beside the log is a finding, and no such file is opened."""
    code, out, _ = verify("van.jsonl", van_jsonl=b"".join(kept(file, b"")))
    assert code == 1 and "line 2: must name a memo's sound file beside the log" in out and "\x1b" not in out


def test_the_folder_of_logs_does_for_its_list_of_trusted_keys(verify, tmp_path):
    """As `companion trust` takes it; a folder without a list is said."""
    with pytest.raises(BadInput, match="trusted-keys.yaml"):
        verify("van.jsonl", "--trusted", str(tmp_path), van_jsonl=b"".join(LINES))
