"""Opening a new job: the card and the measuring tools that it asks for, whole and hashed."""
from __future__ import annotations

from datetime import datetime, timezone
from hashlib import sha256
from os.path import isfile
from pathlib import Path
from typing import NamedTuple, Optional

from companion import VERSION
from companion.core.card import Card, ToolOf
from companion.core.job.inputs import Opened
from companion.core.toolbox import ToolList, load_tools
from companion.edge.cards import card_text, find_card, shipped_folder, TOOLS
from companion.errors import BadInput


class Tools(NamedTuple):
    """A tool list as a job holds it."""

    name: str
    text: str


NO_TOOLS = Tools("", "")


def tools_for(card: Card, card_name: str, given: Optional[Path] = None) -> Tools:
    """The tool list that was given, or the one beside the card where the card asks for a tool.

    Raises BadInput where the card asks for one and there is none, where the list has faults, or where a real job would
    be worked with invented tools."""
    if given is None and not any(isinstance(step.answer, ToolOf) for step in card.steps):
        return NO_TOOLS
    path = given or find_card(card_name).parent / TOOLS
    if not isfile(path):
        must = "the tool list must be a file, but there is none of this name" if given else (
            "the card asks for measuring tools, so a tool list must stand here")
        raise BadInput(str(path), must, do="" if given else "Write one, or name it with --tools")
    where = f"{path.parent.name}/{path.name}" if path.parent == shipped_folder() else str(path)
    tools = Tools(where, card_text(path, where, "a tool list"))
    if today_of(tools).practice and not card.practice:
        raise BadInput(where, "holds invented tools, for practice cards only", do="Name your own list with --tools")
    return tools


def today_of(tools: Tools) -> Optional[ToolList]:
    """The tools as of today; None where there are none. Raises BadInput with every fault of the list."""
    return load_tools(tools.text, tools.name, datetime.now(timezone.utc).date()) if tools.name else None


def opened(card: Card, tools: Tools = NO_TOOLS, **given: object) -> Opened:
    """The input that opens a job; `given` are the other fields of `Opened` (boot, key, ear, voice …)."""
    return Opened(card_name=card.id, card_text=card.text, card_sha256=_hash(card.text), tools_name=tools.name,
                  tools_text=tools.text, tools_sha256=_hash(tools.text) if tools.text else "",
                  program=f"companion {VERSION}", **given)  # type: ignore[arg-type]


def _hash(text: str) -> str:
    return sha256(text.encode()).hexdigest()
