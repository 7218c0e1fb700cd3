"""What is printed on a terminal: nothing from outside can steer it, whichever command meets it."""
from __future__ import annotations

import pytest

from companion.__main__ import main
from companion.terminal import clean, clean_lines

EVIL = "no\x1b]0;title\x07\x9b2J\u202e\nsuch\udcff"
"""A name with what sets a title, clears a screen, turns the writing round, breaks the line, and is no text."""
STEERS = ("\x1b", "\x07", "\x9b", "\u202e", "\udcff", "\nsuch")


@pytest.mark.parametrize("text, shown", [
    ("plain", "plain"), ("½ Ω ä 압", "½ Ω ä 압"), ("a\x1b[31mb", "a\ufffd[31mb"), ("a\nb\tc", "a b c"),
    ("\u202ea", "\ufffda"), ("\udcff", "\ufffd"), ("\x9b", "\ufffd"), ("", "")])
def test_what_has_no_shape_becomes_a_mark(text, shown):
    """Words stay as they are; a text keeps its length, so that columns stay columns."""
    assert clean(text) == shown and len(clean(text)) == len(text)


def test_lines_of_our_own_stay_lines():
    """One fault a line, each of them clean."""
    assert clean_lines("a\x1b\nb") == "a\ufffd\nb"


@pytest.mark.parametrize("command", [
    ("check", EVIL), ("check", "{folder}/\x1b[2J.yaml"), ("verify", EVIL), ("record", EVIL), ("review", EVIL), ("page", EVIL),
    ("cards", EVIL, "list"), ("cards", "{folder}", "approve", EVIL, "--by", "A", "--reason", "b"),
    ("job", EVIL, "--typed"), ("job", "learning", "--typed", "--log", f"{{folder}}/{EVIL}.jsonl", "--tools", EVIL),
    ("hear", EVIL), ("verify", "--" + EVIL), ("review", "{folder}", "--severity", EVIL), (EVIL,),
    ("work", "code", EVIL), ("demo", "--jobs", "1", "--out", f"{{folder}}/{EVIL}")],
    ids=lambda command: " ".join(command).encode("unicode_escape").decode())
def test_no_name_from_outside_steers_the_terminal(command, tmp_path, capsys, monkeypatch):
    """Every command that is given a file, a folder or a word says it in a form fit for a terminal, on both outputs."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    (tmp_path / "\x1b[2J.yaml").write_text("card: 1\nnonsense: yes\n", encoding="utf-8")
    try:
        main([word.format(folder=tmp_path) for word in command])
    except SystemExit:
        pass
    said = capsys.readouterr()
    assert said.out or said.err
    assert not [one for one in STEERS if one in said.out + said.err], ascii(said.out + said.err)
