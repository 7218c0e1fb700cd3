"""Job cards on the disk: a path, or the name of a card that is shipped with the program."""
from __future__ import annotations

from pathlib import Path

import companion
from companion.core.card import Card, CardErrors, load_card
from companion.core.card.text import Fault
from companion.errors import BadInput

MOST_BYTES = 1_000_000
TOOLS = "tools.yaml"
"""The list of measuring tools that lies beside the cards."""


def shipped_folder() -> Path:
    """Where the shipped cards lie: inside an installed package, or beside it in a source checkout."""
    package = Path(companion.__file__).resolve().parent
    inside = package / "checklists"
    return inside if inside.is_dir() else package.parent / "checklists"


def shipped() -> tuple[str, ...]:
    """The names of the shipped cards."""
    return tuple(sorted(path.stem for path in shipped_folder().glob("*.yaml") if path.name != TOOLS))


def find_card(name_or_path: str | Path) -> Path:
    """The file of a card: a path as given, or a shipped card's name. BadInput if there is no such file."""
    path = Path(name_or_path)
    try:
        if path.is_file():
            return path
        beside = shipped_folder() / f"{path.name}.yaml"
        if path.name == str(name_or_path) and beside.is_file():
            return beside
    except (OSError, ValueError):
        pass
    raise BadInput(str(name_or_path), "a job card must be a file, or one of the shipped cards " + ", ".join(shipped()))


def card_text(path: Path, where: str, what: str = "a job card") -> str:
    """The text of a card's file, or of a tool list's; of one that is too large, no more than the limit is read."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        size = path.stat().st_size
    except OSError as error:
        raise BadInput(where, f"{what} must be readable, but the system says: {error.strerror}") from error
    if len(data) > MOST_BYTES:
        raise CardErrors(where, [Fault(1, f"{what} must be at most {MOST_BYTES:,} bytes, not {size:,}")])
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CardErrors(where, [Fault(line, f"{what} must be text in UTF-8, but this is not")]) from error


def read_card(name_or_path: str | Path) -> Card:
    """The card at a path, or the shipped card of that name.

    Raises BadInput if there is no such file, CardErrors if the card has faults."""
    return load_card(*read_text(name_or_path))


def read_text(name_or_path: str | Path) -> tuple[str, str]:
    """The text of a card or a tool list, and how messages name it. Raises as `read_card` does."""
    path = find_card(name_or_path)
    where = f"{path.parent.name}/{path.name}" if path.parent == shipped_folder() else str(name_or_path)
    return card_text(path, where), where
