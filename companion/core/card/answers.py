"""What a step of a job card may ask for, as frozen values.

Figures are `Decimal`, times are whole milliseconds, "" stands for "none given" in texts.
"""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Optional, Union

DISAGREE = "disagree"
"""The outcome of a step whose answer does not fit what was found earlier."""


@dataclass(frozen=True)
class Done:
    """"done" or "next"."""


@dataclass(frozen=True)
class Affirm:
    """"affirm" or "negative"."""


@dataclass(frozen=True)
class Nothing:
    """The words are only said; the step ends with them."""


@dataclass(frozen=True)
class ChoiceOf:
    """One of several phrases."""

    options: tuple[str, ...]
    name: str
    """How the record calls it."""


@dataclass(frozen=True)
class Adaptor:
    """A crow's foot or an extension on a torque wrench."""

    length: Decimal
    """Millimetres from the wrench's square to the bolt; below 0 where it points back at the hand."""
    angle: Decimal = Decimal(0)
    """Degrees between the wrench's arm and the adaptor; 0 makes the arm longer."""


@dataclass(frozen=True)
class ValueOf:
    """A measured value. A limit of None is open on that side; both None: recorded only."""

    name: str
    unit: str
    """A key of `trade.units.UNITS`."""
    low: Optional[Decimal] = None
    high: Optional[Decimal] = None
    """Nominal and tolerance are folded into `low` and `high`."""
    nominal: Optional[Decimal] = None
    tolerance: Optional[Decimal] = None
    decimals: int = 0
    """Digits after the point that the reading should have."""
    reasons: tuple[str, ...] = ()
    """What may be said as the reason for a value outside, or too close to call."""
    uncertainty: Optional[Decimal] = None
    """Expanded (k = 2), in `unit`, where the card knows the instrument's."""
    tool: str = ""
    """The answer that chose the instrument; its record gives range and uncertainty."""
    adaptor: Optional[Adaptor] = None
    """The wrench pulls through it, so its reading is not the torque at the bolt."""
    fastener: str = ""
    """What is tightened; an angle counts from this one's snug torque."""
    no_rise_from: str = ""
    """An earlier value of the same quantity that this one must not lie above."""


@dataclass(frozen=True)
class CountOf:
    """How many there are, against how many there must be, if any."""

    name: str
    must_be: Optional[int] = None
    same_as: str = ""
    """An earlier count that this one must equal, as things laid out must come back."""


@dataclass(frozen=True)
class CodesOf:
    """Fault codes one after the other; perhaps none."""

    name: str
    ours: bool = False
    """Made by our own test; must be gone at the end."""
    proves: str = ""
    """The answer naming the cylinder whose plug is off; these codes must name the same one."""
    against: tuple[str, ...] = ()
    """Lists read earlier, to be compared with."""
    cleared: str = ""
    """The list read right after clearing."""


@dataclass(frozen=True)
class SpellingOf:
    """Letters and digits, spelled: from `least` to `most` of them."""

    name: str
    least: int
    most: int
    vin: bool = False
    """A whole vehicle identification number: its structure is checked."""
    same_as: str = ""
    """An earlier spelling that this one must repeat."""
    last: int = 0
    """Only so many of its last characters are spelled again; 0: all."""


@dataclass(frozen=True)
class ToolOf:
    """Which measuring tool of the list is used; it must measure what its steps ask for, and be in calibration."""

    name: str
    kind: str


@dataclass(frozen=True)
class Spread:
    """The card's own limits on one reading of all cylinders."""

    name: str
    """The value measured for each cylinder."""
    most_ratio: Optional[Decimal] = None
    """Times the smallest."""
    most_apart: Optional[Decimal] = None
    """Away from the median, in the value's unit."""


@dataclass(frozen=True)
class CylinderOf:
    """One cylinder, by number or by its place from the end that the card counts from."""

    name: str
    codes: tuple[str, ...] = ()
    """Lists of codes that may name it."""
    readings: tuple[Spread, ...] = ()
    """Readings that may point to it."""
    same_as: str = ""
    """An earlier answer that must have named the same one."""


@dataclass(frozen=True)
class Sound:
    """An earlier choice, and which of its words means that all is well."""

    answer: str
    sound: str


@dataclass(frozen=True)
class FaultOf:
    """Where the fault lies: injector, wiring or controller, held against what was found."""

    name: str
    wiring: Optional[Sound] = None
    driver: Optional[Sound] = None
    swap: Optional[Sound] = None
    """After swapping two injectors: its `sound` word means that the fault stayed with the cylinder."""
    resistance: str = ""
    """A measured value with limits."""

    options = ("injector", "wiring", "controller", "cannot tell")


@dataclass(frozen=True)
class WaitOf:
    """The step ends when that clock does."""

    clock: str


@dataclass(frozen=True)
class RunOf:
    """A clock during which a question is asked again and again."""

    clock: str
    ask: str
    every_ms: int
    within_ms: int
    """Silence this long after the question is the answer "silence"."""
    good: tuple[str, ...]
    """Answers that let the run go on."""
    bad: tuple[str, ...]
    """Answers that end it; each has its branch in `Step.then`."""
    silence: str
    """The step to go to when nothing is answered."""


Answer = Union[Done, Affirm, Nothing, ChoiceOf, ValueOf, CountOf, CodesOf, SpellingOf, ToolOf, CylinderOf, FaultOf,
               WaitOf, RunOf]


def outcomes(answer: Answer, must: str = "") -> tuple[str, ...]:
    """Everything that a step with this answer can end with, in the words of `then`; () where nothing branches."""
    if isinstance(answer, RunOf):
        return answer.good + answer.bad
    if isinstance(answer, ChoiceOf):
        return answer.options
    if isinstance(answer, FaultOf):
        return (*answer.options, DISAGREE)
    if isinstance(answer, ValueOf):
        return ("inside", "outside") if has_limits(answer) else ()
    if isinstance(answer, CountOf):
        return ("right",) if must or not has_target(answer) else ("right", "wrong")
    if isinstance(answer, CodesOf):
        return ("none", "agree", DISAGREE) if answer.proves else ("none", "new", "back", "ours") if answer.against else (
            "none", "some")
    if isinstance(answer, SpellingOf):
        return ("same", "different") if answer.same_as else ()
    if isinstance(answer, CylinderOf):
        return ("agree", DISAGREE) if answer.same_as else ("agree", DISAGREE, "none")
    return {Done: ("done",), Affirm: ("affirm", "negative"), ToolOf: ("fit", "none")}.get(type(answer), ())


def misfits(answer: Answer) -> tuple[str, ...]:
    """The outcomes that a card must send somewhere: what was found does not fit, and the job must not simply go on."""
    if isinstance(answer, CodesOf):
        return (DISAGREE, "none") if answer.proves else ("ours", "back") if answer.against else ()
    if isinstance(answer, SpellingOf):
        return ("different",) if answer.same_as else ()
    if isinstance(answer, CylinderOf):
        return outcomes(answer)[1:]
    return {ToolOf: ("none",), FaultOf: (DISAGREE,)}.get(type(answer), ())


def has_limits(answer: ValueOf) -> bool:
    """Whether any limit is given."""
    return any(limit is not None for limit in (answer.low, answer.high)) or bool(answer.no_rise_from)


def has_target(answer: CountOf) -> bool:
    """Whether the count must be anything."""
    return answer.must_be is not None or bool(answer.same_as)
