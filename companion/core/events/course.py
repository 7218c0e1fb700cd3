"""The course of a job: opened, resumed, left, ended; its steps, cautions and safeguards."""
from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Optional

from companion.core.events.root import Event, Personal, Words, added


@dataclass(frozen=True, kw_only=True)
class JobOpened(Event):
    """Line 0. Holds the whole card, so that the log can be read for ever."""

    format: int
    program: str
    boot: str
    """Which start of the machine `up` counts from."""
    key: str
    """The device's Ed25519 public key, lower-case hex."""
    card_name: str
    card_sha256: str
    card_text: str
    ear: str
    voice: str
    brief: bool = False
    mechanic: Optional[Personal] = None
    tools_name: str = ""
    """The list of measuring tools, whole like the card; "" where the job has none."""
    tools_sha256: str = ""
    tools_text: str = ""
    attention: str = added()
    """How it listens: open, "word: NAME", or key held; "" where that was not noted."""
    clips: str = added()
    """kept: the operator wants the sound of what is answered, as evidence; "" where not."""


@dataclass(frozen=True, kw_only=True)
class JobResumed(Event):
    """The job went on after the program had stopped."""

    boot: str
    away_ms: int
    """From the last entry before to this one."""
    same_boot: bool
    torn_bytes: int = 0
    """Bytes of an unfinished last line that were cut off; they were never acknowledged."""
    ear: str = ""
    clips: str = added()
    """As in `JobOpened`, from here on."""


@dataclass(frozen=True, kw_only=True)
class JobLeft(Event):
    """The mechanic left the job by "stop job"; it can be resumed."""

    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class JobEnded(Event):
    """The last step ended. Nothing follows but the seal."""

    follows: ClassVar[bool] = True
    seals: ClassVar[bool] = True
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class StepBegun(Event):
    """A step was reached. `how`: next, branch, previous, open (a step left open), gate, resume or again."""

    follows: ClassVar[bool] = True
    how: str = "next"


@dataclass(frozen=True, kw_only=True)
class StepEnded(Event):
    """`outcome` is the branch word: done, affirm, negative, a choice, inside, outside, none, some, right, wrong …"""

    follows: ClassVar[bool] = True
    seals: ClassVar[bool] = True
    outcome: str = "done"


@dataclass(frozen=True, kw_only=True)
class StepLeftOpen(Event):
    """Left open on purpose; must be done before the next gate."""


@dataclass(frozen=True, kw_only=True)
class StepLeftOut(Event):
    """Left out for good, with a reason."""

    seals: ClassVar[bool] = True
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class OpenStepsDue(Event):
    """A gate was reached while steps were open; they are done first."""

    follows: ClassVar[bool] = True
    gate: str
    open: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class CautionHeard(Event):
    """The caution's last word has sounded; only now can it be acknowledged."""

    caution: str
    how: str = added()
    """"shown" where it stood on the screen in place of a voice that failed."""


@dataclass(frozen=True, kw_only=True)
class CautionAcknowledged(Event):
    seals: ClassVar[bool] = True
    caution: str


@dataclass(frozen=True, kw_only=True)
class SafeguardProved(Event):
    """On resume: what made the place safe is still so."""

    safeguard: str


@dataclass(frozen=True, kw_only=True)
class SafeguardDoubted(Event):
    """On resume: it is not, or the mechanic is not sure; the job goes back to `again`."""

    safeguard: str
    again: str


@dataclass(frozen=True, kw_only=True)
class TimeAwayCounted(Event):
    """On resume: the wait's condition held all the time, so the time away counts."""

    clock: str
    away_ms: int


@dataclass(frozen=True, kw_only=True)
class TimeAwayDropped(Event):
    """On resume: the wait's condition did not hold, so the wait starts anew."""

    clock: str


@dataclass(frozen=True, kw_only=True)
class SameMechanicStated(Event):
    """On resume: the same person goes on."""


@dataclass(frozen=True, kw_only=True)
class TakenOver(Event):
    """On resume: another mechanic goes on, by name or spelled initials."""

    seals: ClassVar[bool] = True
    mechanic: Words
