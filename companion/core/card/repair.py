"""A card with faults of form, made whole enough for the checks of meaning, so that one pass finds both kinds.

A misspelt key is taken as the key that was perhaps meant; a bad entry is left out, or replaced where it cannot be
missed. A step that lost something this way is "unsure": checks that would only repeat the same fault pass over it.
The repaired form is never used for a job.
"""
from __future__ import annotations

from typing import Any, Optional

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from companion.core.card.faults import fault_of, known_keys, misspelt_answer, nearest, path_of
from companion.core.card.form import CardForm
from companion.core.card.sheet import Sheet
from companion.core.card.text import Path, Tree

_ROUNDS = 5
_MOST_FAULTS = 200

# In the place of what is missing or bad but cannot be left out.
_STAND_INS: dict[str, Any] = {
    "card": "1", "id": "unnamed", "title": "card", "version": "0", "practice": "true", "applies_to": "a vehicle",
    "defers": "words", "emergency": "words", "stage": "stage", "say": "words", "answer": "acknowledged in words",
    "source": "source", "kind": "wait", "lasts": "1 h", "count": "4", "counted_from": "one end", "marks": [],
}
_BLANK = {name: {key: _STAND_INS[key] for key in keys.split()}
          for name, keys in {"cautions": "say answer source", "clocks": "kind lasts say marks"}.items()}
_BEYOND_REPAIR = ("stages", "steps", "for_each", "cautions", "clocks", "lists")


def read_form(tree: Tree) -> Optional[Sheet]:
    """The form of a card, with the paths of what is unsure. Faults of form are added to `tree.faults`.

    None if so little is sound that checks of meaning would only mislead."""
    unsure: set[Path] = set()
    for _ in range(_ROUNDS):
        try:
            return Sheet(CardForm.model_validate(tree.value), tree, frozenset(unsure))
        except ValidationError as error:
            errors = [found for found in error.errors(include_url=False) if not _echo(found)]
        if not _mend(errors[:_MOST_FAULTS], tree, unsure) or len(errors) > _MOST_FAULTS:
            break
    return None


def _echo(error: ErrorDetails) -> bool:
    """Whether a list is called too short only because its bad entries were not counted."""
    return error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"]


def _mend(errors: list[ErrorDetails], tree: Tree, unsure: set[Path]) -> bool:
    """Note and repair these errors, misspelt keys first: what is missing may be among them."""
    mended = True
    for error in sorted(errors, key=lambda error: error["type"] not in ("extra_forbidden", "answer_kind")):
        if error["type"] == "missing" and _at(tree, path_of(error)) is not None:
            continue
        tree.faults.append(fault_of(error, tree))
        mended = _repair(error, tree, unsure) and mended
    return mended


def _repair(error: ErrorDetails, tree: Tree, unsure: set[Path]) -> bool:
    """Change the tree so that this error goes away. False if that would lose too much."""
    path = path_of(error)
    step = _step_path(path)
    if error["type"] == "extra_forbidden":
        return _rename(tree, path, nearest(str(path[-1]), known_keys(error)))
    if error["type"] == "answer_kind" and misspelt_answer(error)[0]:
        wrong, close = misspelt_answer(error)
        return _rename(tree, (*path, wrong), close)
    if step:
        unsure.add(step)
        return _mend_step(tree, step, path[len(step):])
    unsure.add(path[:2])
    return _mend_head(tree, path)


def _step_path(path: Path) -> Path:
    """The path of the step around `path`, or ()."""
    ends = [place + 2 for place, part in enumerate(path[:-1]) if part == "steps" and isinstance(path[place + 1], int)]
    return path[:ends[-1]] if ends and path[0] == "stages" else ()


def _at(tree: Tree, path: Path) -> Any:
    """What stands at `path` now; None if nothing does."""
    node = tree.value
    for part in path:
        try:
            node = node[part]
        except (LookupError, TypeError):
            return None
    return node


def _rename(tree: Tree, path: Path, name: str) -> bool:
    """Take the misspelt key as `name`, unless that stands there too; then it is left out."""
    node = _at(tree, path[:-1])
    if not isinstance(node, dict):
        return False
    value = node.pop(path[-1], None)
    if name and value is not None and name not in node:
        node[name] = value
        moved = {place: line for place, line in tree.lines.items() if place[:len(path)] == path}
        tree.lines.update({(*path[:-1], name, *place[len(path):]): line for place, line in moved.items()})
    return True


def _mend_step(tree: Tree, step: Path, inside: Path) -> bool:
    """The bad entry of a step is left out; its answer becomes "done"."""
    node = _at(tree, step)
    if not inside or not isinstance(node, dict) or inside[0] in _BEYOND_REPAIR[:3]:
        return False
    node.pop(inside[0], None)
    if inside[0] == "id":
        node["id"] = f"step-on-line-{tree.line(step)}"
    if inside[0] in ("answer", "wait", "run"):
        node["answer"] = "done"
    return True


def _mend_head(tree: Tree, path: Path) -> bool:
    """An entry of the head is left out, or stood in for."""
    if not path or path[-1] in _BEYOND_REPAIR or path[0] == "lists":
        return False
    if path[0] in ("cautions", "clocks") and len(path) == 2:
        _at(tree, path[:1])[path[1]] = dict(_BLANK[path[0]])
        return True
    depth = {"cautions": 2, "clocks": 2, "stages": 2, "cylinders": 1}.get(str(path[0]), 0)
    depth = min(depth, len(path) - 1)
    node, key = _at(tree, path[:depth]), path[depth]
    if not isinstance(node, dict):
        return False
    node.pop(key, None)
    if key in _STAND_INS:
        node[key] = _STAND_INS[key]
    return True
