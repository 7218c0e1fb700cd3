"""What is to be seen at one moment: a frozen picture of the job, without any thought of how it is drawn."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Optional

from companion.core.commands import RULES
from companion.core.events import Hearing, plain
from companion.core.grammar import Listen, Rule
from companion.core.job.prompt import prompt
from companion.core.job.state import Job, Running
from companion.core.job.telling import clock_words, filled, step_words
from companion.core.understand import options


@dataclass(frozen=True)
class Noticed:
    """What was last heard, or typed."""

    how: str
    """Heard, Typed or Pressed."""
    words: str
    score: str
    """The ear's own, 0.00 to 1.00; "" where no ear heard it."""
    accepted: bool


@dataclass(frozen=True)
class Counting:
    """A clock that runs."""

    name: str
    left_ms: int
    """From 0."""


@dataclass(frozen=True)
class Board:
    """The picture."""

    title: str = ""
    practice: bool = False
    stage: str = ""
    number: int = 0
    """Of the present step among all of the card's, from 1; 0 before the first."""
    count: int = 0
    asks: str = ""
    """What the companion asks now: the step, a caution, a question; to be seen from afar."""
    short: str = ""
    """The card's brief words for it; "" where it has none."""
    step: str = ""
    """The present step's words; "" while its cautions are still to be acknowledged."""
    said: str = ""
    """What else was said lately."""
    can_say: tuple[str, ...] = ()
    """Answers to what is asked first, then stop and emergency, questions last."""
    noticed: Optional[Noticed] = None
    clocks: tuple[Counting, ...] = ()
    """The one that ends first stands first."""
    timed: bool = False
    """Whether the present step is to wait or to watch: its clock matters most."""
    urgent: str = ""
    """"emergency", "alarm", "caution" or ""."""
    flash: bool = False
    """Whether it stands out now: on and off by turns, once a second, in an alarm or an emergency. Where noise is above
    100 dB(A) a signal must be seen too (ISO 7731, from memory); three flashes a second would be too many (WCAG 2.3.1)."""
    sound: str = ""
    """listening, speaking, paused, microphone lost, log not written …"""


def board(job: Optional[Job], up_ms: int, live: Listen = Listen(), *, hearing: Optional[Hearing] = None,
          accepted: bool = False, spoken: tuple[str, ...] = (), alarm: str = "", sound: str = "") -> Board:
    """The picture of `job` (None before it is opened) at `up_ms` of its up-clock, while `live` may be said.

    `spoken` is what was said lately, `alarm` the one of them that was said with an alarm and not yet answered.
    """
    around = {"can_say": _can_say(live), "noticed": _noticed(hearing, accepted)}
    if job is None:
        return Board(asks=" ".join(spoken[-1:]), said=" ".join(spoken[:-1]), sound=sound, **around)
    asks = _asks(job) or " ".join(spoken[-1:])
    known = (asks, alarm)
    if alarm not in asks:
        asks = f"{alarm} {asks}"
    return Board(
        title=job.card.title, practice=job.card.practice, stage=job.step.stage, count=len(job.card.steps),
        number=job.card.index(job.at) + 1 if job.at else 0, asks=asks, short=_short(job), step=_step(job),
        said=" ".join(dict.fromkeys(text for text in spoken if text not in known)), clocks=_clocks(job, up_ms),
        timed=job.mode in ("waiting", "watching"),
        urgent=_urgent(job) or ("alarm" if alarm else ""), flash=_flashes(job) and up_ms // 1000 % 2 == 0,
        sound="log not written" if job.held else "paused" if job.paused else sound, **around)


def _can_say(live: Listen) -> tuple[str, ...]:
    return options(Listen(tuple(sorted(live.rules, key=_rank))))


def _rank(rule: Rule) -> int:
    """0: answers to what is asked, made for it or live only then; 1: what keeps safe, which no small screen may cut off;
    2: what changes the record; 3: the rest."""
    answers = rule != RULES.get(rule.name) or rule.name in ("affirm", "negative")
    return 0 if answers else 1 if rule.name in ("stop", "emergency") else 2 if rule.records else 3


def _noticed(hearing: Optional[Hearing], accepted: bool) -> Optional[Noticed]:
    if hearing is None:
        return None
    how = "Pressed" if hearing.by == "pressed" else "Typed" if hearing.score is None else "Heard"
    return Noticed(how, plain(hearing.words), "" if hearing.score is None else str(hearing.score), accepted)


def _asks(job: Job) -> str:
    return "" if job.mode == "ended" else " ".join(effect.text for effect in prompt(job))


def _step(job: Job) -> str:
    return step_words(job) if job.begun and not job.cautions and job.mode != "ended" else ""


def _short(job: Job) -> str:
    """Only for the step itself: a caution and a question stay whole."""
    return filled(job, job.step.brief) if _step(job) and _asks(job) == _step(job) else ""


def _flashes(job: Job) -> bool:
    return job.emergency or job.lone is not None and job.lone.level > 0


def _urgent(job: Job) -> str:
    if job.mode == "alarm":
        return "alarm"
    if job.mode in ("caution", "cautioning"):
        return "caution"
    return "emergency" if job.emergency else ""


def _clocks(job: Job, up_ms: int) -> tuple[Counting, ...]:
    running: list[Running] = sorted((clock for clock in job.clocks.values() if not clock.ended),
                                    key=lambda clock: clock.left(up_ms))
    return tuple(Counting(clock_words(job, clock), clock.left(up_ms)) for clock in running)
