"""The register of cards: how each text of a card stood at a moment, and what may be added to it."""
from __future__ import annotations

from typing import Iterable, Mapping

from companion.errors import BadInput
from companion.office.review_log.facts import CardApproved, CardWithdrawn, Fact
from companion.office.review_log.reviewed import CardMark, Reviewed


def standing(marks: Iterable[CardMark], until: str = "") -> Mapping[str, CardMark]:
    """For each text of one card (by SHA-256) the last of its marks with a time up to `until` (RFC 3339 as the log
    writes it, which sorts as text; "" for all); the texts in the order of those marks."""
    last: dict[str, CardMark] = {}
    for mark in marks:
        if not until or mark.at <= until:
            last.pop(mark.sha256, None)
            last[mark.sha256] = mark
    return last


def must_fit(found: Reviewed, fact: Fact) -> None:
    """Raises BadInput where `fact` would say nothing new about a card, or approve two texts under one version."""
    if not isinstance(fact, (CardApproved, CardWithdrawn)):
        return
    now = standing(found.register.get(fact.card, ()))
    where, mark = f"{fact.card}, version {fact.version}", now.get(fact.sha256)
    if mark is not None and mark.approved == isinstance(fact, CardApproved):
        word = "approved" if mark.approved else "withdrawn"
        raise BadInput(where, f"is {word} already, by {mark.by} on {mark.at[:10]}")
    if isinstance(fact, CardApproved) and any(
            other.approved and other.version == fact.version and other.sha256 != fact.sha256 for other in now.values()):
        raise BadInput(where, "must be one text, but another text is approved under this version",
                       do="Give the changed card a new version, or withdraw the other text first")
