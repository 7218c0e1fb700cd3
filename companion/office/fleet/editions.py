"""The versions of each card over the invented year, and what the office's register says of them.

All are the shipped text with another version line: one that was withdrawn before the year began, the shipped one, a
newer one approved in the middle of the year, and one that was never approved. The newer ones have a hold point before
the step that closes the job. And one is edited without a new version."""
from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from hashlib import sha256

from companion.edge.cards import read_text, shipped
from companion.errors import BadInput
from companion.office.review_log import CardApproved, CardWithdrawn, Fact

LAST_DAY = date(2026, 11, 27)
FIRST_DAY = LAST_DAY - timedelta(days=364)
NEWER_FROM = FIRST_DAY + timedelta(days=180)
"""The newer version is approved on the evening before."""

IN_FORCE, CHANGED, WITHDRAWN, OUTDATED, UNAPPROVED = "in force", "changed", "withdrawn", "outdated", "unapproved"
HELD = "held"
"""The newer version, for its hold point."""
LATER = (OUTDATED, HELD)
"""Wanted only once the newer version is in force."""
OFFICE = "Office of the invented depot"


@dataclass(frozen=True)
class Edition:
    """One text of a card."""

    card: str
    """The card's id."""
    version: str
    text: str

    @property
    def sha256(self) -> str:
        """Of the text, lower-case hex."""
        return sha256(self.text.encode()).hexdigest()


def cards() -> tuple[str, ...]:
    """The ids of the cards that made jobs are worked on."""
    return shipped()


def edition(card: str, day: date, how: str = IN_FORCE) -> Edition:
    """The text that a job on `day` is worked on: the one in force, or what a plant wants instead."""
    older, first, newer, draft = _versions(card)
    in_force = newer if day >= NEWER_FROM else first
    return {IN_FORCE: in_force, CHANGED: _changed(in_force), WITHDRAWN: older, OUTDATED: first, UNAPPROVED: draft,
            HELD: newer}[how]


@lru_cache(maxsize=None)
def _versions(card: str) -> tuple[Edition, Edition, Edition, Edition]:
    text, where = read_text(card)
    found = re.search(r'(?m)^version: "((\d+)\.(\d+)\.\d+)"$', text)
    if not found:
        raise BadInput(where, 'must have a line such as version: "0.1.0", so that other versions can be made of it')
    major, minor = found[2], int(found[3])
    versions = (f"{found[1]}-trial", found[1], f"{major}.{minor + 1}.0", f"{major}.{minor + 2}.0-draft")
    texts = (text, text, *[_CLOSING.sub(_HOLD, text)] * 2)
    return tuple(Edition(card, version, words.replace(found[0], f'version: "{version}"'))
                 for version, words in zip(versions, texts))


_CLOSING = re.compile(r"(?m)^(?=      - id: .*\n(?:        .*\n)*?        closes: end$)")
"""Where the step that closes the job begins."""
_HOLD = """      - id: release
        hold: true
        say: "Tell the office what was found, and what was done. Who releases the job? Spell the initials."
        brief: "Who releases the job?"
        answer: {spelling: released by, least: 2, most: 4}
"""


@lru_cache(maxsize=None)
def _changed(edition: Edition) -> Edition:
    """Somebody gave the job another estimate, and left the version as it was."""
    text = re.sub(r"(?m)^minutes: (\d+)$", lambda found: f"minutes: {int(found[1]) + 1}", edition.text)
    if text == edition.text:
        raise BadInput(f"card {edition.card}", "must have a line such as minutes: 40, so that it can be edited")
    return Edition(edition.card, edition.version, text)


def register() -> list[tuple[str, Fact]]:
    """What the office said of the cards, each with its time, in the order of time."""
    said = []
    for older, first, newer, _ in map(_versions, cards()):
        withdrawn = CardWithdrawn(by=OFFICE, card=older.card, version=older.version, sha256=older.sha256,
                                  reason="The trial is over.")
        said += [(_at(-60), _approved(older, "On trial.")), (_at(-30), withdrawn),
                 (_at(-20), _approved(first, "After the trial.")),
                 (_at((NEWER_FROM - FIRST_DAY).days - 1), _approved(newer, "The yearly look."))]
    return sorted(said, key=lambda entry: entry[0])


def _approved(edition: Edition, reason: str) -> CardApproved:
    return CardApproved(by=OFFICE, card=edition.card, version=edition.version, sha256=edition.sha256, reason=reason)


def _at(day: int) -> str:
    """Four in the afternoon, so many days after the year began."""
    return f"{FIRST_DAY + timedelta(days=day)}T16:00:00.000Z"
