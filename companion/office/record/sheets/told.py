"""What a log tells of a job in the trade's terms: vehicle, complaint, cause, part; "not recorded" is what it does not.

A card's kinds of answer say what is what: a `vin` is the vehicle, a `cylinder` that was worked out the suspect, a
`fault` the cause. Where kinds do not tell, the card's names do: customer, complaint, freeze frame, mileage, road test,
part code, part number, old parts, old part code.
"""
from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Iterator

from companion.core.card import Card, CodesOf, CylinderOf, FaultOf, SpellingOf, Step
from companion.office.account import Account
from companion.office.record.cells import span
from companion.office.record.course import named
from companion.core import events as ev
from companion.office.record.clocks import FULL
from companion.office.record.rows import Row
from companion.office.record.worked import meaning

NOT = "not recorded"


@dataclass(frozen=True)
class Told:
    """The account of one job, and its record's data."""

    account: Account
    data: Row

    @cached_property
    def _answers(self) -> dict[str, str]:
        kinds = (ev.AnswerGiven, ev.SpellingLogged, ev.ValueLogged, ev.CountLogged)
        return dict(named(event) for _, event in self.account.of(*kinds))

    def answer(self, name: str) -> str:
        """What was answered last under one of the card's names; NOT for nothing."""
        return self._answers.get(name, "") or NOT

    @property
    def steps(self) -> tuple[Step, ...]:
        """The card's; none where it cannot be read."""
        card: Card | None = self.account.card
        return card.steps if card else ()

    def name_of(self, kind: type) -> str:
        """The card's name for its first answer of a kind that is not asked a second time; "" for none."""
        found = (step.answer.name for step in self.steps
                 if isinstance(step.answer, kind) and not getattr(step.answer, "same_as", ""))
        return next(found, "")

    @property
    def vehicle(self) -> str:
        """Its identity number, else what the card calls so."""
        vins = (step.answer.name for step in self.steps if isinstance(step.answer, SpellingOf) and step.answer.vin)
        return self.answer(next(vins, "vehicle number"))

    @property
    def cylinder(self) -> str:
        """The one that was worked out."""
        return self._settled(self.name_of(CylinderOf))

    @property
    def fault(self) -> str:
        """Where the fault was said to lie: injector, wiring …"""
        return self._settled(self.name_of(FaultOf))

    def _settled(self, name: str) -> str:
        """An answer that was held against what was found; where the two did not agree, both."""
        weighed = [one for one in self.data["evidence"] if one["name"] == name]
        if not weighed or weighed[-1]["verdict"] == "agree":
            return self.answer(name)
        return f"not settled: said {weighed[-1]['said']}, found {weighed[-1]['found'] or 'nothing'}"

    @property
    def mileage(self) -> str:
        """With its unit."""
        found = [one for one in self.data["values"] if one["name"] == "mileage"]
        return f"{found[-1]['value']} {found[-1]['unit']}" if found else NOT

    @property
    def initials(self) -> str:
        """Of everybody who worked, without their names."""
        made = (initials(one["name"]) for one in self.data["mechanics"])
        return ", ".join(dict.fromkeys(filter(None, made))) or NOT

    def codes_before(self) -> Iterator[tuple[str, str]]:
        """Each code read before the work, with its meaning; our own are left out."""
        before = {step.answer.name for step in self.steps
                  if isinstance(step.answer, CodesOf) and not step.answer.against and not step.answer.ours}
        found = (code for one in self.data["codes"] if one["name"] in before for code in one["codes"])
        return ((code, meaning(code)) for code in dict.fromkeys(found))

    @property
    def read_before(self) -> bool:
        """Whether any list of codes was read before the work."""
        return bool(self.data["codes"])

    def runs(self) -> Iterator[str]:
        """Each run in a sentence, with what was answered."""
        for run in self.data["runs"]:
            answers = [one["answer"] for one in self.data["questions"] if one["run"] == run["line"] and one["answer"]]
            lasted = span(run["ran"] or 0)
            if run["how"].startswith(FULL):
                said = ", ".join(dict.fromkeys(answers)) or NOT
                yield f"{run['say']}, {lasted}: {said}, answered {len(answers)} times."
            else:
                said = answers[-1] if answers else "no answer"
                yield f"{run['say']}, {run['how'].split(':')[0]} after {lasted}: {said}."


def initials(name: str) -> str:
    """ "R.E." of a whole name; initials, and "(erased)", stay as they are."""
    if name.startswith("(") or name.isupper() and len(name) <= 4:
        return name
    return "".join(f"{word[0].upper()}." for word in name.split())
