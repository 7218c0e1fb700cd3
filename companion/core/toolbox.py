"""The list of measuring tools: what each can measure, how far it can be trusted, and until when it is in calibration.

Text in, values out, or every fault of it in one error, as with a job card. A list of invented tools (`practice: true`)
may give a calibration as "90 days ago", so that practice does not go out of date; a real list gives the day.
"""
from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from typing import Annotated, Any, Iterable, Iterator, Literal, Optional, Union

from pydantic import BeforeValidator, Field, ValidationError
from pydantic_core import PydanticCustomError

from companion.core.card.answer_form import Form
from companion.core.card.faults import fault_of, meant, path_of
from companion.core.card.fields import Figure, Flag, Name, Phrase, Whole, shown
from companion.core.card.text import Fault, Tree, read_tree
from companion.core.commands import STANDING
from companion.core.sounding import sounds_alike
from companion.errors import BadInput
from companion.trade.tools import Tool
from companion.trade.units import UNITS

NONE_OF_THESE = "none of these"
"""Said where no tool of the list will do."""
MOST_NAME = 40
"""Characters of a name: it is said on every job, and compared with every other."""


def _day(value: Any) -> Union[date, int]:
    """A day, or how many days ago."""
    ago = re.fullmatch(r"([0-9]{1,4}) days ago", str(value))
    if ago:
        return int(ago[1])
    try:
        return date.fromisoformat(value) if re.fullmatch(r"\d{4}-\d\d-\d\d", value) else _no_day(value)
    except (TypeError, ValueError):
        return _no_day(value)


def _no_day(value: Any) -> date:
    raise PydanticCustomError("must", "must be a day such as 2026-03-01, not {found}", {"found": shown(value)})


class _ToolForm(Form):
    name: Phrase
    kind: Name
    unit: Name
    low: Optional[Figure] = None
    high: Optional[Figure] = None
    iso_class: Optional[Name] = None
    uncertainty: Optional[Figure] = None
    uncertainty_percent: Optional[Figure] = None
    arm: Optional[Figure] = None
    calibrated: Optional[Annotated[Any, BeforeValidator(_day)]] = None
    months: Whole = 12
    uses: Whole = 0
    most_uses: Whole = 5000


class _ListForm(Form):
    tool_list: Literal["1"]
    practice: Flag
    tools: Annotated[tuple[_ToolForm, ...], Field(min_length=1, max_length=60)]


class ToolErrors(BadInput):
    """A tool list cannot be used. `faults` are in the order of their lines; `errors` are whole messages."""

    def __init__(self, where: str, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        self.errors = tuple(f"{where}:{fault.line}: {fault.text}" for fault in self.faults)
        super().__init__(where, "a tool list must have no faults")

    def sentence(self) -> str:
        """One message a line."""
        return "\n".join(self.errors[:100])


@dataclass(frozen=True)
class ToolList:
    """All the tools, as of one day."""

    practice: bool
    tools: tuple[Tool, ...]
    text: str = field(default="", repr=False)

    def of_kind(self, kind: str) -> tuple[Tool, ...]:
        """The tools of one kind, in the order of the list."""
        return tuple(tool for tool in self.tools if tool.kind == kind)

    def get(self, name: str) -> Optional[Tool]:
        """The tool of that name."""
        return next((tool for tool in self.tools if tool.name == name), None)


def is_tool_list(text: str) -> bool:
    """Whether a text is meant as a tool list, even one too broken to be read: its key `tool_list` says so."""
    return re.search(r"""^\ufeff?\{? ?["']?tool_list["']? ?:""", text, re.MULTILINE) is not None


@lru_cache(maxsize=64)
def load_tools(text: str, where: str, on: date) -> ToolList:
    """The tool list written in `text`; "90 days ago" counts from `on`. Raises ToolErrors with every fault found."""
    form, tree, names = _read(text, where)
    made = [_tool(entry, form.practice, on, tree, place) for place, entry in enumerate(form.tools)]
    faults = [found for found in made if isinstance(found, Fault)] + list(names)
    if faults:
        raise ToolErrors(where, faults)
    return ToolList(form.practice, tuple(tool for tool in made if isinstance(tool, Tool)), text)


@lru_cache(maxsize=64)
def _read(text: str, where: str) -> tuple[_ListForm, Tree, tuple[Fault, ...]]:
    """The list as written, and the faults of its names: the same on every day, and most of the work."""
    tree = read_tree(text)
    faults = [Fault(fault.line, _of_lists(fault.text)) for fault in tree.faults]
    if tree.value is None or faults:
        raise ToolErrors(where, faults)
    try:
        form = _ListForm.model_validate(tree.value)
    except ValidationError as error:
        found = [found for found in error.errors(include_url=False) if found["type"] != "too_short" or not found["input"]]
        raise ToolErrors(where, [_fault(each, tree) for each in found]) from None
    return form, tree, tuple(_names(form, tree))


def _fault(found: Any, tree: Tree) -> Fault:
    fault = fault_of(found, tree)
    return Fault(tree.line(path_of(found)), _of_lists(fault.text.split("; did you mean", 1)[0]))


def _of_lists(text: str) -> str:
    """The text reader's messages speak of job cards."""
    return text.replace("job card", "tool list").replace('"card: 1"', '"tool_list: 1"')


def _tool(entry: _ToolForm, practice: bool, on: date, tree: Tree, place: int) -> Union[Tool, Fault]:
    line = tree.line(("tools", place))
    if entry.unit not in UNITS:
        return Fault(tree.line(("tools", place, "unit")), f'unknown unit "{entry.unit}"' + meant(entry.unit, UNITS))
    if isinstance(entry.calibrated, int) and not practice:
        return Fault(tree.line(("tools", place, "calibrated")), "a real tool must give the day of its calibration")
    day = on - timedelta(days=entry.calibrated) if isinstance(entry.calibrated, int) else entry.calibrated
    try:
        return Tool(**{**entry.model_dump(), "calibrated": day, "iso_class": entry.iso_class or ""})
    except BadInput as error:
        return Fault(line, error.sentence())


def _names(form: _ListForm, tree: Tree) -> Iterator[Fault]:
    """Names are spoken: each stands once, and none sounds like another or like what can always be said."""
    for place, entry in enumerate(form.tools):
        line = tree.line(("tools", place, "name"))
        before = [other.name for other in form.tools[:place]]
        if entry.name in before:
            yield Fault(line, f'a tool must stand once, but "{entry.name}" stands twice')
            continue
        if len(entry.name) > MOST_NAME:
            yield Fault(line, f"the name of a tool must be at most {MOST_NAME} characters, not {len(entry.name)}")
            continue
        kin = [other.name for other in form.tools[:place] if other.kind == entry.kind and len(other.name) <= MOST_NAME]
        for other in (*kin, *STANDING, NONE_OF_THESE):
            if entry.name == other or sounds_alike(entry.name, other):
                yield Fault(line, f'the name of a tool must not sound like another, but "{entry.name}" sounds like "{other}"')
