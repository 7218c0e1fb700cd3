"""The facts of a job. Each is written to the log; replaying them gives the state again.

Field types are few (text, whole numbers, yes/no, Decimal, Personal, tuples of text), so that one codec serves all.
Milliseconds are whole numbers. An event whose class has `seals = True` is followed by a signed line.
"""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar, Optional, Union


@dataclass(frozen=True)
class Personal:
    """Words about a person. The log's chain holds only a salted hash; the words lie in the sidecar file beside it."""

    text: str


Words = Union[str, Personal]


@dataclass(frozen=True)
class Hearing:
    """How something was heard; kept with every event that came from it."""

    words: Words
    score: Optional[Decimal] = None
    """0 to 1, two decimals; None for a typed line."""
    ear: str = "typed"


@dataclass(frozen=True, kw_only=True)
class Event:
    """Root of all facts; in the log `ValueLogged` is "value_logged".

    `step` is the id of the step it belongs to ("" before the first).
    """

    seals: ClassVar[bool] = False
    follows: ClassVar[bool] = False
    """Only follows from another event of the same decision, so it does not carry what was heard."""
    step: str = ""
    heard: Optional[Hearing] = None


# -- the job -----------------------------------------------------------------------------------------------------------

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


# -- steps -------------------------------------------------------------------------------------------------------------

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


# -- cautions and safeguards -------------------------------------------------------------------------------------------

@dataclass(frozen=True, kw_only=True)
class CautionHeard(Event):
    """The caution's last word has sounded; only now can it be acknowledged."""

    caution: str


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


# -- answers -----------------------------------------------------------------------------------------------------------

@dataclass(frozen=True, kw_only=True)
class AnswerGiven(Event):
    """Done, affirm, negative or a choice. `name` is the card's name for it ("" for none)."""

    answer: Words
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class ValueLogged(Event):
    """A measured value in the card's unit; as it was said beside it. Digits as text keep trailing zeros."""

    name: str
    value: Words
    unit: str
    said: Words
    said_unit: str
    low: Optional[Decimal] = None
    high: Optional[Decimal] = None
    verdict: str = "inside"
    """inside, outside, or none where the card sets no limit."""
    reason: str = ""
    corrects: bool = False


@dataclass(frozen=True, kw_only=True)
class ReadingNoted(Event):
    """A value the card did not ask for."""

    value: str
    unit: str


@dataclass(frozen=True, kw_only=True)
class CountLogged(Event):
    name: str
    count: int
    must_be: int
    verdict: str = "right"


@dataclass(frozen=True, kw_only=True)
class CodeHeard(Event):
    """One fault code, read back at once. `replaces` is the code it corrects."""

    code: str
    replaces: str = ""


@dataclass(frozen=True, kw_only=True)
class CodesLogged(Event):
    name: str
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SpellingLogged(Event):
    name: str
    text: Words


# -- asking back -------------------------------------------------------------------------------------------------------

@dataclass(frozen=True, kw_only=True)
class Asked(Event):
    """Something waits for the mechanic's word.

    `about`: doubt, undo, outside, leave out, end the wait, stop job, spelling, digits, unit, mechanic, emergency over.
    `needs`: affirm, reason, unit or initials. `rule` and `slots` keep the act that waits ("name=text" each).
    """

    about: str
    needs: str
    rule: str = ""
    slots: tuple[str, ...] = ()
    value: Words = ""
    """What is read back: digits, a spelling, a phrase."""
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Settled(Event):
    """The question was answered: `answer` is affirm, negative, or "replaced" by a new value or by a run's question."""

    about: str
    answer: str


@dataclass(frozen=True, kw_only=True)
class NotUnderstood(Event):
    """Sound or a line that fits nothing that makes sense now. `failures` counts them since the last understood one."""

    failures: int
    taken_for: str = ""
    """The answer it was taken for, without being sure; said once more and taken for the same, it counts."""


@dataclass(frozen=True, kw_only=True)
class DigitsBegun(Event):
    """The value is now taken digit by digit."""


@dataclass(frozen=True, kw_only=True)
class DigitHeard(Event):
    digits: Words
    """All so far."""


@dataclass(frozen=True, kw_only=True)
class KeyOffered(Event):
    """Speech failed too often here: the Enter key, or a typed line, serves instead."""


@dataclass(frozen=True, kw_only=True)
class Refused(Event):
    """An act that does not fit here, and why."""

    act: str
    why: str


# -- clocks ------------------------------------------------------------------------------------------------------------

@dataclass(frozen=True, kw_only=True)
class ClockStarted(Event):
    """`kind`: wait, run or timer."""

    clock: str
    kind: str
    lasts_ms: int


@dataclass(frozen=True, kw_only=True)
class MarkReached(Event):
    clock: str
    left_ms: int


@dataclass(frozen=True, kw_only=True)
class ClockEnded(Event):
    follows: ClassVar[bool] = True
    seals: ClassVar[bool] = True
    clock: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class WaitCutShort(Event):
    """Only a wait that protects the work; never one that protects a person."""

    seals: ClassVar[bool] = True
    clock: str
    left_ms: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class TimerCancelled(Event):
    clock: str


@dataclass(frozen=True, kw_only=True)
class QuestionAsked(Event):
    """A run's question falls due and is being spoken."""

    clock: str
    number: int


@dataclass(frozen=True, kw_only=True)
class QuestionPut(Event):
    """The question's last word has sounded; the answer must come within `within_ms`."""

    clock: str
    number: int
    within_ms: int


@dataclass(frozen=True, kw_only=True)
class RunAnswered(Event):
    seals: ClassVar[bool] = True
    clock: str
    number: int
    """The question answered; 0 when the answer came unasked."""
    answer: str


@dataclass(frozen=True, kw_only=True)
class RunBroken(Event):
    """No answer, or the run was interrupted: the engine is to be stopped. Never a pass."""

    clock: str
    why: str
    """silence, pause, emergency, resume or timer."""


# -- the rest ----------------------------------------------------------------------------------------------------------

@dataclass(frozen=True, kw_only=True)
class Paused(Event):
    word: str = "pause"


@dataclass(frozen=True, kw_only=True)
class Resumed(Event):
    """After a pause, by the mechanic's word."""


@dataclass(frozen=True, kw_only=True)
class Repeated(Event):
    """The companion said again what it last asked."""


@dataclass(frozen=True, kw_only=True)
class Told(Event):
    """A question of the mechanic was answered, from the card and the log. `topic` is the command."""

    topic: str


@dataclass(frozen=True, kw_only=True)
class BriefSet(Event):
    on: bool


@dataclass(frozen=True, kw_only=True)
class EmergencyCalled(Event):
    seals: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class EmergencyEnded(Event):
    seals: ClassVar[bool] = True
