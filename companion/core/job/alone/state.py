"""Where looking after a lone mechanic stands: one frozen part of the job's state, and what each fact does to it."""
from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Optional

from companion.core import events as ev

TOP = 3
"""The loudest level of the alarm."""


@dataclass(frozen=True)
class Lone:
    """Times are on the up-clock of the present boot, in milliseconds; 0: none."""

    every_ms: int
    at_risk_ms: int
    within_ms: int
    contacts: int
    sign_up: int
    """When the last sign of life was heard."""
    place: str = ""
    call_by_ms: int = 0
    """On the wall clock: when a contact calls."""
    call_by_said: str = ""
    call_by_told: bool = False
    risks: tuple[str, ...] = ()
    back_by_up: int = 0
    """When somebody on the road agreed to be back."""
    on_the_road: bool = False
    checks: int = 0
    answer_by_up: int = 0
    """A check waits for its answer until then."""
    level: int = 0
    """Of the alarm; 0: silent."""
    answered: bool = False
    """The first part of ending it was said."""
    times: int = 0
    rings_up: int = 0
    """When it sounds again."""
    called: str = ""
    """Why help was called, as in `HelpCalled`, until the all-clear is given; "" where it was not."""
    alarm_heard: bool = False
    """The day's test of the alarm was heard."""
    signed_off: bool = False

    @property
    def interval_ms(self) -> int:
        """For so long nothing may be heard now."""
        return self.at_risk_ms if self.risks else self.every_ms

    @property
    def check_up(self) -> int:
        """When the next check falls due."""
        if self.on_the_road and self.back_by_up:
            return self.back_by_up
        return self.sign_up + self.interval_ms - self.within_ms

    def but(self, **changes: object) -> Lone:
        """A copy with some fields changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


#: What is heard too easily, or changes nothing, and so is no sign that somebody is well: noise may be taken for it.
#: So are the offers after three failures, and what is done without asking back however doubtful it was.
_NO_SIGN = (ev.NotUnderstood, ev.DigitsBegun, ev.KeyOffered, ev.Refused, ev.Told, ev.Repeated, ev.VoiceSet, ev.BriefSet,
            ev.Asked, ev.Settled, ev.Paused, ev.RunBroken, ev.Resumed, ev.ClockStarted, ev.TimerCancelled, ev.MemoBegun)


def sign_of_life(event: ev.Event) -> bool:
    """Whether somebody said, typed or pressed this, or put words on record."""
    if isinstance(event, ev.MemoKept):
        return True
    heard = event.heard
    if heard is None or isinstance(event, ev.NotUnderstood):
        return False
    return heard.score is None or not isinstance(event, _NO_SIGN)


def lived(lone: Optional[Lone], event: ev.Event, up_ms: int) -> Optional[Lone]:
    """After a sign of life. It settles a check, but no alarm: that takes two parts."""
    if lone is None or not sign_of_life(event):
        return lone
    if lone.on_the_road and lone.back_by_up <= up_ms:  # overdue, but heard: the usual interval holds from now on
        lone = lone.but(back_by_up=0)
    return lone.but(sign_up=up_ms, answer_by_up=0)
