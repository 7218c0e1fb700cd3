"""Whether a log holds: which line is the first bad one, what is wrong with it, and what could not be checked.

One seal that holds vouches for every byte before it, so only the last one is checked as a rule; a signature costs as
much as reading a dozen lines. Where that one fails, or a line is bad, the seals before it say how far the log is good.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Callable, Container, Iterable, Optional

from companion.core.log.chain import BadLine, BadLink, Chain
from companion.core.log.closing import closing_seal
from companion.core.log.journal import FORMAT, digest, parse, seal_holds

_MOST_SOUNDS, _LONGEST_NAME = 50_000, 255
"""They are remembered while a log of any length is read; a day with every answer's sound kept has a tenth."""


@dataclass(frozen=True)
class Memo:
    """What a log says of the sound file of a memo or a clip; unchecked, as any other data of a line."""

    line: int
    """From 1."""
    file: Any
    sha256: Any


@dataclass(frozen=True)
class Report:
    """What was found in one log."""

    where: str
    bad: Optional[BadLine]
    """The first bad line; None where every whole line holds."""
    entries: int
    """Lines that hold, from the first."""
    vouched: int
    """Those of them that a seal vouches for; for what comes after, only the chain speaks."""
    seals: int
    finished: bool
    format: int
    """The log's own."""
    last: str
    """SHA-256, hex, of a finished log's last line, else ""."""
    key: str
    """Public key of the device, hex: what the first line says, which only a seal confirms."""
    began: str
    ended: str
    """Times of the first and the last line that can be read, RFC 3339, by the device's clock; "" where there is none."""
    torn: int
    """Bytes of an unfinished last line."""
    clock_steps: tuple[int, ...]
    """Lines (from 1) at which the time of day had stepped back; the first hundred."""
    personal: tuple[int, int]
    """How many personal texts the sidecar holds, and how many it does not."""
    memos: tuple[Memo, ...] = ()
    """In the lines that hold."""
    kept: tuple[Any, ...] = ()
    """What `keep` made of each line that holds."""
    tail: str = ""
    """SHA-256, hex, of the last whole line, finished or not; "" where a line is bad, or there is none."""

    @property
    def holds(self) -> bool:
        """Whether nothing is wrong: no bad line and no unfinished one. An unfinished job may hold."""
        return self.bad is None and not self.torn

    @property
    def closing_seal(self) -> str:
        """Of a finished log, else "". A tenth of a second."""
        return closing_seal(self.last, self.format) if self.last else ""


def examine(read: Callable[[], Iterable[bytes]], where: str = "log", beside: Container[str] = (),
            keep: Optional[Callable[[dict[str, Any]], Any]] = None) -> Report:
    """The report on a log.

    `read` gives its lines from the start, newlines kept, and may be called twice; `beside` holds the hashes whose texts
    the sidecar has. `keep`: what is to be kept of each line, so that whoever needs more does not read them again.
    """
    first = _Reading(where, beside, keep)
    first.go(read(), every_seal=False)
    if first.chain.seal_holds():
        return first.report()
    again = _Reading(where, beside, keep)
    again.go(read(), every_seal=True)
    return again.report()


class _Reading:
    """One pass over a log."""

    def __init__(self, where: str, beside: Container[str], keep: Optional[Callable[[dict[str, Any]], Any]]) -> None:
        self.chain, self.beside, self.keep = Chain(where), beside, keep
        self.kept: list[Any] = []
        self.bad: Optional[BadLine] = None
        self.seals = self.good = self.present = self.absent = 0
        self.clock_steps: list[int] = []
        self.memos: list[Memo] = []
        self.began = self.at = ""

    def go(self, pieces: Iterable[bytes], every_seal: bool) -> None:
        pieces = iter(pieces)
        piece = b""
        try:
            for piece in pieces:
                line = self.chain.take(piece)
                if line is not None:
                    self.note(line)
                    if every_seal and line["event"] == "sealed":
                        self.check_seal()
            if not self.chain.n and not self.chain.torn:
                raise BadLine(self.chain.where, 1, "the first line must be job_opened", "an empty file")
        except BadLine as error:
            self.bad = _earlier(self.chain, error, piece, next(pieces, b"")) or error

    def note(self, line: dict[str, Any]) -> None:
        if self.keep:
            self.kept.append(self.keep(line))
        if line["at"] < self.at and len(self.clock_steps) < 100:
            self.clock_steps.append(self.chain.n)
        self.at = line["at"]
        self.began = self.began or self.at
        if line["event"] == "sealed":
            self.seals += 1
        elif line["event"] in ("memo_kept", "clip_kept"):
            self.note_sound(line["data"])
        if dict in map(type, line["data"].values()):
            self.note_personal(line["data"])

    def note_sound(self, data: dict[str, Any]) -> None:
        if len(self.memos) == _MOST_SOUNDS:
            raise BadLine(self.chain.where, self.chain.n, f"a log must not name more than {_MOST_SOUNDS:,} sound files")
        named = (value if type(value) is str and len(value) <= _LONGEST_NAME else None for value in map(data.get, ("file", "sha256")))
        self.memos.append(Memo(self.chain.n, *named))

    def note_personal(self, data: dict[str, Any]) -> None:
        there = [value["sha256"] in self.beside for value in data.values() if type(value) is dict]
        self.present += sum(there)
        self.absent += len(there) - sum(there)

    def check_seal(self) -> None:
        n = self.chain.n
        if not self.chain.seal_holds():
            since = f"something since line {self.good + 1}" if self.good + 1 < n else "the line"
            raise BadLine(self.chain.where, n, f"the seal must hold; {since} is not what this device wrote",
                          since=self.good + 1)
        self.good = n

    def report(self) -> Report:
        chain = self.chain
        finished = chain.finished and self.bad is None
        good = self.bad.since - 1 if self.bad else chain.n
        return Report(chain.where, self.bad, good, min(good, chain.n - chain.unsealed()), self.seals, finished,
                      chain.opened.get("format", FORMAT), chain.prev if finished else "", chain.opened.get("key", ""),
                      self.began, self.at, len(chain.torn), tuple(self.clock_steps), (self.present, self.absent),
                      tuple(memo for memo in self.memos if memo.line <= good), tuple(self.kept[:good]),
                      chain.prev if chain.n and not self.bad else "")


def _earlier(chain: Chain, error: BadLine, piece: bytes, follower: bytes) -> Optional[BadLine]:
    """Where the line `piece` does not fit: whether the line before it is the bad one. None blames `piece`.

    The line before is, if something vouches for `piece`: its own seal, or the line that follows it; unless something
    vouches for the line before itself.
    """
    line, after = _object(piece), _object(follower).get("prev")
    takes_its_place = chain.n and (line.get("n"), line.get("prev")) == (chain.n - 1, chain.last["prev"])
    if not (isinstance(error, BadLink) or takes_its_place and digest(piece) != chain.prev):
        return None
    if after == chain.prev or chain.sealed is chain.last and chain.seal_holds():
        return None
    if after == digest(piece) or seal_holds(line, chain.opened["key"]):
        return BadLine(chain.where, chain.n, f"must be as it was when line {chain.n + 1} was written"
                       + ("; it was put in before it" if takes_its_place else " after it"))
    return None


def _object(piece: bytes) -> dict[str, Any]:
    """The object on a line, {} where there is none."""
    try:
        return parse(piece)
    except ValueError:
        return {}
