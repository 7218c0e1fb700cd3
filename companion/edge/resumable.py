"""Unfinished jobs: finding them, and offering to go on with one."""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import Iterator, Optional

from companion.core.log.chain import BadLine, Chain, replay
from companion.core.log.journal import LONGEST, Entry, pieces
from companion.core.commands import RULES
from companion.core.job.effects import Hush, Message, Say
from companion.core.events import Event, JobOpened, StepBegun
from companion.core.grammar import Listen
from companion.core.job.inputs import Heard, Input, Unheard
from companion.core.log.rfc3339 import milliseconds
from companion.core.understand import understand
from companion.edge.mouth import Mouth
from companion.edge.torn import is_leftover
from companion.errors import BadInput, CompanionError

_LIVE = Listen((RULES["affirm"], RULES["negative"], RULES["emergency"]))

MOST_BYTES = 32 * 2**20
"""Of a log that is taken up again: eight hours with 5,000 answers are two million."""


@dataclass(frozen=True)
class Found:
    """A log whose job is not finished."""

    path: Path
    card_name: str
    begun: str
    """RFC 3339."""
    step: str


def look(path: Path) -> Optional[Found]:
    """What stands in a log, without holding it; None where the job is finished.

    A log that broke off before its first line was whole has no card's name.

    Raises BadEvidence where the chain does not hold.
    """
    if path.stat().st_size > MOST_BYTES:
        raise BadInput(str(path), f"an unfinished job's log must be at most {MOST_BYTES:,} bytes long", do="Begin a new job")
    chain = Chain(str(path))
    card, begun, step = "", "", ""
    for entry in _entries(path, chain):
        if isinstance(entry.event, JobOpened):
            card, begun = entry.event.card_name, entry.at
        elif isinstance(entry.event, StepBegun):
            step = entry.event.step
    return None if chain.finished else Found(path, card, begun, step)


def _entries(path: Path, chain: Chain) -> Iterator[Entry]:
    """Those of a log, but for an end that a power cut left."""
    with open(path, "rb") as file:
        try:
            yield from replay(pieces(file), {}, chain)
        except BadLine:
            file.seek(chain.size)
            if not is_leftover(file.read(LONGEST + 1)):
                raise


def unfinished(folder: Path, card_name: str) -> Optional[Found]:
    """The newest unfinished job on this card in `folder`; a log that cannot be read is passed over."""
    return next((found for found in _looked(folder) if found.card_name == card_name), None)


def _looked(folder: Path) -> Iterator[Found]:
    for path in sorted(folder.glob("*.jsonl"), key=lambda path: path.stat().st_mtime, reverse=True):
        try:
            found = look(path)
        except (CompanionError, OSError):
            continue
        if found is not None:
            yield found


class Offer:
    """Asks whether to go on with an unfinished job. Driven like a job, by the same ear and mouth."""

    due = None
    listening = _LIVE

    def __init__(self, found: Found, mouth: Mouth, emergency: str, help_text: str) -> None:
        """`emergency` is said, and `help_text` sent to the contacts, when one is called before the job goes on."""
        self._mouth, self._emergency, self._help = mouth, emergency, help_text
        day = datetime.fromtimestamp(milliseconds(found.begun) / 1000, timezone.utc)
        self._words = (f"An unfinished job was found, begun on {day:%A} at {day:%H} {day:%M} U T C, "
                       f"at step {found.step.replace('-', ' ').replace('.', ' ')}. Resume it? Affirm, or negative?")
        self.answer: Optional[bool] = None

    @property
    def over(self) -> bool:
        """Whether it was answered."""
        return self.answer is not None

    def ask(self) -> None:
        """Speak the question."""
        self._mouth.carry_out(Say(self._words))

    def take(self, what: Input) -> tuple[Event, ...]:
        """Anything else that is said than a sure yes or no has the question asked again; an emergency is read at once."""
        if not isinstance(what, (Heard, Unheard)):
            return ()
        reading = understand(_LIVE, str(what.hearing.words)) if isinstance(what, Heard) else None
        if reading is not None and reading.rule == "emergency":
            self._mouth.carry_out(Hush())
            self._mouth.carry_out(Message("help", self._help))
            self._mouth.carry_out(Say(self._emergency))
        elif reading is None or not what.sure:
            self.ask()
        else:
            self.answer = reading.rule == "affirm"
        return ()
