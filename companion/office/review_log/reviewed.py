"""What the office's log says as a whole: the register of cards, and the sign-offs, hold points and replies of jobs."""
from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import Any, Iterable, Mapping, Optional

from companion.core.log.chain import BadLine
from companion.core.log.journal import FIRST
from companion.office.review_log.facts import CardApproved, CardWithdrawn, FindingAnswered, HoldSignedOff, JobSignedOff
from companion.office.review_log.lines import Lines, Signed
from companion.office.trusted import Standing, Trusted


@dataclass(frozen=True)
class CardMark:
    """One approval or withdrawal of one text of a card."""

    at: str
    """RFC 3339, UTC, milliseconds."""
    approved: bool
    """Withdrawn where it is not."""
    version: str
    sha256: str
    by: str
    reason: str


@dataclass(frozen=True)
class Reviewed:
    """The state that the lines which hold lead to."""

    entries: tuple[Signed, ...] = ()
    """Every line that holds, in order."""
    register: Mapping[str, tuple[CardMark, ...]] = field(default_factory=dict)
    """Card id to its approvals and withdrawals, in the order of the log: what was written later counts, whatever the
    machines' clocks say."""
    sign_offs: Mapping[str, tuple[Signed, ...]] = field(default_factory=dict)
    """Log to its sign-offs (`JobSignedOff`)."""
    holds: Mapping[tuple[str, str], tuple[Signed, ...]] = field(default_factory=dict)
    """Log and step to the sign-offs of that hold point (`HoldSignedOff`)."""
    replies: Mapping[str, tuple[Signed, ...]] = field(default_factory=dict)
    """Log to the replies to its findings (`FindingAnswered`)."""
    broken: int = 0
    """The first line that does not hold, counted from 1; neither it nor what follows counts. 0: every line holds."""
    why: str = ""
    """What is wrong with that line."""
    torn: int = 0
    """Bytes of an unfinished last line, which was never acknowledged and is cut off by the next entry."""
    last: str = FIRST
    """SHA-256 of the last line that holds."""
    trusted: Optional[Trusted] = None
    """The list of trusted keys beside the log; None where the office keeps none, and so every key counts."""
    uncounted: Mapping[int, str] = field(default_factory=dict)
    """Lines (by their `n`) that count for nothing, since their key does not; each with how it stands."""
    hashes: tuple[str, ...] = ()
    """SHA-256, hex, of every line that holds."""
    doubts: tuple[str, ...] = ()
    """What is missing of the log, or changed about it, since this machine saw it; see `seen`. Each a sentence without its
    full stop."""

    @property
    def sound(self) -> bool:
        """Whether something may be added: every line holds, and nothing is in doubt."""
        return not self.broken and not self.doubts

    def judged_by(self, trusted: Optional[Trusted]) -> Reviewed:
        """With only those lines counted whose keys are on the list, on the day of the line. A revoked key does not count
        any more once another machine has written on a day after it, whatever day it tells itself."""
        uncounted: dict[int, str] = {}
        latest = ""
        for entry in self.entries if trusted else ():
            stands = trusted.standing(entry.key, entry.at, max(latest, entry.at))
            if stands.fine:
                latest = max(latest, entry.at)
            else:
                uncounted[entry.n] = f"the key is {stands.said}"
        counted = [entry for entry in self.entries if entry.n not in uncounted]
        return replace(self, trusted=trusted, uncounted=uncounted, **_told(counted))

    def standing(self, key: str, at: str) -> Optional[Standing]:
        """How a key would stand for the next line, written at that time; None where every key counts."""
        latest = max((entry.at for entry in self.entries if entry.n not in self.uncounted), default="")
        return self.trusted.standing(key, at, max(latest, at)) if self.trusted else None

    def signed_off(self, log: str, *seals: str) -> Optional[Signed]:
        """The last sign-off of this very log, known by the SHA-256 of its last line or its closing seal."""
        return next((entry for entry in reversed(self.sign_offs.get(log, ())) if entry.fact.seal in seals), None)

    def hold_signed(self, log: str, step: str, mark: str) -> Optional[Signed]:
        """The first sign-off of a hold point; `mark`: the SHA-256 of the line on which it was released."""
        return next((entry for entry in self.holds.get((log, step), ()) if entry.fact.seal in ("", mark)), None)

    def replies_to(self, log: str, finding: str, lines: tuple[int, ...], mark: str) -> tuple[Signed, ...]:
        """The replies to one finding, in order; `mark`: the SHA-256 of the last of its lines, or of the log's last line."""
        return tuple(entry for entry in self.replies.get(log, ())
                     if (entry.fact.finding, entry.fact.lines) == (finding, lines) and entry.fact.seal in ("", mark))

    def grown(self, entry: Signed, last: str) -> Reviewed:
        """With one entry more, whose line has the SHA-256 `last`."""
        grown = replace(self, entries=(*self.entries, entry), hashes=(*self.hashes, last), torn=0, last=last)
        return grown.judged_by(self.trusted)

    @property
    def keys(self) -> dict[str, int]:
        """Each machine's public key, and how many lines it signed."""
        counted: dict[str, int] = {}
        for entry in self.entries:
            counted[entry.key] = counted.get(entry.key, 0) + 1
        return counted


def reviewed(pieces: Iterable[bytes], where: str = "the office's log") -> Reviewed:
    """What a log says, from its lines with their newlines. A line that does not hold ends the reading."""
    return read_into(Lines(where), pieces)


def read_into(lines: Lines, pieces: Iterable[bytes]) -> Reviewed:
    """As `reviewed`; `lines` is left where the lines that hold end."""
    entries, hashes, wrong = [], [], None
    try:
        for piece in pieces:
            entry = lines.take(piece)
            if entry:
                entries.append(entry)
                hashes.append(lines.prev)
    except BadLine as error:
        wrong = error
    return Reviewed(tuple(entries), **_told(entries), broken=wrong.line if wrong else 0, why=wrong.why if wrong else "",
                    torn=len(lines.torn), last=lines.prev, hashes=tuple(hashes))


def _told(entries: list[Signed]) -> dict[str, Any]:
    """The entries sorted by what they are about."""
    cards, jobs, holds, replies = (defaultdict(list) for _ in range(4))
    for entry in entries:
        fact = entry.fact
        if isinstance(fact, (CardApproved, CardWithdrawn)):
            mark = CardMark(entry.at, isinstance(fact, CardApproved), fact.version, fact.sha256, fact.by, fact.reason)
            cards[fact.card].append(mark)
        elif isinstance(fact, JobSignedOff):
            jobs[fact.log].append(entry)
        elif isinstance(fact, HoldSignedOff):
            holds[fact.log, fact.step].append(entry)
        elif isinstance(fact, FindingAnswered):
            replies[fact.log].append(entry)
    return {"register": _frozen(cards), "sign_offs": _frozen(jobs), "holds": _frozen(holds), "replies": _frozen(replies)}


def _frozen(lists: Mapping[Any, list[Any]]) -> dict[Any, tuple[Any, ...]]:
    return {name: tuple(entries) for name, entries in lists.items()}
