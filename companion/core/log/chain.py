"""A log as a chain: every rule for a line that needs nothing but what came before it.

`Chain` is the one fold behind the live job, which adds lines to it, and behind `verify`, the record and the office,
which give it the lines of a file. So what is written is checked by the very rules it will be read by.
"""
from __future__ import annotations

import hashlib
import re
from typing import Any, Callable, Iterable, Iterator, Mapping, Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.codec import decode, encode, is_hidden, name_of, vocabulary
from companion.core.events import Event
from companion.core.log.journal import (
    FIRST, FORMATS, LONGEST, SAFE_WHOLE, Entry, Sealed, as_written, digest, dump, public_key, seal_holds, sign)
from companion.core.log.rfc3339 import is_stamp
from companion.errors import BadEvidence, BadInput

_NAMES = ("at", "data", "event", "n", "prev", "step", "up")
_TYPES = (str, dict, str, int, str, str, int)
_KEY = re.compile("[0-9a-f]{64}")
_TEXTS = {str, bool}
_MOST_STARTS = 10_000
"""Each is remembered."""
_ZEROS = ("; it holds zeros, as a power cut leaves them of what was never acknowledged: if it is that, resuming the job cuts them "
          "off")
_SIGNATURE = re.compile("[0-9a-f]{128}")


class BadLine(BadEvidence):
    """A line of a log does not hold. `line` counts from 1, as an editor does; `why` says what must hold there.

    `since` is the first line that may be bad, where that is not the same.
    """

    def __init__(self, where: str, line: int, must: str, found: str = "", since: int = 0) -> None:
        self.line, self.since = line, since or line
        self.why = must + (f", not {found}" if found else "")
        super().__init__(f"{where}:{line}", must, found)


class BadLink(BadLine):
    """A line's `prev` is not the hash of the line before: one of the two is not as it was written."""


