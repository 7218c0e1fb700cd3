"""Events to the plain data of a log line and back, read off the fields of their dataclasses.

A field is `str`, `int`, `bool`, `Decimal`, `Personal`, `str | Personal` or `tuple[str, ...]`, or one of them or None.
None is left out, and so is a field that was `added` later while it is ""; a `Decimal` becomes its digits, a `Personal`
the salted hash of its text, and a `Hearing` the keys words, score, ear and by.
"""
from __future__ import annotations

import hashlib
import re
import types
from dataclasses import MISSING, fields
from decimal import Decimal
from functools import lru_cache
from typing import Any, Callable, Mapping, Union, get_args, get_origin, get_type_hints

from companion.core.events import Event, Hearing, Personal
from companion.errors import BadInput

ERASED = "(erased)"
"""What stands for a personal text whose sidecar entry is gone."""

_PLAIN = (str, int, bool)
_KINDS = (*_PLAIN, Decimal, Personal, tuple)
_DIGITS = re.compile(r"-?\d{1,40}(?:\.\d{1,40})?", re.ASCII)
_HASH = re.compile(r"[0-9a-f]{64}")

Hide = Callable[[str], dict[str, str]]


def vocabulary(root: type[Event] = Event) -> dict[str, type[Event]]:
    """Every event class defined so far, by its name in the log."""
    found: dict[str, type[Event]] = {}
    for child in root.__subclasses__():
        found[name_of(child)] = child
        found.update(vocabulary(child))
    return found


@lru_cache(maxsize=None)
def name_of(kind: type[Event]) -> str:
    """The name in the log of an event class: `ValueLogged` is "value_logged". (Some events have a field `name`.)"""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", kind.__name__).lower()


def personal_hash(salt: bytes, text: str) -> str:
    """SHA-256, lower-case hex, of the salt's bytes followed by the text in UTF-8."""
    return hashlib.sha256(salt + text.encode("utf-8")).hexdigest()


def encode(event: Event, salt: Callable[[], bytes]) -> tuple[dict[str, Any], list[dict[str, str]]]:
    """The event's `data`, and the sidecar entries {"sha256", "salt", "text"} of what is personal in it.

    `salt` gives fresh random bytes. Raises BadInput for what a log cannot hold, TypeError for a field of the wrong type.
    """
    beside: list[dict[str, str]] = []

    def hide(text: str) -> dict[str, str]:
        fresh = salt()
        beside.append({"sha256": personal_hash(fresh, text), "salt": fresh.hex(), "text": text})
        return {"sha256": beside[-1]["sha256"]}

    data: dict[str, Any] = {}
    for part in (event,) if event.heard is None else (event, event.heard):
        for name, kinds, optional in _shape(type(part)):
            if name in data:
                raise TypeError(f"{name_of(type(event))}.{name}: this name belongs to the hearing; take another")
            value = getattr(part, name)
            if value == "" and name in _added(type(part)):
                continue
            if type(value) in _PLAIN and type(value) in kinds:
                data[name] = value
            elif value is not None or not optional:
                data[name] = _out(f"{name_of(type(event))}.{name}", value, kinds, hide)
    return data, beside


def decode(kind: type[Event], step: str, data: Mapping[str, Any], beside: Mapping[str, str]) -> Event:
    """The event of class `kind` that `data` tells of; `beside` maps the hash of a personal text to the text.

    A field that is missing takes None or its default, so that logs older than the field still read. Raises ValueError.
    """
    values, rest = _read(kind, data, beside)
    values["step"] = step
    if "words" in rest:
        told, rest = _read(Hearing, rest, beside)
        values["heard"] = _built(Hearing, told)
    if rest:
        raise ValueError(f"it has no field {ascii(sorted(rest)[0])[:40]}")
    return _built(kind, values)


