"""Text copied from a scan tool's raw screen, cut into whole replies: byte strings that begin with a service.

Read are bare replies ("43 02 02 63 03 01"), replies behind a CAN sender and an ISO 15765-2 length ("7E8 06 43 02 …", or
"18 DA F1 10 06 43 …"), and long replies in several frames, with senders ("10 14 …", "21 …") or in numbered rows ("014",
"0: …", "1: …"); spaces do not matter. Prompts, echoed requests, settings ("AT …") and "searching" are passed over.
Senders 7E8 to 7EF and 18DAF1xx, and the frame kinds: from memory; checked on replies built by the tests.
"""
from __future__ import annotations

import re
from dataclasses import dataclass

from companion.errors import BadInput

_MOST_CHARACTERS = 20_000
_MURMUR = re.compile(r"^(?:(?:SEARCHING|BUS INIT)[:. ]*(?:OK)?|OK$|AT ?[A-Z].*)")
_ROW = re.compile(r"([0-9A-F]):(.*)")
_LENGTH_LINE = re.compile(r"0[0-9A-F]{2}")
_REQUEST = re.compile(r"0[1-9A][0-9A-F]{0,5}")
_SENDER = re.compile(r"(7[0-9A-F]{2})((?:[0-9A-F]{2})*)|(18D[AB][0-9A-F]{4})((?:[0-9A-F]{2})*)")
_CONTROLLER = re.compile(r"7E[89A-F]|18DAF1[0-9A-F]{2}")
_TESTER = re.compile(r"7DF|7E[0-7]|18DB33F1|18DA[0-9A-F]{2}F1")
_SINGLE, _FIRST, _NEXT, _FLOW = range(4)


@dataclass(frozen=True)
class Reply:
    """One whole reply."""

    data: bytes
    """Service byte first; never empty."""
    framed: bool
    """Whether it surely came over CAN: behind a sender, or in numbered rows."""


@dataclass
class _Part:
    """A long reply of which frames are still missing."""

    length: int
    data: bytes
    index: int


class _Screen:
    """The replies found so far, and what is still open."""

    def __init__(self) -> None:
        self.whole: list[Reply] = []
        self.parts: dict[str, _Part] = {}
        self.length = 0

    def read(self, where: str, line: str) -> None:
        """One line, upper case, without prompt and spaces. Raises BadInput, naming `where`."""
        row, sender = _ROW.fullmatch(line), _SENDER.fullmatch(line)
        if row:
            self._row(where, int(row[1], 16), _bytes(where, row[2]))
        elif _LENGTH_LINE.fullmatch(line):
            self.length = int(line, 16)
        elif _REQUEST.fullmatch(line):
            return
        elif sender and (sender[3] or len(line) % 2):
            self._frame(where, sender[1] or sender[3], bytes.fromhex(sender[2] or sender[4] or ""))
        else:
            self.whole.append(Reply(_bytes(where, line), False))

    def _row(self, where: str, index: int, data: bytes) -> None:
        if index == 0 and "" not in self.parts:
            if not self.length:
                raise BadInput(where, "must follow a line with its length, such as 014", "none", "Copy that line too")
            self._open("", where, self.length, data)
            self.length = 0
        else:
            self._extend("", where, index, data)

    def _frame(self, where: str, sender: str, data: bytes) -> None:
        if _TESTER.fullmatch(sender):
            return
        if not _CONTROLLER.fullmatch(sender):
            raise BadInput(where, "must come from a controller, 7E8 to 7EF or 18DAF1", sender)
        kind, low = (data[0] >> 4, data[0] & 15) if data else (None, 0)
        if kind == _SINGLE and 1 <= low < len(data):
            self.whole.append(Reply(data[1:1 + low], True))
        elif kind == _FIRST and len(data) > 2:
            self._open(sender, where, low << 8 | data[1], data[2:])
        elif kind == _NEXT:
            self._extend(sender, where, low, data[1:])
        elif kind != _FLOW:
            raise BadInput(where, "must hold a length and that many bytes after the sender", data.hex(" ") or "nothing")

    def _open(self, sender: str, where: str, length: int, data: bytes) -> None:
        if sender in self.parts:
            raise BadInput(where, "must follow the end of the reply before it", "a new reply", "Copy all its lines")
        if not length:
            raise BadInput(where, "must give the length of the reply", "0")
        self.parts[sender] = _Part(length, data, 0)
        self._close(sender)

    def _extend(self, sender: str, where: str, index: int, data: bytes) -> None:
        part = self.parts.get(sender)
        if part is None or index != (part.index + 1) % 16:
            must = f"frame {(part.index + 1) % 16:X}" if part else "a first frame"
            raise BadInput(where, f"must be {must}", f"frame {index:X}", "Copy every line, in order")
        part.data, part.index = part.data + data, index
        self._close(sender)

    def _close(self, sender: str) -> None:
        """Take a reply that is whole; what stands behind its length is padding."""
        part = self.parts[sender]
        if len(part.data) >= part.length:
            self.whole.append(Reply(part.data[:part.length], True))
            del self.parts[sender]


def replies(text: str) -> tuple[Reply, ...]:
    """Every whole reply in `text`, in the order in which they end.

    Raises BadInput, naming the line, for a line that is no reply, a frame missing or out of order, or no reply at all.
    """
    if len(text) > _MOST_CHARACTERS:
        raise BadInput("reply", f"must have at most {_MOST_CHARACTERS} characters", f"{len(text)}")
    screen = _Screen()
    for number, line in enumerate(text.upper().splitlines(), 1):
        for piece in line.split(">"):
            said = "".join(_MURMUR.sub("", piece.strip(), count=1).split())
            if said:
                screen.read(f"line {number}", said)
    for part in screen.parts.values():
        raise BadInput("reply", f"must have {part.length} bytes", f"{len(part.data)}", "Copy every line, to the end")
    if not screen.whole:
        raise BadInput("reply", "must hold at least one line from a controller", repr(text[:40]))
    return tuple(screen.whole)


def _bytes(where: str, line: str) -> bytes:
    if not re.fullmatch(r"(?:[0-9A-F]{2})+", line):
        do = "The controller gave no reply. Turn the key on and ask again" if line == "NODATA" else "Copy it again"
        raise BadInput(where, "must be pairs of 0 to 9 and A to F", repr(line[:40]), do)
    return bytes.fromhex(line)
