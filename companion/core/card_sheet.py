"""A card as written, with the line of everything on it: what the checks of meaning read."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterator, NamedTuple, Union

from companion.core.card_form import CardForm, StepForm
from companion.core.card_text import Fault, Path, Tree


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
    """The form, its lines, and the paths of steps that lost something in repair."""

    form: CardForm
    tree: Tree
    unsure: frozenset[Path] = frozenset()

    def steps(self) -> Iterator[Place]:
        """Every written step, in order."""
        for path, step, group in self.form.placed_steps():
            yield Place(path, step, group, path not in self.unsure)

    def fault(self, text: str, *path: Union[str, int]) -> Fault:
        """A fault on the line of `path`."""
        return Fault(self.tree.line(path), text)
