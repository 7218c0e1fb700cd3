"""The names of keys: what a keyboard gives the kernel for each, and what a terminal gives a program.

Codes: Linux, `input-event-codes.h` (seen); they name the place of a key on a US keyboard. Sequences of terminals: DEC
VT220, the X terminals and the Linux console; of the Windows console: the second character of a special key (all from
memory). What a terminal cannot send, such as most keys above F12, is read from input devices only.
"""
from __future__ import annotations

import re

from companion.errors import BadInput

_ROWS = ((2, "1234567890"), (16, "qwertyuiop"), (30, "asdfghjkl"), (44, "zxcvbnm"))
_CODES = {key: first + place for first, keys in _ROWS for place, key in enumerate(keys)}
_CODES |= {"space": 57, "tab": 15, "insert": 110, "delete": 111, "home": 102, "end": 107, "pageup": 104,
           "pagedown": 109, "up": 103, "down": 108, "left": 105, "right": 106, "volumeup": 115,
           "volumedown": 114, "mute": 113, "playpause": 164, "nextsong": 163, "previoussong": 165}
_CODES |= {f"f{number}": 58 + number for number in range(1, 11)} | {"f11": 87, "f12": 88}
_CODES |= {f"f{number}": 170 + number for number in range(13, 25)}
_EDITING = {28: "enter", 96: "enter", 14: "backspace"}
_NAMES = {**{code: name for name, code in _CODES.items()}, **_EDITING}
_MOST_CODE = 0x2FF

#: Every name of a key that may be watched; "code-N" with another number of the kernel may be, too.
KEYS: tuple[str, ...] = tuple(_CODES)

# After ESC. The X terminals send "O" or "[" before a letter, as their modes are.
_SENT = {"up": "[A OA", "down": "[B OB", "right": "[C OC", "left": "[D OD", "home": "[H OH [1~ [7~",
         "end": "[F OF [4~ [8~", "insert": "[2~", "delete": "[3~", "pageup": "[5~", "pagedown": "[6~",
         "f1": "OP [11~ [[A", "f2": "OQ [12~ [[B", "f3": "OR [13~ [[C", "f4": "OS [14~ [[D", "f5": "[15~ [[E"}
_FROM_F6 = (17, 18, 19, 20, 21, 23, 24, 25, 26, 28, 29, 31, 32, 33, 34)
_SENT |= {f"f{number}": f"[{sent}~" for number, sent in enumerate(_FROM_F6, 6)}
_WINDOWS = {**{f"f{number}": chr(58 + number) for number in range(1, 11)}, "f11": "\x85", "f12": "\x86",
            "home": "G", "up": "H", "pageup": "I", "left": "K", "right": "M", "end": "O", "down": "P",
            "pagedown": "Q", "insert": "R", "delete": "S"}
_SEQUENCES = {"\x1b" + sent: name for name, ways in _SENT.items() for sent in ways.split()}
_SEQUENCES |= {"\x00" + sent: name for name, sent in _WINDOWS.items()}
_SEQUENCES |= {" ": "space", "\t": "tab", "\r": "enter", "\n": "enter", "\b": "backspace", "\x7f": "backspace"}

_PIECE = re.compile(r"\x1b(?:\[\[.|\[[0-?]*[ -/]*[@-~]|O.)|\x00.|.", re.DOTALL)
_UNFINISHED = re.compile(r"(?:\x1b(?:\[\[?|\[[0-?]*[ -/]*|O)?|\x00)\Z")


def check_key(name: str, option: str) -> str:
    """A name of `KEYS`, or "code-N", in the form it is watched by. Raises BadInput naming `option`."""
    asked = name.strip().lower()
    number = re.fullmatch(r"code-([0-9]{1,3})", asked)
    if number and 0 < int(number[1]) <= _MOST_CODE:
        asked = name_of_code(int(number[1]))
    elif asked not in (*KEYS, *_EDITING.values()):
        raise BadInput(option, f"must be one of {_listed()}", f'"{name}"', do='"companion keys" names the key pressed')
    if asked in _EDITING.values():
        raise BadInput(option, "must be a key that no typed line needs", f'"{name}"', do="Take another key")
    return asked


def _listed() -> str:
    others = (name for name in KEYS if len(name) > 1 and not re.fullmatch(r"f[0-9]+", name))
    return f"a to z, 0 to 9, f1 to f24, {', '.join(others)}, or code-N"


def name_of_code(code: int) -> str:
    """What a key of an input device is called."""
    return _NAMES.get(code, f"code-{code}")


def writes(key: str) -> bool:
    """Whether the key also writes a character: a letter, a digit or a space."""
    return len(key) == 1 or key == "space"


def pieces(text: str) -> tuple[list[tuple[str, str]], str]:
    """What a terminal sent, key by key: its name ("" where it has none) and its characters. Then what may be the
    beginning of a sequence whose rest is still to come."""
    unfinished = _UNFINISHED.search(text)
    rest = unfinished[0] if unfinished else ""
    found = _PIECE.findall(text[:len(text) - len(rest)])
    return [(_name_of_sent(sent), sent) for sent in found], rest


def _name_of_sent(sent: str) -> str:
    if len(sent) == 1 and sent.isascii() and sent.isalnum():
        return sent.lower()
    return _SEQUENCES.get(sent, "")
