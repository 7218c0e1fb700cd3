"""`companion trust`: the list of trusted keys as the supervisor keeps it."""
from __future__ import annotations

import json

import pytest

from companion.__main__ import main
from companion.edge.device import has_key, public_key, wall
from companion.office.trusted import LIST, trusted_in

ONE, TWO = "1a" * 32, "1a2b" * 16


@pytest.fixture
def trust(tmp_path, monkeypatch, capsys):
    """Run the command on one folder, on a machine without a key: exit code, output, complaint."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "own"))

    def act(*words: str) -> tuple[int, str, str]:
        code = main(["trust", str(tmp_path), *words])
        return code, *capsys.readouterr()
    act.path = tmp_path / "office" / LIST
    return act


def test_a_list_is_begun_grown_and_struck_from(trust):
    """Two keys, one of them revoked by its first letters; days are today's unless told; `list` shows it all."""
    assert trust("list")[1] == "There is no list of trusted keys, so the key of a log is checked by nobody.\n"
    assert trust("add", ONE.upper(), "--name", "van  one")[:2] == (0, f"{ONE}  van one, from {wall()[:10]}\n")
    assert trust("add", TWO, "--name", 'the "new": van', "--from", "2026-01-05")[0] == 0
    code, out, _ = trust("revoke", TWO[:8], "--why", "broken into: #3", "--from", "2026-06-01")
    assert code == 0 and out == f'{TWO}  the "new": van, from 2026-01-05, revoked since 2026-06-01: broken into: #3\n'
    told = json.loads(trust("list", "--json")[1])
    assert [(one["name"], one["revoked"]) for one in told["keys"]] == [("van one", ""), ('the "new": van', "2026-06-01")]
    assert trust("list")[1].splitlines() == [f"{ONE}  van one, from {wall()[:10]}", out.strip()]
    assert [file.name for file in trust.path.parent.iterdir()] == [LIST], "no draft is left"


def test_what_people_wrote_stays(trust):
    """Notes, order and layout of a list that was written by hand are kept, whatever the layout."""
    trust.path.parent.mkdir()
    text = f"# our vans\ntrusted_keys: 1\nkeys:\n- name: van one  # the blue one\n  key: {ONE}\n  from: 2026-01-05\n"
    trust.path.write_text(text)
    assert trust("revoke", ONE, "--why", "sold", "--from", "2026-02-03")[0] == 0
    assert trust.path.read_text() == text.replace(f"{ONE}\n", f"{ONE}\n  revoked: 2026-02-03\n  why: \"sold\"\n")
    assert trust("add", TWO, "--name", "van zwölf", "--from", "2026-01-05")[0] == 0
    assert trust.path.read_text().endswith(
        f"\"sold\"\n  from: 2026-01-05\n- key: {TWO}\n  name: \"van zwölf\"\n  from: 2026-01-05\n")
    assert trusted_in(trust.path.parent).of(ONE).revoked == "2026-02-03"


@pytest.mark.parametrize("text", [
    f"{{trusted_keys: 1, keys: [{{key: {ONE}, name: van one, from: 2026-01-05}}]}}\n",
    f"trusted_keys: 1\nkeys: [{{key: {ONE}, name: van one, from: 2026-01-05}}]\n",
    f"keys:\n  - key: {ONE}\n    name: van one\n    from: 2026-01-05\ntrusted_keys: 1\n"])
def test_a_layout_that_cannot_be_added_to_is_left_alone(trust, text):
    """An error that says to do it by hand, and not a byte is changed."""
    trust.path.parent.mkdir()
    trust.path.write_text(text)
    code, _, err = trust("add", TWO, "--name", "van two")
    assert code == 2 and err and trust.path.read_text() == text


def test_an_empty_list_is_a_list(trust):
    """`keys: []` means that no log counts, and can be added to."""
    trust.path.parent.mkdir()
    trust.path.write_text("trusted_keys: 1\nkeys: []\n")
    assert "no log counts" in trust("list")[1]
    assert trust("add", ONE, "--name", "van one")[0] == 0 and trusted_in(trust.path.parent).of(ONE)


@pytest.mark.parametrize("words, told", [
    (("add", "12", "--name", "x"), "key must be 64 lower-case hex digits"),
    (("add", TWO, "--name", " "), "name must be words"), (("add", TWO, "--name", "a\x1bb"), "printable"),
    (("add", TWO, "--name", "x", "--from", "monday"), 'from must be a day such as 2026-03-01, not "monday"'),
    (("add", ONE, "--name", "again"), "is on the list already, as van one"),
    (("revoke", "1a1a", "--why", "x"), "first eight hex digits or more"), (("revoke", TWO, "--why", "x"), "must be one key"),
    (("revoke", ONE, "--why", "x", "--from", "2025-12-31"), "revoked must not be before from"),
    (("revoke", ONE, "--why", ""), "why must be")])
def test_wrong_use_changes_nothing(trust, words, told):
    """Exit 2, what must hold, and the list as it was."""
    trust("add", ONE, "--name", "van one", "--from", "2026-01-05")
    before = trust.path.read_bytes()
    code, out, err = trust(*words)
    assert code == 2 and not out and "\x1b" not in err and told in err, err
    assert trust.path.read_bytes() == before


def test_a_key_is_revoked_once(trust):
    """The first day stands: a later one would make logs count that did not."""
    trust("add", ONE, "--name", "van one", "--from", "2026-01-05")
    assert trust("revoke", ONE, "--why", "sold", "--from", "2026-02-03")[0] == 0
    code, _, err = trust("revoke", ONE, "--why", "sold", "--from", "2026-03-03")
    assert code == 2 and "is revoked already, since 2026-02-03" in err


def test_no_folder_and_no_room_are_said(trust, tmp_path):
    """A folder that is not there; an office that is a file."""
    assert main(["trust", str(tmp_path / "none"), "list"]) == 2
    (tmp_path / "office").write_text("")
    code, _, err = trust("add", ONE, "--name", "van one")
    assert code == 1 and "cannot be read or written" in err


def test_an_office_whose_own_key_is_not_on_the_list_is_told_so(trust):
    """By `add` and `list`, with the command that puts it there, which then is the end of it; no key is made for this, and
    the JSON stays JSON."""
    assert "own key" not in trust("add", ONE, "--name", "van one")[1] and not has_key()
    key = public_key()[0]
    told = f"companion trust FOLDER add {key} --name NAME"
    for act in (("add", TWO, "--name", "van two"), ("list",)):
        out = trust(*act)[1]
        assert "This machine's own key is not on the list" in out and out.strip().endswith(told)
    assert len(json.loads(trust("list", "--json")[1])["keys"]) == 2
    for act in (("add", key, "--name", "the office"), ("list",)):
        assert "own key" not in trust(*act)[1]
