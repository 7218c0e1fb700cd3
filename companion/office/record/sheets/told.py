"""What a log tells of a job in the trade's terms: vehicle, complaint, cause, part.

What the card asks for and the log lacks is "not recorded"; of what the card does not ask for, nothing is said.

A card's kinds of answer say what is what: a `vin` is the vehicle, a `cylinder` that was worked out the suspect, a
`fault` the cause. Where kinds do not tell, the card's names do: customer, complaint, freeze frame, mileage, road test,
part code, part number, old parts, old part code.
"""
from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Iterator, Union

from companion.core.card import Card, CodesOf, CylinderOf, FaultOf, Step
from companion.office.account import Account
from companion.office.record.cells import span
from companion.office.record.answers import answered
from companion.office.record.clocks import FULL
from companion.office.record.paper.blocks import Fact
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
        return {name: answer for _, name, answer in answered(self.account)}

    def answer(self, name: str) -> str:
        """What was answered last under one of the card's names; NOT for nothing."""
        return self._answers.get(name, "") or NOT

    @property
    def steps(self) -> tuple[Step, ...]:
        """The card's; none where it cannot be read."""
        card: Card | None = self.account.card
        return card.steps if card else ()

    def asks(self, *what: Union[str, type]) -> bool:
        """Whether the card asks for one of these names, or kinds of answer. One that cannot be read may have."""
        names = {one for one in what if isinstance(one, str)}
        kinds = tuple(one for one in what if isinstance(one, type))
        return self.account.card is None or any(isinstance(step.answer, kinds) or _name(step.answer) in names
                                                for step in self.steps)

    @property
    def vehicle(self) -> str:
        """Its identity number, else what the card calls so."""
        return self.data["vehicle"] or NOT

    def facts(self, *headings: str) -> Iterator[Fact]:
        """Of Vehicle, Mileage and Complaint, those that the card asks for or the log tells."""
        said = {"Vehicle": self.vehicle, "Mileage": self.mileage, "Complaint": self.data["complaint"] or NOT}
        names = {"Vehicle": "vehicle number", "Mileage": "mileage", "Complaint": "complaint"}
        return (Fact(heading, (said[heading],), heading == "Vehicle" and said[heading] != NOT)
                for heading in headings if said[heading] != NOT or self.asks(names[heading]))

    @property
    def cylinder(self) -> str:
        """The one that was worked out."""
        return self._settled(CylinderOf)

    @property
    def fault(self) -> str:
        """Where the fault was said to lie: injector, wiring …"""
        return self._settled(FaultOf)

    def _settled(self, kind: type) -> str:
        """The answer to the card's first question of a kind, not to one asked again; held against what was found, and
        where the two did not agree, both."""
        asked = [step for step in self.steps
                 if isinstance(step.answer, kind) and not getattr(step.answer, "same_as", "")]
        name = _name(asked[0].answer) if asked else ""
        steps = {step.id for step in asked if _name(step.answer) == name}
        weighed = [one for one in self.data["evidence"] if one["name"] == name and one["step"] in steps]
        if not weighed or weighed[-1]["verdict"] == "agree":
            said = [answer for step, under, answer in answered(self.account) if step in steps and under == name]
            return (said[-1] if said else "") or NOT
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

    def road_test(self) -> Iterator[str]:
        """What became of the complaint, in a sentence; nothing on a card without a road test."""
        said = self.answer("road test")
        if said != NOT:
            yield f"on the road test the complaint {said}."
        elif self.asks("road test"):
            yield f"road test: {NOT}."

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


def _name(answer: Any) -> str:
    """The card's name for an answer; "" for one without."""
    return getattr(answer, "name", "")


def initials(name: str) -> str:
    """ "R.E." of a whole name; initials, and "(erased)", stay as they are."""
    if name.startswith("(") or name.isupper() and len(name) <= 4:
        return name
    return "".join(f"{word[0].upper()}." for word in name.split())
