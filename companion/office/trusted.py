"""The supervisor's list of trusted keys: whose each device's key is, from which day, and until when.

A YAML file, FOLDER/office/trusted-keys.yaml beside the logs of FOLDER, read as strictly as a job card:

    trusted_keys: 1
    keys:
      - key: 9d61…  (64 hex digits, as `companion device` prints them)
        name: van two
        from: 2026-01-05
        revoked: 2026-06-01     # only where it was
        why: the van was broken into

Days are those of UTC, as in the logs. A device tells the day itself, so whoever stole its key can tell an earlier one:
what was sealed before the day of a revocation counts, and is said to hang on a receipt held elsewhere.
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Iterable, Iterator, Literal, Optional, Union

from pydantic import BeforeValidator, Field, ValidationError
from pydantic_core import PydanticCustomError

from companion.core.card.answer_form import Form
from companion.core.card.faults import fault_of, path_of
from companion.core.card.fields import Name, shown
from companion.core.card.text import MOST_CHARACTERS, Fault, Tree, read_tree
from companion.core.log.journal import public_key
from companion.errors import BadInput
from companion.office.place import Folder, Place
from companion.terminal import clean

LIST = "trusted-keys.yaml"
"""The list's name in the office's folder."""
TRUSTED, REVOKED_LATER, REVOKED, NOT_YET, UNKNOWN = "trusted", "revoked later", "revoked", "not yet", "unknown"
"""How a key stands on a day."""
ADD = "companion trust FOLDER add {key} --name NAME"
"""The command that puts a key on the list."""
OWN_UNKNOWN = f"This machine's own key is not on the list, so its sign-offs do not count. Add it: {ADD}"
"""What is said to the office whose own key is not there."""


def _read(pattern: str, what: str) -> BeforeValidator:
    """Reads what matches `pattern` whole."""
    def read(value: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(pattern, value):
            raise PydanticCustomError("must", "must be {what}, not {found}", {"what": what, "found": shown(value)})
        return value
    return BeforeValidator(read)


def _day(value: Any) -> str:
    try:
        return date.fromisoformat(value).isoformat() if re.fullmatch(r"\d{4}-\d\d-\d\d", value, re.ASCII) else _no_day(value)
    except (TypeError, ValueError):
        return _no_day(value)


def _no_day(value: Any) -> str:
    raise PydanticCustomError("must", "must be a day such as 2026-03-01, not {found}", {"found": shown(value)})


Day = Annotated[str, BeforeValidator(_day)]
Key = Annotated[str, _read("[0-9a-f]{64}", "64 lower-case hex digits, as `companion device` prints them")]


class _EntryForm(Form):
    key: Key
    name: Name
    since: Day = Field(alias="from")
    revoked: Optional[Day] = None
    why: Optional[Name] = None


class _ListForm(Form):
    trusted_keys: Literal["1"]
    keys: tuple[_EntryForm, ...] = Field(max_length=5_000)


class TrustErrors(BadInput):
    """A list of trusted keys cannot be used. `faults` in the order of their lines; `errors` are whole messages."""

    def __init__(self, where: str, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        self.errors = tuple(f"{where}:{fault.line}: {fault.text}" for fault in self.faults)
        super().__init__(where, "a list of trusted keys must have no faults")

    def sentence(self) -> str:
        """One message a line."""
        return "\n".join(self.errors[:100])


@dataclass(frozen=True)
class TrustedKey:
    """One key of the list."""

    key: str
    """Ed25519 public key, 64 lower-case hex digits."""
    name: str
    """Of the device, or of whoever carries it."""
    since: str
    """The first day (UTC) on which it counts, YYYY-MM-DD."""
    revoked: str = ""
    """The day from which it counts no more; "" while it counts."""
    why: str = ""


@dataclass(frozen=True)
class Standing:
    """How a key stood when something was sealed with it."""

    state: str
    """TRUSTED, REVOKED_LATER, REVOKED, NOT_YET or UNKNOWN."""
    name: str
    """Whose key it is; "" where nobody's."""
    said: str
    """The same as a sentence without its full stop; it begins with whose key it is, where it is on the list."""

    @property
    def fine(self) -> bool:
        """Whether it may be relied on, as far as the device's own clock tells."""
        return self.state in (TRUSTED, REVOKED_LATER)


