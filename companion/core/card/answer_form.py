"""The written form of an answer: what a step may ask for, and the keys that each kind of answer has.

Shapes only, as in `core.card.form`; what the keys mean together is checked in `core.card.checks` and its neighbours.
"""
from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal, Optional, Union

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, WithJsonSchema

from companion.core.card.fields import Count, Figure, Flag, Name, Phrase, Span, Target, Whole, Words
from companion.trade.units import UNITS

ANSWER_KEYS = ("choice", "value", "count", "spelling", "cylinder", "fault", "codes", "tool")
"""What tells the kinds apart, in this order: a value may name its tool, and a cylinder the codes that name it."""
TAG = "\0"
"""Begins the name of a form inside the place of an error; no key of a card can begin so."""

Names = Annotated[tuple[Name, ...], Field(max_length=20)]
Reasons = Annotated[tuple[Phrase, ...], Field(max_length=20)]


class Form(BaseModel):
    """Root of all: no other keys, no changes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ChoiceForm(Form):
    choice: Annotated[tuple[Phrase, ...], Field(min_length=2, max_length=12)]
    name: Optional[Name] = None


class AdaptorForm(Form):
    """A crow's foot or an extension on the wrench: its length in millimetres, and its angle to the wrench's arm."""

    length: Figure
    angle: Figure = Decimal(0)


class ValueForm(Form):
    """Limits: `low` and/or `high`, or `nominal` with `tolerance`, or none at all.

    `uncertainty` is the instrument's, expanded (k = 2), in `unit`; or `tool` names the answer that chose the instrument.
    """

    model_config = ConfigDict(json_schema_extra={
        "dependentRequired": {"nominal": ["tolerance"], "tolerance": ["nominal"]}})
    value: Name
    unit: Annotated[Name, WithJsonSchema({"enum": list(UNITS)})]
    low: Optional[Figure] = None
    high: Optional[Figure] = None
    nominal: Optional[Figure] = None
    tolerance: Optional[Figure] = None
    decimals: Optional[Whole] = None
    reasons: Optional[Reasons] = None
    uncertainty: Optional[Figure] = None
    tool: Optional[Name] = None
    adaptor: Optional[AdaptorForm] = None
    fastener: Optional[Name] = None
    no_rise_from: Optional[Name] = None


class CountForm(Form):
    """`must_be` a number, or the `same_as` an earlier count; neither: whatever is there is counted."""

    count: Name
    must_be: Optional[Count] = None
    same_as: Optional[Name] = None


class CodesForm(Form):
    """`ours`: made by our own test. `proves`: the answer that names the cylinder whose plug is off.

    `against`: lists read earlier; `cleared` the list read right after clearing, if there was one."""

    codes: Name
    ours: Flag = False
    proves: Optional[Name] = None
    against: Names = ()
    cleared: Optional[Name] = None


class SpellingForm(Form):
    """`vin`: a whole vehicle identification number. `same_as`: must be what was spelled before, or its `last` characters."""

    spelling: Name
    least: Whole = 1
    most: Whole = 17
    vin: Flag = False
    same_as: Optional[Name] = None
    last: Optional[Whole] = None


class ToolForm(Form):
    """Which tool of the list's `kind` serves the values whose `tool` names this answer."""

    tool: Name
    kind: Name


class SpreadForm(Form):
    """The card's own limits on readings of all cylinders: times the smallest, and away from the median."""

    most_ratio: Optional[Figure] = None
    most_apart: Optional[Figure] = None


class CylinderForm(Form):
    """One cylinder, held against the `codes` and the `readings`, or against the cylinder that another answer named."""

    cylinder: Name
    codes: Names = ()
    readings: Annotated[dict[Name, SpreadForm], Field(max_length=4)] = {}
    same_as: Optional[Name] = None


class SoundForm(Form):
    """An earlier choice, and which of its words means that all is well."""

    answer: Name
    sound: Phrase


class FaultForm(Form):
    """Injector, wiring or controller, held against what was found."""

    fault: Name
    wiring: Optional[SoundForm] = None
    driver: Optional[SoundForm] = None
    swap: Optional[SoundForm] = None
    resistance: Optional[Name] = None


class RunForm(Form):
    clock: Name
    ask: Words
    every: Span
    within: Span
    good: Annotated[tuple[Phrase, ...], Field(min_length=1, max_length=12)]
    bad: Annotated[tuple[Phrase, ...], Field(min_length=1, max_length=12)]
    silence: Target


def _answer_kind(value: Any) -> Optional[str]:
    if isinstance(value, dict):
        return next((TAG + key for key in ANSWER_KEYS if key in value), None)
    return TAG + "word" if isinstance(value, str) else None


AnswerForm = Annotated[
    Union[Annotated[Literal["done", "affirm", "nothing"], Tag(TAG + "word")],
          Annotated[ChoiceForm, Tag(TAG + "choice")], Annotated[ValueForm, Tag(TAG + "value")],
          Annotated[CountForm, Tag(TAG + "count")], Annotated[CodesForm, Tag(TAG + "codes")],
          Annotated[SpellingForm, Tag(TAG + "spelling")], Annotated[ToolForm, Tag(TAG + "tool")],
          Annotated[CylinderForm, Tag(TAG + "cylinder")], Annotated[FaultForm, Tag(TAG + "fault")]],
    Discriminator(_answer_kind, custom_error_type="answer_kind",
                  custom_error_message=f"must be done, affirm or nothing, or hold one of {', '.join(ANSWER_KEYS)}")]
