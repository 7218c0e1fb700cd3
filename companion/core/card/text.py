"""The text of a job card, read into plain mappings, lists and words, each with the line it stands on.

A small, safe part of YAML: no anchors, aliases, tags or second documents, every key once, and every scalar kept as
its text, so that "7.50" keeps its zero and "no" stays a word. Hostile text ends in a fault, quickly: reading stops at
the first sign of unreasonable size or depth.
"""
from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Iterator, Union

import yaml

MOST_CHARACTERS = 1_000_000
MOST_DEPTH = 20
MOST_NODES = 20_000
"""Our largest card has about a tenth of this."""

Path = tuple[Union[str, int], ...]
_ASIDE = "\0"
"""Stands in the path of what is passed over; no key of a plain text can be this."""
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# Whatever a text file of words may hold. Rare line ends are left out: editors and YAML count them differently.
_STRANGE = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong with a card."""

    line: int
    """From 1."""
    text: str
    """What must hold, and what was found."""


@dataclass
class Tree:
    """The card's text as nested dict, list and str."""

    value: Any = None
    lines: dict[Path, int] = field(default_factory=dict)
    """Path to line: for an entry of a mapping, the line of its key."""
    faults: list[Fault] = field(default_factory=list)

    def line(self, path: Path) -> int:
        """The line of `path`, or of the nearest thing around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


class _Stop(Exception):
    """Reading cannot go on; carries the fault."""

    def __init__(self, line: int, text: str) -> None:
        self.fault = Fault(line, text)


def read_tree(text: str) -> Tree:
    """Read a card's text. `value` is None if nothing can be made of it; `faults` says why, or what was passed over."""
    tree = Tree()
    try:
        _check_characters(text)
        _Reader(tree).read(text.removeprefix("\ufeff"))
    except _Stop as stop:
        tree.value = None
        tree.faults.append(stop.fault)
    except yaml.MarkedYAMLError as error:
        tree.value = None
        tree.faults.append(Fault(_broken_line(error, text), f"this must be plain YAML, but {error.problem}"))
    return tree


def _check_characters(text: str) -> None:
    if len(text) > MOST_CHARACTERS:
        raise _Stop(1, f"a job card must be at most {MOST_CHARACTERS:,} characters, not {len(text):,}")
    strange = _STRANGE.search(text.removeprefix("\ufeff"))
    if strange:
        line = text.count("\n", 0, strange.start() + text.startswith("\ufeff")) + 1
        raise _Stop(line, f"a job card must be plain text, but holds the character U+{ord(strange.group()):04X}")


class _Reader:
    """Builds the tree from YAML's events, without recursion."""

    def __init__(self, tree: Tree) -> None:
        self.tree, self.nodes, self.depth = tree, 0, 0
        self.events: Iterator[yaml.Event] = iter(())

    def read(self, text: str) -> None:
        self.events = yaml.parse(text, Loader=_LOADER)
        next(self.events)
        start = next(self.events)
        if isinstance(start, yaml.StreamEndEvent):
            raise _Stop(1, "a job card must hold something, but this is empty")
        self.tree.value = self._node(next(self.events), ())
        next(self.events)
        after = next(self.events)
        if not isinstance(after, yaml.StreamEndEvent):
            raise _Stop(_line(after), "a file must hold one job card, but a second document begins here")
        if not isinstance(self.tree.value, dict):
            raise _Stop(1, "a job card must be a mapping of keys, such as \"card: 1\"")

    def _node(self, event: yaml.Event, path: Path) -> Any:
        """The value that begins with `event`. Recursion is bounded by MOST_DEPTH."""
        self._guard(event)
        if isinstance(event, yaml.ScalarEvent):
            return event.value
        self.depth += 1
        build = self._mapping if isinstance(event, yaml.MappingStartEvent) else self._list
        value = build(path)
        self.depth -= 1
        return value

    def _guard(self, event: yaml.Event) -> None:
        self.nodes += 1
        if isinstance(event, yaml.AliasEvent) or event.anchor:
            raise _Stop(_line(event), "anchors are not used in job cards")
        if self.nodes > MOST_NODES:
            raise _Stop(_line(event), f"a job card must hold at most {MOST_NODES:,} entries, but it goes on here")
        if self.depth >= MOST_DEPTH:
            raise _Stop(_line(event), f"a job card must be at most {MOST_DEPTH} levels deep, but it goes deeper here")
        if event.tag:
            self._fault(event, f"tags are not used in job cards, but {event.tag[:40]} stands here")

    def _list(self, path: Path) -> list[Any]:
        made: list[Any] = []
        for event in self.events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            here = (*path, len(made))
            self.tree.lines[here] = _line(event)
            made.append(self._node(event, here))
        return made

    def _mapping(self, path: Path) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for event in self.events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            key = self._node(event, (*path, _ASIDE))
            if isinstance(key, str) and key and key not in made:
                self.tree.lines[(*path, key)] = _line(event)
                made[key] = self._node(next(self.events), (*path, key))
            else:
                self._bad_key(event, key, path)
        return made

    def _bad_key(self, event: yaml.Event, key: Any, path: Path) -> None:
        """Say what is wrong with the key, and pass over what belongs to it."""
        if isinstance(key, str) and key:
            first = self.tree.lines[(*path, key)]
            self._fault(event, f'each key must stand once, but "{key[:40]}" stands on line {first} already')
        else:
            self._fault(event, "a key must be a word, not empty, a list or a mapping")
        self._node(next(self.events), (*path, _ASIDE))

    def _fault(self, event: yaml.Event, text: str) -> None:
        self.tree.faults.append(Fault(_line(event), text))


def _broken_line(error: yaml.MarkedYAMLError, text: str) -> int:
    """Where YAML lost the thread; for what is never closed, where it was opened."""
    found, opened = error.problem_mark, error.context_mark
    mark = opened if opened and (found is None or found.line >= text.count("\n")) else found
    return mark.line + 1 if mark else 1


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1