def _read(kind: type, data: Mapping[str, Any], beside: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The fields of a `kind`, as `data` gives them or by default, and what is left of `data`."""
    kinds_of, values, rest = _kinds(kind), dict(_defaults(kind)), {}
    for name, value in data.items():
        kinds, plain = kinds_of.get(name), type(value)
        if kinds is None:
            rest[name] = value
        else:
            values[name] = value if plain in kinds and plain in _PLAIN else _in(name, value, kinds, beside)
    return values, rest


def _built(kind: type, values: dict[str, Any]) -> Any:
    """A `kind` of these values, put in place at once: its own way, a call for each field, takes a third of all decoding."""
    if not _needed(kind) <= values.keys():
        raise ValueError(f"it lacks a field: {min(_needed(kind) - values.keys())}")
    made = object.__new__(kind)
    made.__dict__.update(values)
    return made


@lru_cache(maxsize=None)
def _kinds(kind: type) -> dict[str, tuple[type, ...]]:
    """Each field's plain types."""
    return {name: kinds for name, kinds, _ in _shape(kind)}


@lru_cache(maxsize=None)
def _defaults(kind: type) -> dict[str, Any]:
    """What a field is where the log lacks it: None where it may be, else its default."""
    optional = {name for name, _, optional in _shape(kind) if optional}
    return {field.name: None if field.name in optional else field.default for field in fields(kind)
            if field.name in optional or field.default is not MISSING}


@lru_cache(maxsize=None)
def _needed(kind: type) -> frozenset[str]:
    """The fields without which there is no `kind`."""
    return frozenset(field.name for field in fields(kind)) - _defaults(kind).keys()


@lru_cache(maxsize=None)
def _shape(kind: type) -> tuple[tuple[str, tuple[type, ...], bool], ...]:
    """The fields of a dataclass: name, plain types, whether None is allowed; `step` and `heard` are kept apart."""
    hints = get_type_hints(kind)
    shape = []
    for name in (field.name for field in fields(kind)):
        if name in ("step", "heard"):
            continue
        parts = _parts(hints[name])
        kinds = tuple(get_origin(part) or part for part in parts if part is not type(None))
        known = kinds == (str, Personal) or len(kinds) == 1 and kinds[0] in _KINDS
        if not known or not name.isascii():
            raise TypeError(f"{kind.__name__}.{name}: a log cannot hold {hints[name]}")
        shape.append((name, kinds, type(None) in parts))
    return tuple(shape)


@lru_cache(maxsize=None)
def _added(kind: type) -> frozenset[str]:
    """The fields that older logs lack; see `events.root.added`."""
    return frozenset(field.name for field in fields(kind) if field.metadata.get("added"))


def _parts(hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) in (Union, getattr(types, "UnionType", Union)) else (hint,)


def _out(where: str, value: Any, kinds: tuple[type, ...], hide: Hide) -> Any:
    if type(value) not in kinds or type(value) is tuple and not all(type(part) is str for part in value):
        raise TypeError(f"{where}: must be {kinds[0].__name__}, not {value!r}")
    if type(value) is Personal:
        try:
            return hide(value.text)
        except UnicodeEncodeError:
            raise BadInput(where, "must be text that UTF-8 can hold") from None
    return list(value) if type(value) is tuple else _digits(where, value)


def _digits(where: str, value: Decimal) -> str:
    if not value.is_finite() or abs(value.adjusted()) > 30 or len(value.as_tuple().digits) > 30:
        raise BadInput(where, "must be a number of at most 30 digits", str(value)[:40])
    return format(value, "f")


def _in(name: str, value: Any, kinds: tuple[type, ...], beside: Mapping[str, str]) -> Any:
    plain = type(value)
    if plain is str and Decimal in kinds and _DIGITS.fullmatch(value):
        return Decimal(value)
    if plain is list and tuple in kinds and all(type(part) is str for part in value):
        return tuple(value)
    if plain is dict and Personal in kinds and is_hidden(value):
        return Personal(beside.get(value["sha256"], ERASED))
    raise ValueError(f"field {name} is no {' or '.join(kind.__name__.lower() for kind in kinds)}")


def is_hidden(value: Mapping[str, Any]) -> bool:
    """Whether a value in `data` is the salted hash of a personal text: {"sha256": 64 lower-case hex digits}."""
    return value.keys() == {"sha256"} and type(value["sha256"]) is str and bool(_HASH.fullmatch(value["sha256"]))
