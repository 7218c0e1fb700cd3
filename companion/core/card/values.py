"""A job card as the job uses it: flat, frozen values. `core.card.load_card` makes them; nothing here reads text.

Figures are `Decimal`, times are whole milliseconds, "" stands for "none given" in texts.
"""
from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional

from companion.core.card.answers import Answer

END = "end"
"""The target that ends the job."""


@dataclass(frozen=True)
class Caution:
    """Spoken before the act it guards, and acknowledged in its own words."""

    say: str
    answer: str
    source: str


@dataclass(frozen=True)
class Clock:
    """A named clock of the card."""

    kind: str
    """wait or run."""
    lasts_ms: int
    say: str
    """How it is called aloud, e.g. "the key wait"."""
    protects: str = ""
    """person (never ends early) or work (may, with a reason); "" for a run."""
    kept: str = ""
    """Asked on resume before time away is credited; "": no time away is credited."""
    marks: tuple[int, ...] = ()
    """Milliseconds left at which the time is spoken; falling, each below `lasts_ms`."""
    reasons: tuple[str, ...] = ()
    """What may be said as the reason for ending it early."""


@dataclass(frozen=True)
class MakesSafe:
    """What this step makes safe, and how a resumed job proves that it still is."""

    name: str
    still: str
    """The question; affirm proves it."""
    again: str
    """The step to go back to on any doubt."""


@dataclass(frozen=True)
class Opens:
    """This step opens a line that held pressure: what must have been shown before."""

    wait: str
    """The clock that must have run out."""
    pressure: str
    """The value that must have been read inside its limits after that wait, without a rise since."""
    again: str
    """The step to go back to where it was not shown."""


@dataclass(frozen=True)
class Item:
    """A tool or a part of the card's lists."""

    name: str
    count: int = 1
    one_use: bool = False


@dataclass(frozen=True)
class Cylinders:
    """How many, and from which end of the engine they are counted."""

    count: int
    counted_from: str


@dataclass(frozen=True)
class Alone:
    """How whoever works alone is looked after. No standard gives minutes: they are agreed beforehand (HSE INDG73)."""

    every_ms: int
    """For so long at the most nothing is heard."""
    at_risk_ms: int
    """The same while a risk lasts that a step has begun: an open fuel system, a raised vehicle."""
    within_ms: int
    """A check is asked so long before that runs out, and must be answered within it."""
    back_by: str = ""
    """The value, in minutes, that says when somebody on the road is to be back."""


@dataclass(frozen=True)
class Step:
    """One act. Steps of a group stand here once for each item."""

    id: str
    """As on the card, or "name.1" for the first item of a group."""
    base_id: str
    """As on the card."""
    item: str
    """"cylinder 1", or the entry of the list; "" outside a group."""
    stage: str
    say: str
    """{item} is filled in; the names of earlier answers still stand in braces."""
    answer: Answer
    line: int
    """Where the step begins on the card, from 1."""
    brief: str = ""
    detail: str = ""
    cautions: tuple[str, ...] = ()
    hazardous: bool = False
    must: str = ""
    """make-safe, leak-check, count or ""."""
    may_leave_open: bool = False
    closes: str = ""
    """first start, drive, end or "": every step left open must be done before this one begins."""
    cannot_undo: bool = False
    personal: bool = False
    on_the_road: bool = False
    """Worked while driving: no marks, no "say again"; only what is asked is answered."""
    hold: bool = False
    """A hold point: the job waits here for somebody's sign-off, spelled; the office signs it too, in its own log."""
    risks: tuple[str, ...] = ()
    """Risks that begin with this step."""
    ends_risks: tuple[str, ...] = ()
    """Risks that are over when it is done."""
    signs_off: bool = False
    """Nobody has to be looked after once it is done."""
    makes_safe: Optional[MakesSafe] = None
    ends_safe: tuple[str, ...] = ()
    opens: Optional[Opens] = None
    shows_new: tuple[str, ...] = ()
    """One-use parts that affirm says are new."""
    starts: tuple[str, ...] = ()
    then: dict[str, str] = field(default_factory=dict)
    at_most: int = 0
    """0: no bound."""
    after_that: str = ""
    next: str = ""


@dataclass(frozen=True)
class Card:
    """A whole job card. `where` names it in messages; `text` is the card as written."""

    id: str
    title: str
    version: str
    practice: bool
    applies_to: str
    defers: str
    emergency: str
    steps: tuple[Step, ...]
    alone: Optional[Alone] = None
    minutes: Optional[int] = None
    stage_minutes: dict[str, int] = field(default_factory=dict)
    """Stage to its estimate, where the card gives one."""
    cylinders: Optional[Cylinders] = None
    lists: dict[str, tuple[str, ...]] = field(default_factory=dict)
    tools: tuple[Item, ...] = ()
    parts: tuple[Item, ...] = ()
    reasons: tuple[str, ...] = ()
    cautions: dict[str, Caution] = field(default_factory=dict)
    clocks: dict[str, Clock] = field(default_factory=dict)
    where: str = ""
    text: str = field(default="", repr=False)

    @cached_property
    def _places(self) -> dict[str, int]:
        return {step.id: place for place, step in reversed(list(enumerate(self.steps)))}

    @property
    def stages(self) -> tuple[str, ...]:
        """The stages in order."""
        return tuple(dict.fromkeys(step.stage for step in self.steps))

    def index(self, step_id: str) -> int:
        """Place of a step among all steps, from 0. KeyError for an unknown id."""
        return self._places[step_id]

    def step(self, step_id: str) -> Step:
        """The step of that id. KeyError for an unknown id."""
        return self.steps[self.index(step_id)]

    def following(self, step_id: str) -> str:
        """Where the job goes after this step when no branch applies: its `next`, the step below it, or "end"."""
        place = self.index(step_id)
        below = self.steps[place + 1].id if place + 1 < len(self.steps) else END
        return self.steps[place].next or below
