"""The register of cards: every text that was approved, withdrawn or worked on, and the forms that change it."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterator, Optional

from companion.office.page.asked import View
from companion.office.page.desk import Sight
from companion.office.page.forms import Refused, entry, folded, written
from companion.office.page.frame import Frame, count, link, moment, practice
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
        "SELECT card, card_version, card_sha256, count(*) AS jobs, max(day) AS last, bool_or(practice) AS practice "
        "FROM jobs WHERE card_sha256 <> '' AND card <> '' GROUP BY ALL")}
    marks = {(card, one.version, sha256): one for card, every in sight.reviewed.register.items()
             for sha256, one in standing(every).items()}
    for key in sorted(worked.keys() | marks.keys(), key=lambda key: (key[0], _newest(marks.get(key), worked.get(key)))):
        row = worked.get(key, {"jobs": 0, "last": "", "practice": False})
        yield Text(*key, row["jobs"], row["last"], row["practice"], marks.get(key))


def _newest(mark: Optional[CardMark], row: Optional[dict]) -> tuple[int, ...]:
    """Sorts the newest day first."""
    day = max(mark.at[:10] if mark else "", row["last"] if row else "")
    return tuple(-ord(character) for character in day)


def cards_page(frame: Frame, refused: Optional[Refused] = None, said: Optional[Signed] = None) -> str:
    """The page; `refused` and `said` as on a job's page."""
    found = list(texts(frame.sight))
    note = join(refused.alert() if refused else "", written(said) if said else "")
    by_card: dict[str, list[tuple[int, Text]]] = {}
    for place, one in enumerate(found, 1):
        by_card.setdefault(one.card, []).append((place, one))
    lists = {card: [_text(frame, place, one, refused) for place, one in some] for card, some in by_card.items()}
    sections = [tag("section", tag("h2", card), tag("ol", each, class_="findings")) for card, each in lists.items()]
    return frame.page("Cards", _explained(), frame.instead(), sections, here="/cards", above=note)


def _explained() -> Markup:
    return tag("p", "A version of a card is one text, known by its SHA-256. A job that begins on a version that is "
                    "withdrawn, or on one that was never approved once its card is in the register, gets a finding, "
                    "and so does one on a changed text. ",
               link("Jobs on withdrawn versions", View().without(finding="card-withdrawn").address()))


def _text(frame: Frame, place: int, one: Text, refused: Optional[Refused]) -> Markup:
    state = "Not in the register" if one.mark is None else (
        f"{'Approved' if one.mark.approved else 'Withdrawn'} on {moment(one.mark.at)} UTC by {one.mark.by}: "
        f"{one.mark.reason}")
    jobs = f"{count(one.jobs, 'job')} here" + (f", the newest on {one.last}" if one.last else "")
    verbs = ("approve", "withdraw") if one.mark is None else ("withdraw",) if one.mark.approved else ("approve",)
    verbs = verbs if frame.may_write else ()
    acts = [_act(frame, f"{verb}-{place}", one, verb, refused) for verb in verbs]
    return tag("li", tag("h3", f"Version {one.version} ", practice() if one.practice else ""),
               tag("p", tag("strong", state)),
               tag("p", f"{jobs}. SHA-256 ", tag("code", one.sha256), class_="quiet"), acts)


def _act(frame: Frame, form: str, one: Text, verb: str, refused: Optional[Refused]) -> Markup:
    about = {"card": one.card, "version": one.version, "sha256": one.sha256}
    made = entry(frame, f"/cards/{verb}", form, f"{verb.capitalize()} this version", "reason", about, refused)
    return folded(f"{verb.capitalize()} {one.card}, version {one.version}", made, form, refused)
