"""What an office may say: it signs a job or a hold point off, a mechanic replies to a finding, a card is approved or
withdrawn. Each fact is checked when it is made, whether somebody types it or a line is read."""
from __future__ import annotations

import re
from dataclasses import dataclass, fields
from typing import Any, Callable

from companion.errors import BadInput

LONGEST_NAME = 200
"""Characters of a name, of a card's id or version, of a step's id."""
LONGEST_WORDS = 2_000
"""Characters of a reason or a reply."""
MOST_LINES = 10_000
"""Lines of a log that one finding may name."""

_SEAL = re.compile(r"[A-Z2-7]{4} [A-Z2-7]{4} [A-Z2-7]{4}|[0-9a-f]{64}")
_LOG = re.compile(r"[^/\\:]{1,200}\.jsonl")
_SHA256 = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, kw_only=True)
class Fact:
    """Root of all. Raises BadInput where a field cannot stand in the log."""

    by: str
    """Who says it: a name as it was typed, 1 to 200 characters."""

    def __post_init__(self) -> None:
        for field in fields(self):
            holds, must = _MUST[field.name]
            value = getattr(self, field.name)
            if not holds(value) and value != field.default:
                raise BadInput(field.name, must, ascii(value)[:60] if value else "empty")


@dataclass(frozen=True, kw_only=True)
class JobSignedOff(Fact):
    """A supervisor has read the record of a job and accepts it as it stands."""

    log: str
    """The file's name, without its folder."""
    seal: str
    """SHA-256 (hex) of the log's last line: of no other log. The first sign-offs had its closing seal ("ABCD EFGH IJKL")."""
    reason: str


@dataclass(frozen=True, kw_only=True)
class HoldSignedOff(Fact):
    """The office signs a hold point that somebody released at the vehicle."""

    log: str
    step: str
    """The step's id on the card."""
    reason: str
    seal: str = ""
    """SHA-256 (hex) of the line of the log on which it was released: of no other log, and of no later release. "" in entries
    of older programs, which hold for whatever lies under the log's name."""


@dataclass(frozen=True, kw_only=True)
class FindingAnswered(Fact):
    """A mechanic's reply to a finding."""

    log: str
    finding: str
    """The finding's name, as in `findings.kinds`."""
    lines: tuple[int, ...]
    """The finding's lines, which tell it from others of that name: from 1, rising; () where it has none."""
    text: str
    seal: str = ""
    """SHA-256 (hex) of the last of those lines, or of the log's last line where there are none; "" as for a hold point."""


@dataclass(frozen=True, kw_only=True)
class CardApproved(Fact):
    """From now on jobs may be worked on this text of a card."""

    card: str
    """The card's id."""
    version: str
    sha256: str
    """Of the card's text, lower-case hex."""
    reason: str


@dataclass(frozen=True, kw_only=True)
class CardWithdrawn(Fact):
    """From now on no job may be begun on this text of a card."""

    card: str
    version: str
    sha256: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class PersonalErased(Fact):
    """What a log kept about people is being erased from beside it: by name and number, never the words."""

    log: str
    what: str
    """Such as "customer (4 texts), 2 sound files"."""
    reason: str


@dataclass(frozen=True, kw_only=True)
class DoubtAnswered(Fact):
    """Somebody knows why the log, or the list of trusted keys, is not what this machine had seen, and goes on with it."""

    text: str
    """What had been found."""
    reason: str


KINDS = {"job_signed_off": JobSignedOff, "hold_signed_off": HoldSignedOff, "finding_answered": FindingAnswered,
         "card_approved": CardApproved, "card_withdrawn": CardWithdrawn,
         "personal_erased": PersonalErased, "doubt_answered": DoubtAnswered}
"""Each kind of fact, by its name in the log."""


def tidy(text: str) -> str:
    """What somebody typed, as the log holds it: one line, single spaces."""
    return " ".join(text.split())


def _printable(value: Any, most: int) -> bool:
    return type(value) is str and value.isprintable() and bool(value.strip()) and len(value) <= most


def _matches(form: re.Pattern[str]) -> Callable[[Any], bool]:
    return lambda value: type(value) is str and value.isprintable() and bool(form.fullmatch(value))


def _rising(value: Any) -> bool:
    return (type(value) is tuple and all(type(line) is int for line in value) and len(value) <= MOST_LINES
            and all(0 < line <= 2**53 - 1 for line in value) and list(value) == sorted(set(value)))


_LINE = "printable characters on one line"
_NAME = (lambda value: _printable(value, LONGEST_NAME), f"must be 1 to {LONGEST_NAME} {_LINE}")
_WORDS = (lambda value: _printable(value, LONGEST_WORDS), f"must be 1 to {LONGEST_WORDS:,} {_LINE}")
_MUST: dict[str, tuple[Callable[[Any], bool], str]] = {
    "by": _NAME, "step": _NAME, "finding": _NAME, "card": _NAME, "version": _NAME, "reason": _WORDS, "text": _WORDS,
    "what": _WORDS,
    "log": (_matches(_LOG), "must be the name of a job log, ending in .jsonl, without its folder"),
    "seal": (_matches(_SEAL), "must be a closing seal (ABCD EFGH IJKL), or 64 lower-case hex digits"),
    "sha256": (_matches(_SHA256), "must be 64 lower-case hex digits"),
    "lines": (_rising, "must be line numbers from 1, rising"),
}
"""For each field, by its name: what must hold, and how it is said."""
