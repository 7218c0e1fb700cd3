"""The keys of a terminal: a line that is typed, and watched keys between lines. Pure: time is an argument.

A terminal tells that a key went down, never that it came up; while it is held the keyboard repeats it. So a key counts
as held until it has not come for `HOLD_S`, which must outlast the wait before the first repeat: 0.66 s on X11, 0.25 to
1 s on Windows (defaults and range, from memory).

A watched key that writes a character (a letter, a digit, a space) counts only while no line has been begun; otherwise
it belongs to the line. A line that begins with such a character is typed after a blank. So that a keyboard that was
leaned on never leaves a pedal dead, an unfinished line is dropped after `LINE_S`.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterable, Iterator, Optional, Union

from companion.edge.keys.names import pieces, writes

HOLD_S = 1.1
LINE_S = 15.0
_MOST = 500
_ERASE = "\b \b"


@dataclass(frozen=True)
class Pressed:
    """A watched key went down."""

    key: str


@dataclass(frozen=True)
class Released:
    """A watched key came up."""

    key: str


@dataclass(frozen=True)
class Typed:
    """Enter was pressed."""

    line: str


@dataclass(frozen=True)
class Echoed:
    """To be written where the cursor is."""

    text: str


@dataclass(frozen=True)
class Ended:
    """The end of the lines was typed (Ctrl-D)."""


Act = Union[Pressed, Released, Typed, Echoed, Ended]


class Line:
    """Fed with what a terminal gives. `keys` are watched; None watches every key and types no line."""

    def __init__(self, keys: Optional[Iterable[str]]) -> None:
        self._keys = None if keys is None else frozenset(keys)
        self._rest = ""
        self._last: dict[str, float] = {}
        self._typed_at = 0.0
        self.text = ""
        """What has been typed of a line."""

    def feed(self, text: str, now: float) -> list[Act]:
        """What these characters do; `now` in seconds of any clock that never steps back."""
        acts = self.idle(now)
        found, self._rest = pieces(self._rest + text)
        for name, sent in found:
            acts += self._take(name, sent, now)
        return acts

    def idle(self, now: float) -> list[Act]:
        """What time alone brings: keys that have not come again, a line that was left."""
        up = [key for key, last in self._last.items() if now - last >= HOLD_S]
        for key in up:
            del self._last[key]
        acts: list[Act] = [Released(key) for key in up]
        if self.text and self._keys is not None and any(map(writes, self._keys)) and now - self._typed_at >= LINE_S:
            acts.append(self._dropped())
        return acts

    def _take(self, name: str, sent: str, now: float) -> Iterator[Act]:
        if self._watched(name):
            if name not in self._last:
                yield Pressed(name)
            self._last[name] = now
        elif self._keys is not None:
            self._typed_at = now
            yield from self._edit(sent)

    def _watched(self, name: str) -> bool:
        if self._keys is None:
            return name != ""
        return name in self._keys and not (self.text and writes(name))

    def _edit(self, sent: str) -> Iterator[Act]:
        if sent in ("\r", "\n"):
            line, self.text = self.text, ""
            yield from (Echoed("\n"), Typed(line))
        elif sent in ("\x7f", "\b") and self.text:
            self.text = self.text[:-1]
            yield Echoed(_ERASE)
        elif sent == "\x15" and self.text:
            yield self._dropped()
        elif sent in ("\x04", "\x1a") and not self.text:
            yield Ended()
        elif len(sent) == 1 and sent.isprintable() and len(self.text) < _MOST:
            self.text += sent
            yield Echoed(sent)

    def _dropped(self) -> Echoed:
        erased, self.text = len(self.text), ""
        return Echoed(_ERASE * erased)
