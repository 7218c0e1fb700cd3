"""The register of cards: every text of a card that was approved, withdrawn or worked on, and the forms that change it."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterator, Optional

from companion.office.page.desk import Sight
from companion.office.page.forms import Refused, entry
from companion.office.page.frame import Frame, count, link, moment, practice
from companion.office.page.asked import View
from companion.office.record.markup import Markup, join, tag
from companion.office.review_log import CardMark, Signed, standing


@dataclass(frozen=True)
class Text:
    """One text of a card."""

    card: str
    version: str
    sha256: str
    jobs: int
    """Worked on it, in this folder."""
    last: str
    """Day of the newest of them; "" for none."""
    practice: bool
    mark: Optional[CardMark]
    """How it stands in the register; None where it is not there."""


def texts(sight: Sight) -> Iterator[Text]:
    """Every text that the jobs or the register know, by card, the newest first."""
    worked = {(row["card"], row["card_version"], row["card_sha256"]): row for row in sight.index.rows(
        "SELECT card, card_version, card_sha256, count(*) AS jobs, max(day) AS last, bool_or(practice) AS practice FROM jobs "
        "WHERE card_sha256 <> '' AND card <> '' GROUP BY ALL")}
    marks = {(card, one.version, sha256): one for card, all_ in sight.reviewed.register.items() for sha256, one in standing(all_).items()}
    for key in sorted(worked.keys() | marks.keys(), key=lambda key: (key[0], _newest(marks.get(key), worked.get(key))), reverse=False):
        row = worked.get(key, {"jobs": 0, "last": "", "practice": False})
        yield Text(*key, row["jobs"], row["last"], row["practice"], marks.get(key))


def _newest(mark: Optional[CardMark], row: Optional[dict]) -> tuple[int, ...]:
    """Sorts the newest day first."""
    day = max(mark.at[:10] if mark else "", row["last"] if row else "")
    return tuple(-ord(character) for character in day)


def cards_page(frame: Frame, refused: Optional[Refused] = None, said: Optional[Signed] = None) -> str:
    """The page; `refused` and `said` as on a job's page."""
    found = list(texts(frame.sight))
    note = join(refused.alert() if refused else "", tag(
        "p", f"Written to the office's log, line {said.n + 1:,}, on {moment(said.at)} UTC.", class_="written", role="status") if said else "")
    by_card: dict[str, list[tuple[int, Text]]] = {}
    for place, one in enumerate(found, 1):
        by_card.setdefault(one.card, []).append((place, one))
    return frame.page("Cards", _explained(), [
        tag("section", tag("h2", card), tag("ol", [_text(frame, place, one, refused) for place, one in some], class_="findings"))
        for card, some in by_card.items()], here="/cards", above=note)


def _explained() -> Markup:
    return tag("p", "A version of a card is one text, known by its SHA-256. A job that begins on a version that is withdrawn, or on one "
                    "that was never approved once its card is in the register, gets a finding, and so does one on a changed text. ",
               link("Jobs on withdrawn versions", View().without(finding="card-withdrawn").address()))


def _text(frame: Frame, place: int, one: Text, refused: Optional[Refused]) -> Markup:
    state = "Not in the register" if one.mark is None else (
        f"{'Approved' if one.mark.approved else 'Withdrawn'} on {moment(one.mark.at)} UTC by {one.mark.by}: {one.mark.reason}")
    jobs = f"{count(one.jobs, 'job')} here" + (f", the newest on {one.last}" if one.last else "")
    approve = one.mark is None or not one.mark.approved
    acts = [_act(frame, f"approve-{place}", one, "approve", "Approve", refused)] if approve else []
    acts += [_act(frame, f"withdraw-{place}", one, "withdraw", "Withdraw", refused)] if one.mark is None or one.mark.approved else []
    return tag("li", tag("h3", f"Version {one.version} ", practice() if one.practice else ""), tag("p", tag("strong", state)),
               tag("p", f"{jobs}. SHA-256 ", tag("code", one.sha256), class_="quiet"), acts)


def _act(frame: Frame, form: str, one: Text, verb: str, words: str, refused: Optional[Refused]) -> Markup:
    return tag("details", tag("summary", f"{words} {one.card}, version {one.version}"), entry(
        frame, f"/cards/{verb}", form, f"{words} this version", "reason",
        {"card": one.card, "version": one.version, "sha256": one.sha256}, refused),
        open="open" if refused and refused.form == form else "")
