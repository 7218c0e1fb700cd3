"""A card as written, with the line of everything on it: what the checks of meaning read."""
from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Iterator, NamedTuple, Union

from companion.core.card.form import CardForm, StepForm
from companion.core.card.text import Fault, Path, Tree
from companion.core.card.values import Step


class Place(NamedTuple):
    """One written step and where it stands."""

    path: Path
    step: StepForm
    group: str
    """What its group is repeated for; "" outside a group."""
    sound: bool
    """Nothing of it was lost in repair."""


@dataclass(frozen=True)
class Sheet:
    """The form, its lines, and the paths of what lost something in repair."""

    form: CardForm
    tree: Tree
    unsure: frozenset[Path] = frozenset()

    def steps(self) -> Iterator[Place]:
        """Every written step, in order."""
        for path, step, group in self.form.placed_steps():
            yield Place(path, step, group, path not in self.unsure)

    @cached_property
    def _paths(self) -> dict[int, Path]:
        return {self.tree.line(place.path): place.path for place in self.steps()}

    def sound(self, *around: Union[str, int]) -> bool:
        """Whether nothing at or within this path was lost in repair."""
        return not any(path[:len(around)] == around for path in self.unsure)

    def step_fault(self, step: Step, text: str, *inside: Union[str, int]) -> Fault:
        """A fault of a built step, on the line of the key `inside` it."""
        return self.fault(text, *self._paths[step.line], *inside)

    def fault(self, text: str, *path: Union[str, int]) -> Fault:
        """A fault on the line of `path`."""
        return Fault(self.tree.line(path), text)
