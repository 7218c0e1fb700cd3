"""Keys and pedals: what a terminal sends, what an input device gives, and what both together mean."""
from __future__ import annotations

import os
import queue
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.__main__ import main
from companion.edge.keys import KEYS, Keys, check_key, devices
from companion.edge.keys.devices import EVENT, Change, Devices
from companion.edge.keys.held import TERMINAL, Held
from companion.edge.keys.line import HOLD_S, LINE_S, Echoed, Ended, Line, Pressed, Released, Typed
from companion.edge.keys.names import name_of_code, pieces
from companion.edge.keys.terminal import WindowsConsole, terminal_of
from companion.errors import BadInput, BrokenMachine

posix = pytest.mark.skipif(os.name == "nt", reason="POSIX terminals and pipes with names")
WAIT_S = 10


# -- names -------------------------------------------------------------------------------------------------------------

# Seen in `linux/input-event-codes.h` of the kernel.
@pytest.mark.parametrize("name, code", [
    ("1", 2), ("0", 11), ("q", 16), ("p", 25), ("a", 30), ("l", 38), ("z", 44), ("m", 50), ("b", 48), ("space", 57),
    ("tab", 15), ("f1", 59), ("f10", 68), ("f11", 87), ("f12", 88), ("f13", 183), ("f24", 194), ("home", 102),
    ("up", 103), ("pageup", 104), ("left", 105), ("right", 106), ("end", 107), ("down", 108), ("pagedown", 109),
    ("insert", 110), ("delete", 111), ("volumedown", 114), ("volumeup", 115), ("playpause", 164)])
def test_a_key_has_the_kernels_code(name: str, code: int) -> None:
    """The name that is asked for is the one that comes back from the device."""
    assert check_key(name, "--talk-key") == name_of_code(code) == name


@pytest.mark.parametrize("sent, name", [
    (" ", "space"), ("b", "b"), ("B", "b"), ("7", "7"), ("\t", "tab"), ("\x1bOP", "f1"), ("\x1b[11~", "f1"),
    ("\x1b[[A", "f1"), ("\x1b[15~", "f5"), ("\x1b[17~", "f6"), ("\x1b[20~", "f9"), ("\x1b[21~", "f10"),
    ("\x1b[24~", "f12"), ("\x1b[6~", "pagedown"), ("\x1b[H", "home"), ("\x1bOF", "end"), ("\x1b[A", "up"),
    ("\x00;", "f1"), ("\x00\x86", "f12"), ("\x00Q", "pagedown"), ("\n", "enter"), ("\x7f", "backspace"),
    ("ä", ""), ("\x1b[99~", ""), ("\x1b[1;5C", "")])
def test_a_terminals_characters_have_the_keys_name(sent: str, name: str) -> None:
    """X terminals, the Linux console and the Windows console; whole sequences, known or not, are one key."""
    assert pieces(sent) == ([(name, sent)], "")


def test_every_name_is_taken_in_any_case_and_a_code_is_taken_for_its_name() -> None:
    """What the list of names promises holds."""
    assert all(check_key(f" {name.upper()} ", "--talk-key") == name for name in KEYS)
    assert check_key("code-67", "--talk-key") == "f9" and check_key("code-672", "--talk-key") == "code-672"


@pytest.mark.parametrize("name", ["", "f25", "pedal", "code-0", "code-768", "code-", "ä", "ctrl-c"])
def test_an_unknown_key_lists_the_names(name: str) -> None:
    """Whoever asks learns what there is, and how to find a pedal's name."""
    with pytest.raises(BadInput, match=r'--next-key: must be one of a to z.*pagedown.*code-N.*"companion keys"'):
        check_key(name, "--next-key")


@pytest.mark.parametrize("name", ["enter", "Backspace", "code-28", "code-96", "code-14"])
def test_a_key_that_typed_lines_need_is_refused(name: str) -> None:
    """Enter alone already means something, and a line could not be ended."""
    with pytest.raises(BadInput, match="no typed line needs"):
        check_key(name, "--next-key")


