"""The written form of a job card, version 1: which keys there are and what each may hold.

These models are the format. They check shapes only; what the keys mean together is checked in `core.card.checks` and its
neighbours. The JSON Schema for editors is made from them.
"""
from __future__ import annotations

from typing import Annotated, Any, Iterator, Literal, Optional, Union

from pydantic import ConfigDict, Discriminator, Field, Tag, WithJsonSchema

from companion.core.card.answer_form import TAG, AnswerForm, Form, Names, Reasons, RunForm
from companion.core.card.fields import Flag, Id, Mark, Name, Phrase, Span, Target, Whole, Words
from companion.core.card.text import Path

DEFAULT_MARKS: tuple[Union[str, int], ...] = ("half", 60_000, 10_000)
"""Half way, one minute, ten seconds."""


def _when(key: str, value: Any, needs: str) -> dict[str, Any]:
    """JSON Schema: where `key` is `value`, `needs` must stand too."""
    return {"if": {"properties": {key: {"const": value}}, "required": [key]}, "then": {"required": [needs]}}


class MakesSafeForm(Form):
    name: Name
    still: Words
    again: Target


class OpensForm(Form):
    """What must be shown before a line is opened: the wait is over, and the pressure read after it is inside."""

    wait: Name
    pressure: Name
    again: Target


class AloneForm(Form):
    """How whoever works alone is looked after: for how long nothing may be heard, and how soon a check must be answered."""

    every: Span
    at_risk: Span
    within: Span
    back_by: Optional[Name] = None


class StepForm(Form):
    model_config = ConfigDict(json_schema_extra={
        "oneOf": [{"required": ["answer", "say"]}, {"required": ["run", "say"]}, {"required": ["wait"]}],
        "dependentRequired": {"at_most": ["after_that"], "after_that": ["at_most"]},
        "allOf": [{"if": {"properties": {"hold": {"const": True}}, "required": ["hold"]}, "then": {
            "properties": {"answer": {"type": "object", "required": ["spelling"]}}, "required": ["answer"]}}],
        **_when("hazardous", True, "cautions")})
    id: Id
    say: Optional[Words] = None
    brief: Optional[Words] = None
    detail: Optional[Words] = None
    cautions: Names = ()
    hazardous: Flag = False
    must: Optional[Literal["make-safe", "leak-check", "count"]] = None
    may_leave_open: Flag = False
    closes: Optional[Literal["first start", "drive", "end"]] = None
    cannot_undo: Flag = False
    personal: Flag = False
    on_the_road: Flag = False
    hold: Flag = False
    risks: Names = ()
    ends_risks: Names = ()
    signs_off: Flag = False
    makes_safe: Optional[MakesSafeForm] = None
    ends_safe: Names = ()
    opens: Optional[OpensForm] = None
    shows_new: Names = ()
    starts: Names = ()
    answer: Optional[AnswerForm] = None
    wait: Optional[Name] = None
    run: Optional[RunForm] = None
    then: Annotated[dict[Name, Target], Field(max_length=24)] = {}
    at_most: Optional[Whole] = None
    after_that: Optional[Target] = None
    next: Optional[Target] = None


class GroupForm(Form):
    """Steps repeated for each cylinder, or for each entry of a list."""

    for_each: Name
    steps: Annotated[tuple[StepForm, ...], Field(min_length=1, max_length=100)]


def _entry_kind(value: Any) -> str:
    return TAG + ("group" if isinstance(value, dict) and "for_each" in value else "step")


EntryForm = Annotated[Union[Annotated[StepForm, Tag(TAG + "step")], Annotated[GroupForm, Tag(TAG + "group")]],
                      Discriminator(_entry_kind)]


class StageForm(Form):
    stage: Name
    minutes: Optional[Whole] = None
    steps: Annotated[tuple[EntryForm, ...], Field(min_length=1, max_length=300)]


class CautionForm(Form):
    say: Words
    answer: Phrase
    source: Words


class ClockForm(Form):
    model_config = ConfigDict(json_schema_extra=_when("kind", "wait", "protects"))
    kind: Literal["wait", "run"]
    lasts: Span
    say: Name
    protects: Optional[Literal["person", "work"]] = None
    kept: Optional[Words] = None
    marks: Annotated[tuple[Mark, ...], Field(max_length=12)] = DEFAULT_MARKS
    reasons: Optional[Reasons] = None


class ItemForm(Form):
    name: Name
    count: Whole = 1
    one_use: Flag = False


class CylindersForm(Form):
    count: Whole
    counted_from: Name


class BoltsForm(Form):
    """Bolts round a circle, counted clockwise, worked in cross order: "nut one", "nut three" …"""

    bolts: Annotated[Whole, Field(ge=2, le=32)]
    called: Name


ListForm = Union[Annotated[tuple[Name, ...], Field(min_length=1, max_length=60), Tag(TAG + "list")],
                 Annotated[BoltsForm, Tag(TAG + "bolts")]]


def _list_kind(value: Any) -> str:
    return TAG + ("bolts" if isinstance(value, dict) else "list")


class CardForm(Form):
    card: Annotated[Literal["1"], WithJsonSchema({"enum": [1, "1"]})]
    id: Id
    title: Name
    version: Name
    practice: Flag
    applies_to: Words
    defers: Words
    minutes: Optional[Whole] = None
    cylinders: Optional[CylindersForm] = None
    lists: Annotated[dict[Name, Annotated[ListForm, Discriminator(_list_kind)]], Field(max_length=40)] = {}
    tools: Annotated[tuple[ItemForm, ...], Field(max_length=100)] = ()
    parts: Annotated[tuple[ItemForm, ...], Field(max_length=100)] = ()
    emergency: Words
    alone: Optional[AloneForm] = None
    reasons: Reasons = ()
    cautions: Annotated[dict[Name, CautionForm], Field(max_length=60)] = {}
    clocks: Annotated[dict[Name, ClockForm], Field(max_length=60)] = {}
    stages: Annotated[tuple[StageForm, ...], Field(min_length=1, max_length=60)]

    def placed_steps(self) -> Iterator[tuple[Path, StepForm, str]]:
        """Every written step in order: its path on the card, the step, and what its group is repeated for ("")."""
        for s, stage in enumerate(self.stages):
            for e, entry in enumerate(stage.steps):
                path: Path = ("stages", s, "steps", e)
                if isinstance(entry, StepForm):
                    yield path, entry, ""
                    continue
                for i, step in enumerate(entry.steps):
                    yield (*path, "steps", i), step, entry.for_each


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a card, for editors that know YAML."""
    made = _plain(CardForm.model_json_schema())
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made, "title": "Job card, version 1"}


def _plain(schema: Any) -> Any:
    """The schema without nulls and defaults: a key is either left out or has a value."""
    if isinstance(schema, list):
        return [_plain(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {key: _plain(part) for key, part in schema.items()
            if key != "default" and not (key == "title" and isinstance(part, str))}
    options = [option for option in kept.pop("anyOf", ()) if option != {"type": "null"}]
    return {**kept, **(options[0] if len(options) == 1 else {"anyOf": options} if options else {})}
