"""`companion cards`: approve, withdraw and list, as a supervisor types it."""
from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.core.log.journal import public_hex
from companion.edge.device import device_key
from companion.office.review_log import read_review, review_path

CASES = Path(__file__).parent / "cases" / "cards"
SMALLEST = (CASES / "smallest.yaml").read_text(encoding="utf-8")
WHO = ("--by", "R.  Example", "--reason", "read against the\nmaker's data")


@pytest.fixture
def logs(tmp_path, monkeypatch):
    """A folder of logs and a machine of its own; cards are written beside them."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "logs").mkdir()
    return tmp_path / "logs"


def card(version: str, name: str = "card.yaml") -> str:
    """A card of that version, in a file."""
    old = next(line for line in SMALLEST.splitlines() if line.startswith("version:"))
    Path(name).write_text(SMALLEST.replace(old, f'version: "{version}"'), encoding="utf-8")
    return name


def states(logs: Path, capsys) -> dict[str, str]:
    """Version to state, as the list tells it."""
    capsys.readouterr()
    main(["cards", str(logs), "list", "--json"])
    return {row["version"]: row["state"] for row in json.loads(capsys.readouterr().out)["cards"]}


def test_cards_go_through_their_life(logs, capsys):
    """Approved; out of date by a newer one; withdrawn by file, or by version where the file is gone; approved again."""
    assert main(["cards", str(logs), "approve", card("1"), *WHO]) == 0
    assert capsys.readouterr().out.startswith("smallest, version 1 (SHA-256 ")
    assert main(["cards", str(logs), "approve", card("2"), *WHO]) == 0
    assert states(logs, capsys) == {"1": "out of date", "2": "approved"}
    assert main(["cards", str(logs), "withdraw", card("2"), *WHO]) == 0
    assert states(logs, capsys) == {"1": "approved", "2": "withdrawn"}
    assert main(["cards", str(logs), "withdraw", "smallest", "--version", "1", *WHO]) == 0
    assert main(["cards", str(logs), "approve", card("2"), *WHO]) == 0
    assert states(logs, capsys) == {"1": "withdrawn", "2": "approved"}


def test_an_entry_holds_the_cards_hash_and_is_signed_by_this_machine(logs):
    """The hash is that of the file's bytes, which a job's log names too; what was typed becomes one line."""
    assert main(["cards", str(logs), "approve", card("1"), *WHO]) == 0
    entry, = read_review(logs).entries
    assert entry.key == public_hex(device_key())
    assert entry.fact.sha256 == hashlib.sha256(Path("card.yaml").read_bytes()).hexdigest()
    assert (entry.fact.by, entry.fact.reason) == ("R. Example", "read against the maker's data")


@pytest.mark.parametrize("words, said", [
    (["nowhere", "list"], "nowhere: must be the folder of job logs"),
    (["logs", "approve", "no-such-card", *WHO], "a job card must be a file"),
    (["logs", "approve", str(CASES / "bad-flow.yaml"), *WHO], "bad-flow.yaml:14: a loop must hold a step with at_most"),
    (["logs", "withdraw", "smallest", "--version", "9", *WHO], "must be an approved version of that card in"),
    (["logs", "approve", "learning", "--by", " ", "--reason", "r"], "by: must be 1 to 200 printable characters"),
    (["logs", "approve", "learning", "--by", "n", "--reason", "x" * 2001], "reason: must be 1 to 2,000"),
])
def test_wrong_use_is_told_and_nothing_is_written(logs, words, said, capsys):
    """Exit code 2, the message on standard error, no log begun."""
    assert main(["cards", *words]) == 2
    shown = capsys.readouterr()
    assert said in shown.err and shown.out == "" and not review_path(logs).exists()


def test_a_changed_text_under_an_approved_version_is_refused(logs, capsys):
    """The office cannot do by mistake what the finding card-changed is there to tell."""
    main(["cards", str(logs), "approve", card("1"), *WHO])
    Path("card.yaml").write_text(Path("card.yaml").read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    assert main(["cards", str(logs), "approve", "card.yaml", *WHO]) == 2
    assert "another text is approved under this version. Give the changed card a new version" in capsys.readouterr().err


def test_a_card_with_faults_that_came_later_can_still_be_withdrawn(logs, capsys):
    """Withdrawing never waits for a card to be put right."""
    assert main(["cards", str(logs), "withdraw", str(CASES / "bad-flow.yaml"), *WHO]) == 0
    assert list(states(logs, capsys).values()) == ["withdrawn"]


def test_the_list_is_a_table(logs, capsys):
    """Columns stand under their names; an empty register says so; long reasons are cut."""
    assert main(["cards", str(logs), "list"]) == 0 and capsys.readouterr().out == "No card is in the register.\n"
    main(["cards", str(logs), "approve", card("1"), "--by", "R. Example", "--reason", "long " * 30])
    capsys.readouterr()
    assert main(["cards", str(logs), "list"]) == 0
    head, row, key = capsys.readouterr().out.splitlines()
    assert head.split() == ["card", "version", "state", "since", "by", "reason", "sha256"]
    shown = {"card": "smallest", "version": "1", "state": "approved", "by": "R. Example", "reason": "long"}
    for name, text in shown.items():
        assert row[head.index(name):].startswith(text)
    assert "…" in row and key == f"key {public_hex(device_key())[:12]}… signed 1 entry of the office's log"


def test_a_broken_log_is_listed_as_far_as_it_holds_and_takes_nothing(logs, capsys):
    """Exit code 1, the line and what is wrong with it; approving is refused with the same."""
    main(["cards", str(logs), "approve", card("1"), *WHO])
    main(["cards", str(logs), "approve", card("2"), *WHO])
    path = review_path(logs)
    path.write_bytes(path.read_bytes().replace(b'"version":"2"', b'"version":"3"'))
    capsys.readouterr()
    assert main(["cards", str(logs), "list"]) == 1
    shown = capsys.readouterr()
    assert "smallest  1 " in shown.out and "review.jsonl:2: sig must be the signature" in shown.err
    assert main(["cards", str(logs), "withdraw", card("1"), *WHO]) == 1
    assert "Nothing is added until somebody has looked" in capsys.readouterr().err


def test_an_unfinished_last_line_is_told(logs, capsys):
    """It is no fault: it was never acknowledged."""
    main(["cards", str(logs), "approve", card("1"), *WHO])
    with open(review_path(logs), "ab") as file:
        file.write(b"{")
    assert main(["cards", str(logs), "list"]) == 0
    assert "the last line is unfinished" in capsys.readouterr().err