@given(st.text(alphabet="\x1b[O~;1259ABP \x00a\n", max_size=30), st.integers(0, 30))
def test_where_a_terminals_text_is_cut_changes_nothing(text: str, cut: int) -> None:
    """A slow line gives sequences in parts; nothing is lost and nothing is read twice."""
    first, rest = pieces(text[:cut])
    second, left = pieces(rest + text[cut:])
    assert (first + second, left) == pieces(text)
    assert "".join(sent for _, sent in first + second) + left == text


# -- the terminal's line -----------------------------------------------------------------------------------------------

def fed(line: Line, text: str, now: float = 0.0) -> list:
    """What the text does, without what is shown of it."""
    return [act for act in line.feed(text, now) if not isinstance(act, Echoed)]


def test_a_held_key_is_pressed_once_and_comes_up_when_it_no_longer_repeats() -> None:
    """The first repeat comes late, by 0.66 s on X11, and must not look like a second press."""
    line = Line(["space"])
    assert fed(line, " ", 0.0) == [Pressed("space")]
    assert line.idle(0.66) == []
    assert [fed(line, " ", 0.66 + n / 25) for n in range(50)] == [[]] * 50
    end = 0.66 + 49 / 25
    assert line.idle(end + HOLD_S - 0.01) == []
    assert line.idle(end + HOLD_S) == [Released("space")]
    assert fed(line, " ", end + 9) == [Pressed("space")]


def test_whole_lines_can_still_be_typed() -> None:
    """Once a line is begun the key's own character belongs to it; after Enter it is a key again."""
    line = Line(["space", "f9"])
    assert fed(line, "say again\n") == [Typed("say again")]
    assert fed(line, " ") == [Pressed("space")]
    assert fed(line, "log value 7.5\x7f\x7f\x7f8\r") == [Typed("log value 8")]
    assert fed(line, "half\x15next\n") == [Typed("next")]
    assert fed(line, "\n") == [Typed("")]


def test_a_line_that_begins_with_the_key_is_typed_after_a_blank() -> None:
    """A pedal that sends "b" leaves "brief words" sayable by keyboard."""
    assert fed(Line(["b"]), " brief words\n") == [Typed(" brief words")]


def test_a_key_that_writes_nothing_counts_within_a_line() -> None:
    """f9 is not taken for a part of what is typed, and does not spoil it."""
    assert fed(Line(["f9"]), "ne\x1b[20~xt\n") == [Pressed("f9"), Typed("next")]


def test_a_keyboard_that_was_leaned_on_does_not_leave_the_pedal_dead() -> None:
    """Stray characters are dropped, and taken off the screen, after a while."""
    line = Line(["space"])
    assert fed(line, "jj") == [] and fed(line, " ", 1.0) == []
    assert line.idle(1.0 + LINE_S) == [Echoed("\b \b" * 3)] and line.text == ""
    assert fed(line, " ", 2 + LINE_S) == [Pressed("space")]
    other = Line(["f9"])
    assert fed(other, "jj") == [] and other.idle(9 * LINE_S) == [] and other.text == "jj"


def test_the_screen_shows_what_a_line_holds() -> None:
    """Characters as typed, erasing when erased, and nothing at all for keys."""
    acts = Line(["f9"]).feed("a\x7f\x7f\x1b[20~\x1b[A\x01b\n", 0.0)
    assert [act.text for act in acts if isinstance(act, Echoed)] == ["a", "\b \b", "b", "\n"]


def test_the_end_of_the_lines_is_told_only_between_lines() -> None:
    """As a terminal does by itself."""
    assert fed(Line(["f9"]), "\x04") == [Ended()] and fed(Line(["f9"]), "a\x04\n") == [Typed("a")]


def test_without_names_every_key_is_told() -> None:
    """For learning what a pedal sends."""
    assert fed(Line(None), "b\x1b[6~\n") == [Pressed("b"), Pressed("pagedown"), Pressed("enter")]