@dataclass(frozen=True)
class Trusted:
    """The list."""

    keys: tuple[TrustedKey, ...]
    where: str = LIST
    """How messages name it."""

    def of(self, key: str) -> Optional[TrustedKey]:
        """The entry of a key (hex)."""
        return next((one for one in self.keys if one.key == key), None)

    def standing(self, key: str, first: str, last: str = "") -> Standing:
        """How `key` stands on the day `first`, or for what was begun on `first` and sealed on `last`.

        Days as YYYY-MM-DD; a whole time as a log writes it will do."""
        entry, first, last = self.of(key), first[:10], (last or first)[:10]
        if entry is None:
            return Standing(UNKNOWN, "", f"not on the list of trusted keys; it begins {key[:8]}")
        if first < entry.since:
            return Standing(NOT_YET, entry.name, f"{entry.name}'s, but it counts only from {entry.since}, and this was "
                            f"begun on {first}")
        if not entry.revoked:
            return Standing(TRUSTED, entry.name, f"{entry.name}'s, on the list of trusted keys from {entry.since}")
        gone = f"{entry.revoked}{f' ({entry.why})' if entry.why else ''}"
        if max(first, last) >= entry.revoked:
            return Standing(REVOKED, entry.name, f"{entry.name}'s, but revoked since {gone}, and this was sealed on "
                            f"{max(first, last)}")
        return Standing(REVOKED_LATER, entry.name, f"{entry.name}'s, revoked since {gone}. This says it was sealed before, "
                        f"on {last}, but whoever has the key can set its clock back: only a receipt or a closing seal held "
                        "elsewhere since before that day proves it")


def trusted_in(office: Union[Path, Place], where: str = "") -> Optional[Trusted]:
    """The list in the office's folder (FOLDER/office of the logs in FOLDER); None where it keeps none.

    Raises TrustErrors, OSError."""
    place = Folder(office) if isinstance(office, Path) else office
    return read_trusted(place, LIST, where or f"office/{LIST}") if place.has(LIST) else None


def trusted_at(path: Path) -> Trusted:
    """The list in a file. Raises TrustErrors; BadInput where it cannot be read."""
    try:
        return read_trusted(Folder(path.parent), path.name, clean(str(path)))
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or str(error)
        raise BadInput(clean(str(path)), f"must be a list of trusted keys that can be read: {why}") from None


def read_trusted(place: Place, name: str, where: str) -> Trusted:
    """The list of that file. Raises TrustErrors with every fault and its line; OSError."""
    with place.open(name) as file:
        data = file.read(4 * MOST_CHARACTERS + 1)
    try:
        return load_trusted(data.decode("utf-8"), where)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise TrustErrors(where, [Fault(line, "a list of trusted keys must be text in UTF-8, but this is not")]) from None


@lru_cache(maxsize=8)
def load_trusted(text: str, where: str = LIST) -> Trusted:
    """The list written in `text`. Raises TrustErrors with every fault and its line."""
    tree = read_tree(text)
    faults = [Fault(fault.line, _of_keys(fault.text)) for fault in tree.faults]
    if tree.value is None or faults:
        raise TrustErrors(where, faults)
    try:
        form = _ListForm.model_validate(tree.value)
    except ValidationError as error:
        found = error.errors(include_url=False)
        raise TrustErrors(where, [_fault(each, tree) for each in found]) from None
    faults = list(_together(form.keys, tree))
    if faults:
        raise TrustErrors(where, faults)
    return Trusted(tuple(TrustedKey(one.key, one.name, one.since, one.revoked or "", one.why or "") for one in form.keys),
                   where)


def _fault(found: Any, tree: Tree) -> Fault:
    return Fault(tree.line(path_of(found)), _of_keys(fault_of(found, tree).text.split("; did you mean", 1)[0]))


def _of_keys(text: str) -> str:
    """The text reader's messages speak of job cards."""
    return text.replace("job card", "list of trusted keys").replace('"card: 1"', '"trusted_keys: 1"')


def _together(keys: tuple[_EntryForm, ...], tree: Tree) -> Iterator[Fault]:
    """What must hold between the keys of an entry, and between entries."""
    seen: set[str] = set()
    for place, one in enumerate(keys):
        if one.key in seen:
            yield Fault(tree.line(("keys", place, "key")), f"a key must stand once, but {one.key[:8]}… stands twice")
        try:
            public_key(one.key)
        except ValueError as error:
            yield Fault(tree.line(("keys", place, "key")), f"key must be one that only its device can sign with: {error}")
        if one.revoked and one.revoked < one.since:
            yield Fault(tree.line(("keys", place, "revoked")), f"revoked must not be before from ({one.since})")
        if one.why and not one.revoked:
            yield Fault(tree.line(("keys", place, "why")), "why must stand beside the day in revoked")
        for name in ("name", "why"):
            if not (getattr(one, name) or "").isprintable():
                yield Fault(tree.line(("keys", place, name)), f"{name} must be printable characters")
        seen.add(one.key)
