"""One job on a simulated clock: the real core decides, and its log grows in memory, written once at the end.

As `edge.loop` and `edge.logfile` do it, without a disk: the companion's own words take their time, a caution or a
question counts as heard after its last word, and what falls due comes at its moment."""
from __future__ import annotations

from collections import deque
from typing import Callable, Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.events import Event
from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.job.effects import Effect, Say
from companion.core.job.inputs import CameBack, Input, Now, Opened, SpokenToEnd, Tick
from companion.core.job.speech import effects
from companion.core.job.state import Job
from companion.core.job.ticks import due
from companion.core.log.chain import Chain
from companion.core.log.rfc3339 import stamp
from companion.core.log.sidecar import dump_sidecar

WORDS_A_SECOND = 2.6
"""Of the companion's voice."""
BREATH_MS = 250
"""Silence after each thing it says."""
_ANSWERS_AFTER_MS = 6_000
"""From the words of a check to "I am okay"."""


class Shift:
    """A job being worked. `salt` gives the bytes that hide what is personal."""

    def __init__(self, opening: Opened, began: Now, key: Ed25519PrivateKey, salt: Callable[[], bytes],
                 aloud: bool) -> None:
        self.now, self.aloud = began, aloud
        self.job: Optional[Job] = None
        self.shown = 0
        """Words said or shown since `take` was last called from outside."""
        self._key, self._salt, self._chain = key, salt, Chain()
        self._lines: list[bytes] = []
        self._beside: list[dict[str, str]] = []
        self._ended: deque[str] = deque()
        self.take(opening)

    @property
    def entries(self) -> int:
        """Lines so far, seals among them."""
        return self._chain.n

    @property
    def over(self) -> bool:
        """Whether the job is done or left."""
        return self.job.mode == "ended"

    def log(self) -> tuple[bytes, bytes]:
        """The log and its sidecar."""
        return b"".join(self._lines), dump_sidecar(self._beside)

    def take(self, what: Input) -> None:
        """One input, and all that follows from it at once."""
        self.shown = 0
        self._carry(what)
        self._settle()

    def wait(self, ms: int, okay: Optional[Input] = None) -> None:
        """Let time pass, stopping at each moment at which something falls due; `okay` answers a check soon after it."""
        until = self.now.up_ms + ms
        while not self.over:
            moment = due(self.job)
            if moment is None or moment > until:
                break
            self._advance(moment - self.now.up_ms)
            self._settle()
            if okay is not None and self.job.lone is not None and self.job.lone.answer_by_up:
                self._advance(_ANSWERS_AFTER_MS)
                self.take(okay)
        self._advance(until - self.now.up_ms)
        self._settle()

    def wait_until_due(self, okay: Optional[Input] = None) -> bool:
        """Let time pass until something falls due; False where nothing will."""
        moment = due(self.job)
        if moment is None:
            return False
        self.wait(max(0, moment - self.now.up_ms), okay)
        return True

    def set_clock(self, by_ms: int) -> None:
        """The time of day steps; the other clock does not."""
        self.now = Now(self.now.at_ms + by_ms, self.now.up_ms)

    def come_back(self, after_ms: int, up_ms: int, back: CameBack) -> None:
        """Go on in another start of the machine, which is `up_ms` old."""
        self.now = Now(self.now.at_ms + after_ms, up_ms)
        self.take(back)

    # -- one input -----------------------------------------------------------------------------------------------------

    def _carry(self, what: Input) -> bool:
        """Decide, write, apply, speak; whether anything came of it."""
        made = decide(self.job, what, self.now)
        speech: list[Effect] = []
        for event in made:
            self.job = apply(self.job, event, self.now)
            speech += effects(event, self.job)
        self._write(made)
        for effect in speech:
            if isinstance(effect, Say):
                self._speak(effect)
        return bool(made)

    def _write(self, made: tuple[Event, ...]) -> None:
        at, up = stamp(self.now.at_ms), self.now.up_ms
        for event in made:
            line, hidden = self._chain.add(event, at, up, self._salt)
            self._lines.append(line)
            self._beside += hidden
            if event.seals:
                self._lines.append(self._chain.seal(self._key)[0])

    def _speak(self, effect: Say) -> None:
        words = effect.text.count(" ") + 1
        self.shown += words
        if self.aloud:
            self._advance(round(1000 * words / WORDS_A_SECOND * 100 / self.job.voice_speed) + BREATH_MS)
        if effect.tag:
            self._ended.append(effect.tag)

    def _settle(self) -> None:
        """Speech that has ended and what is due, until nothing is left to do at this moment."""
        while not self.over:
            if self._ended:
                self._carry(SpokenToEnd(self._ended.popleft()))
            elif (moment := due(self.job)) is None or moment > self.now.up_ms or not self._carry(Tick()):
                return

    def _advance(self, ms: int) -> None:
        if ms > 0:
            self.now = Now(self.now.at_ms + ms, self.now.up_ms + ms)