class Chain:
    """What the lines so far commit the next one to. Lines come in by `take` (read) or by `add` and `seal` (written)."""

    def __init__(self, where: str = "log") -> None:
        self.where = where
        self.n = 0
        """Lines so far, and so the `n` of the next."""
        self.prev = FIRST
        """Hash of the last line, and so the `prev` of the next."""
        self.last: dict[str, Any] = {}
        """The last line."""
        self.opened: dict[str, Any] = {}
        """`data` of line 0: key, boot, card and the rest."""
        self.sealed: dict[str, Any] = {}
        """The last `sealed` line."""
        self.size = 0
        """Bytes so far."""
        self.finished = False
        """Whether the job's end is sealed."""
        self.torn = b""
        """An unfinished last line: never acknowledged, no part of the chain."""
        self._boot = ""
        self._ups: dict[str, int] = {}

    def copy(self) -> Chain:
        """A chain of its own, to try lines on."""
        other = Chain.__new__(Chain)
        other.__dict__.update(self.__dict__, _ups=dict(self._ups))
        return other

    def take(self, piece: bytes) -> Optional[dict[str, Any]]:
        """Check and append a line as read from a file, newline and all; the object on it.

        None, and `torn` is set, where the newline is missing: such a piece can only be the last. Raises BadLine.
        """
        self._must_be_open()
        if not piece.endswith(b"\n"):
            if len(piece) > LONGEST:
                raise self._bad(f"must be at most {LONGEST} bytes long")
            self.torn = piece
            return None
        try:
            line = as_written(piece)
        except ValueError as error:
            raise self._bad(f"{error}{_ZEROS if bytes(1) in piece else ''}") from None
        self._append(line, piece)
        return line

    def add(self, event: Event, at: str, up: int, salt: Callable[[], bytes]) -> tuple[bytes, list[dict[str, str]]]:
        """Append `event`: its line, and the sidecar entries of what is personal in it. Raises BadInput, BadLine."""
        data, beside = encode(event, salt)
        line = self._next(name_of(type(event)), event.step, data, at, up)
        written = dump(line)
        self._append(line, written)
        return written, beside

    def seal(self, key: Ed25519PrivateKey) -> tuple[bytes, Sealed]:
        """Append the `sealed` line that vouches for everything so far; it shares step and time with the last line."""
        last = self.last
        line = self._next("sealed", last["step"], {}, last["at"], last["up"])
        line["data"] = {"sig": sign(line, key)}
        written = dump(line)
        self._append(line, written)
        return written, Sealed(step=line["step"], sig=line["data"]["sig"])

    def seal_holds(self) -> bool:
        """Whether the last seal holds: then so does every line up to it. True where there is none yet."""
        return not self.sealed or seal_holds(self.sealed, self.opened["key"])

    def unsealed(self) -> int:
        """Lines after the last seal, for which only the chain speaks."""
        return self.n - (self.sealed["n"] + 1 if self.sealed else 0)

    def _must_be_open(self) -> None:
        if self.finished:
            raise self._bad("nothing may follow the closing seal")

    def _next(self, event: str, step: str, data: dict[str, Any], at: str, up: int) -> dict[str, Any]:
        self._must_be_open()
        return {"at": at, "data": data, "event": event, "n": self.n, "prev": self.prev, "step": step, "up": up}

    def _append(self, line: dict[str, Any], piece: bytes) -> None:
        if tuple(line) != _NAMES or tuple(map(type, line.values())) != _TYPES:
            raise self._bad("must have at, event, step and prev as text, n and up as whole numbers, data as an object")
        at, data, event, n, prev, _, up = line.values()
        if n != self.n:
            raise self._bad(f"n must be {self.n}", f"{n}: a line was dropped, repeated, moved or put in")
        if prev != self.prev:
            if not n:
                raise self._bad("prev must be 64 zeros in the first line")
            raise BadLink(self.where, n + 1, "prev must be the SHA-256 of the line before")
        self._check_data(data)
        self._check_order(event, data)
        boot = self._check_time(at, up, event, data)
        if event == "job_opened":
            self.opened = data
        elif event == "sealed":
            self.sealed, self.finished = line, self.last["event"] == "job_ended"
        self._boot, self._ups[boot] = boot, up
        self.prev, self.last, self.n, self.size = digest(piece), line, n + 1, self.size + len(piece)

    def _check_data(self, data: dict[str, Any]) -> None:
        if not _TEXTS.issuperset(map(type, data.values())) and not all(map(_is_plain, data.values())):
            raise self._bad("data must hold text, whole numbers to 2^53 - 1, true, false, lists of text, and hashes")
        if not "".join(data).isascii():
            raise self._bad("data must have ASCII names")

    def _check_order(self, event: str, data: dict[str, Any]) -> None:
        """What may follow what."""
        if (event == "job_opened") != (self.n == 0):
            raise self._bad("the first line, and no other, must be job_opened", ascii(event[:40]))
        if event == "job_opened":
            self._check_opening(data)
        elif event == "sealed":
            if data.keys() != {"sig"} or not _matches(_SIGNATURE, data["sig"]):
                raise self._bad("sig must be 128 lower-case hex digits, alone in data")
        elif self.last["event"] == "job_ended":
            raise self._bad("the job's end must be followed by its seal", ascii(event[:40]))

    def _check_opening(self, data: dict[str, Any]) -> None:
        if type(data.get("format")) is not int or data["format"] not in FORMATS:
            known = " or ".join(map(str, FORMATS))
            raise self._bad(f"format must be {known}, which this program reads", ascii(data.get("format"))[:40])
        if not _matches(_KEY, data.get("key")):
            raise self._bad("key must be 64 lower-case hex digits")
        try:
            public_key(data["key"])
        except ValueError as error:
            raise self._bad("key must be one that only its device can sign with", str(error)) from None
        if type(data.get("card_text")) is not str:
            raise self._bad("card_text must hold the job card")
        if data.get("card_sha256") != hashlib.sha256(data["card_text"].encode("utf-8")).hexdigest():
            raise self._bad("card_sha256 must be the SHA-256 of card_text")

    def _check_time(self, at: str, up: int, event: str, data: dict[str, Any]) -> str:
        """`at` must be a time; `up` must never step back between two starts of the machine. The start's name."""
        boot = self._boot
        if event in ("job_opened", "job_resumed"):
            boot = data.get("boot")
            if type(boot) is not str or not boot:
                raise self._bad("boot must name the start of the machine that up counts from")
        if at != self.last.get("at") and not is_stamp(at):
            raise self._bad("at must be a UTC time with milliseconds (RFC 3339)", ascii(at[:40]))
        if boot not in self._ups and len(self._ups) >= _MOST_STARTS:
            raise self._bad(f"a log must not tell of more than {_MOST_STARTS:,} starts of the machine")
        least = self._ups.get(boot, 0)
        if not least <= up <= SAFE_WHOLE:
            raise self._bad(f"up must be at least {least} and at most 2^53 - 1", str(up))
        return boot

    def _bad(self, must: str, found: str = "") -> BadLine:
        return BadLine(self.where, self.n + 1, must, found)


def replay(pieces: Iterable[bytes], beside: Mapping[str, str], chain: Chain) -> Iterator[Entry]:
    """The entries of a log, each checked against `chain`, which is left where the log ends.

    `pieces` are lines with their newlines; an unfinished last one is kept in `chain.torn`. `beside` maps the hash of a
    personal text to the text. Raises BadLine at the first bad line; BadInput where an event is not known here.
    """
    known = vocabulary()
    for piece in pieces:
        line = chain.take(piece)
        if line is not None:
            yield entry_of(line, known, beside, chain.where)


def entry_of(line: dict[str, Any], known: Mapping[str, type[Event]], beside: Mapping[str, str], where: str = "log") -> Entry:
    """The entry on a line that was taken. Raises BadInput where its event is not `known`, or not whole."""
    kind = known.get(line["event"])
    if kind is None:
        raise BadInput(f"{where}:{line['n'] + 1}", "must be an event this program knows", ascii(line["event"][:40]),
                       "Use a newer program")
    try:
        return Entry(line["n"], line["at"], line["up"], decode(kind, line["step"], line["data"], beside))
    except ValueError as error:
        raise BadInput(f"{where}:{line['n'] + 1}", f"must be a whole {name_of(kind)}: {error}", do="Use a newer program") from None


def _is_plain(value: Any) -> bool:
    kind = type(value)
    if kind is str or kind is bool or kind is int and abs(value) <= SAFE_WHOLE:
        return True
    if kind is list:
        return all(type(part) is str for part in value)
    return kind is dict and is_hidden(value)


def _matches(form: re.Pattern[str], value: Any) -> bool:
    return type(value) is str and bool(form.fullmatch(value))