@given(st.lists(st.tuples(st.text(alphabet=" bx\n\x7f\x1b[20~", max_size=6), st.floats(0, 3)), max_size=12))
def test_presses_and_releases_of_a_key_alternate(typed: list[tuple[str, float]]) -> None:
    """Whatever is typed and however slowly: never two presses without a release between, and in the end it is up."""
    line, now, acts = Line(["space", "f9"]), 0.0, []
    for text, seconds in typed:
        now += seconds
        acts += line.feed(text, now)
    acts += line.idle(now + 2 * HOLD_S)
    for key in ("space", "f9"):
        turns = [type(act) for act in acts if isinstance(act, (Pressed, Released)) and act.key == key]
        assert turns == [Pressed, Released] * (len(turns) // 2)


# -- all sources together ----------------------------------------------------------------------------------------------

def test_a_key_read_twice_counts_once() -> None:
    """The keyboard in front reaches both the device and the terminal; the device knows when it comes up."""
    for first, second in (("pedal", TERMINAL), (TERMINAL, "pedal")):
        held = Held()
        assert [held.press("f9", first), held.press("f9", second)] == [True, False]
        assert held.release("f9", "pedal") and not held.release("f9", TERMINAL)
        assert not held.press("f9", TERMINAL) and held.press("f9", "pedal")


def test_a_key_held_on_two_devices_is_up_when_both_are() -> None:
    """Foot on the pedal and finger on the key."""
    held = Held()
    assert held.press("f9", "pedal") and not held.press("f9", "keyboard")
    assert not held.release("f9", "pedal") and held.release("f9", "keyboard")


def test_a_pedal_pulled_out_lets_go_and_leaves_the_key_to_the_terminal() -> None:
    """A lost pedal does not leave the companion listening for ever, nor deaf."""
    held = Held()
    held.press("f9", "pedal")
    assert not held.press("f9", TERMINAL)
    assert held.gone("pedal") == ["f9"]
    assert held.press("f9", TERMINAL)


@given(st.lists(st.tuples(st.sampled_from(["press", "release", "let_go", "gone"]),
                          st.sampled_from(["pedal", "keyboard", TERMINAL])), max_size=30))
def test_what_is_told_of_a_key_alternates(steps: list[tuple[str, str]]) -> None:
    """Down, up, down, up, in whatever order sources come and go; and nothing is down once every source has gone."""
    held, told = Held(), []
    for what, source in (*steps, ("gone", "pedal"), ("gone", "keyboard"), ("gone", TERMINAL)):
        if what == "press":
            told += ["down"] * held.press("f9", source)
        else:
            up = held.release("f9", source) if what == "release" else getattr(held, what)(source)
            told += ["up"] * bool(up)
    assert told == ["down", "up"] * (len(told) // 2)


# -- input devices -----------------------------------------------------------------------------------------------------

def packed(kind: int, code: int, value: int) -> bytes:
    return EVENT.pack(1_700_000_000, 5, kind, code, value)


@pytest.fixture
def pedal(tmp_path: Path):
    """A pipe with a name, which stands for an input device: (its folder, its file, the end that is written)."""
    path = tmp_path / "input" / "event3"
    path.parent.mkdir()
    os.mkfifo(path)
    end = os.open(path, os.O_RDWR)
    yield path.parent, path, end
    try:
        os.close(end)
    except OSError:
        pass


@posix
def test_a_device_gives_presses_and_releases_and_nothing_else(pedal) -> None:
    """Repeats, mouse motion and the marks between events are passed over; an event in two parts is one event."""
    folder, path, end = pedal
    with closing(Devices(folder)) as found:
        sent = b"".join(packed(*event) for event in (
            (4, 4, 458), (1, 67, 1), (0, 0, 0), (1, 67, 2), (2, 0, 5), (1, 67, 0)))
        os.write(end, sent[:-5])
        assert found.changes(WAIT_S) == [Change(str(path), 67, True)]
        os.write(end, sent[-5:])
        assert found.changes(WAIT_S) == [Change(str(path), 67, False)]
        assert found.changes(0) == []


@posix
def test_lost_events_let_go_of_the_keys(pedal) -> None:
    """The release may be among what the kernel dropped."""
    folder, path, end = pedal
    with closing(Devices(folder)) as found:
        os.write(end, packed(0, 3, 0))
        assert found.changes(WAIT_S) == [Change(str(path), None, False)]


@posix
def test_a_pedal_is_found_when_it_comes_and_missed_when_it_goes(pedal) -> None:
    """Plugged in while the job runs, pulled out, plugged in again."""
    folder, path, end = pedal
    clock = iter(range(0, 100, 2))
    with closing(Devices(folder, now=lambda: next(clock))) as found:
        os.mkfifo(folder / "event9")
        other = os.open(folder / "event9", os.O_RDWR)
        os.write(other, packed(1, 57, 1))
        assert found.changes(WAIT_S) == [Change(str(folder / "event9"), 57, True)]
        os.close(other)
        assert found.changes(WAIT_S) == [Change(str(folder / "event9"), None, False, gone=True)]
        (folder / "event9").unlink()
        assert found.open == (str(path),)


@posix
def test_a_device_that_may_not_be_read_is_remembered_as_such(pedal, monkeypatch) -> None:
    """The user can be told what to do; once the right is there it is read."""
    folder, path, _ = pedal
    opened = os.open

    def refuse(*args):
        raise PermissionError

    clock = iter(range(0, 100, 2))
    monkeypatch.setattr(devices.os, "open", refuse)
    with closing(Devices(folder, now=lambda: next(clock))) as found:
        assert (found.open, found.denied) == ((), (str(path),))
        monkeypatch.setattr(devices.os, "open", opened)
        found.changes(0)
        assert (found.open, found.denied) == ((str(path),), ())


# -- keys as a job has them --------------------------------------------------------------------------------------------

class Told:
    """Collects what `Keys` tells, in order."""

    def __init__(self) -> None:
        self._all: queue.Queue = queue.Queue()
        self.notices: list[str] = []

    def keys(self, *names: str, **sources) -> Keys:
        put = self._all.put
        return Keys(lambda key: put(("down", key)), lambda key: put(("up", key)), names or None,
                    notice=self.notices.append, on_line=lambda line: put(("line", line)),
                    on_end=lambda: put(("end", "")), **sources)

    def next(self, count: int = 1) -> list[tuple[str, str]]:
        return [self._all.get(timeout=WAIT_S) for _ in range(count)]


@pytest.fixture
def keyboard():
    """A terminal of our own: (the end a person types at, the stream a program reads)."""
    import pty

    master, slave = pty.openpty()
    stream = os.fdopen(slave, "r")
    yield master, stream
    stream.close()
    try:
        os.close(master)
    except OSError:
        pass


@posix
def test_a_terminals_keys_and_lines_reach_the_job_and_it_is_left_as_it_was(keyboard, tmp_path) -> None:
    """The real thread on a real terminal: key, line, echo, and the modes afterwards."""
    import termios

    master, stream = keyboard
    before, told = termios.tcgetattr(stream), Told()
    with closing(told.keys("f9", terminal=terminal_of(stream), folder=tmp_path)):
        os.write(master, b"\x1b[20~next\n")
        assert told.next(2) == [("down", "f9"), ("line", "next")]
        echoed = b""
        while not echoed.endswith(b"\n"):
            echoed += os.read(master, 100)
        assert echoed.replace(b"\r", b"") == b"next\n"
        assert not termios.tcgetattr(stream)[3] & (termios.ECHO | termios.ICANON)
        assert told.next() == [("up", "f9")]
    assert termios.tcgetattr(stream) == before
    assert told.notices == ["Keys and pedals count while this terminal is in front."]


@posix
def test_a_terminal_that_goes_lets_go_of_its_key(keyboard, tmp_path) -> None:
    """Its window was closed: the job hears that no more lines come, and nothing stays held."""
    master, stream = keyboard
    told = Told()
    with closing(told.keys("space", terminal=terminal_of(stream), folder=tmp_path)):
        os.write(master, b" ")
        assert told.next() == [("down", "space")]
        os.close(master)
        assert told.next(2) == [("up", "space"), ("end", "")]


@pytest.mark.skipif(sys.platform != "linux", reason="input devices are Linux's")
def test_a_pedal_counts_beside_the_terminal(keyboard, pedal) -> None:
    """Held by foot, with its own release; its character in the terminal is no second press, and types nothing."""
    master, stream = keyboard
    folder, _, end = pedal
    told = Told()
    with closing(told.keys("b", terminal=terminal_of(stream), folder=folder)):
        os.write(end, packed(1, 30, 1) + packed(1, 48, 1))
        assert told.next() == [("down", "b")]
        os.write(master, b"bbbstop\n")
        assert told.next() == [("line", "stop")]
        os.write(end, packed(1, 48, 0))
        assert told.next() == [("up", "b")]
        os.write(end, packed(1, 48, 1))
        assert told.next() == [("down", "b")]
        os.close(end)
        assert told.next() == [("up", "b")]
    assert told.notices == []


@pytest.mark.skipif(sys.platform != "linux", reason="input devices are Linux's")
def test_typing_a_line_does_not_press_the_key_that_is_one_of_its_letters(keyboard, pedal) -> None:
    """With --next-key n, typing "pin one" does nothing but type."""
    master, stream = keyboard
    folder, _, end = pedal
    told = Told()
    with closing(told.keys("n", terminal=terminal_of(stream), folder=folder)) as keys:
        os.write(master, b"pi")
        while keys.line != "pi":  # the other thread has it in a moment
            assert os.read(master, 100)
        os.write(end, packed(1, 49, 1) + packed(1, 49, 0))
        os.write(master, b"n one\n")
        assert told.next() == [("line", "pin one")]


@pytest.mark.skipif(sys.platform != "linux", reason="input devices are Linux's")
def test_without_terminal_and_device_the_user_is_told_what_to_do(tmp_path, monkeypatch, pedal) -> None:
    """Nothing to read: said at once, with the group to join where that is the reason."""
    monkeypatch.setattr("sys.stdin", open(os.devnull))
    with pytest.raises(BrokenMachine, match="connect a keyboard or pedal"):
        Told().keys("f9", folder=tmp_path / "none")
    monkeypatch.setattr(devices.os, "open", lambda *args: (_ for _ in ()).throw(PermissionError()))
    with pytest.raises(BrokenMachine, match="usermod -aG input"):
        Told().keys("f9", folder=pedal[0])


@pytest.mark.skipif(sys.platform != "linux", reason="input devices are Linux's")
def test_the_command_names_what_is_pressed(pedal, monkeypatch, capsys) -> None:
    """A pedal's name is learned by pressing it; nothing pressed is a finding."""
    folder, _, end = pedal
    monkeypatch.setattr("sys.stdin", open(os.devnull))
    os.write(end, packed(1, 67, 1) + packed(1, 672, 1) + packed(1, 28, 1) + packed(1, 48, 1))
    pressed = threading.Semaphore(0)

    def after_four(on_press, **named) -> Keys:
        keys = Keys(lambda key: (on_press(key), pressed.release()), folder=folder, **named)
        assert all(pressed.acquire(timeout=WAIT_S) for _ in range(4))
        return keys

    monkeypatch.setattr("companion.edge.keys.show.Keys", after_four)
    assert main(["keys", "--seconds", "0"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "f9", "code-672", "enter: a typed line needs this key; take another",
        "b: counts only while no line is being typed"]
    monkeypatch.setattr("companion.edge.keys.show.Keys", lambda *args, **named: Keys(*args, folder=folder, **named))
    assert main(["keys", "--seconds", "0"]) == 1


def test_the_windows_console_gives_special_keys_as_one_piece(monkeypatch) -> None:
    """Two characters for a special key; an à that stands alone is a letter. The console itself is only imitated."""
    class Console:
        waiting = ["\xe0", "Q", "\x00", ";", "n", "\xe0"]

        def kbhit(self) -> bool:
            return bool(self.waiting)

        def getwch(self) -> str:
            return self.waiting.pop(0)

    monkeypatch.setitem(sys.modules, "msvcrt", Console())
    console = WindowsConsole()
    assert [console.read(0) for _ in range(5)] == ["\x00Q", "\x00;", "n", "à", ""]


def test_what_is_no_terminal_is_not_taken_for_one(tmp_path) -> None:
    """A file or a pipe gives lines, not keys."""
    (tmp_path / "answers").write_text("next\n")
    with open(tmp_path / "answers") as stream:
        assert terminal_of(stream) is None
    assert terminal_of(stream) is None, "closed"
