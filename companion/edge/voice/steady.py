"""A voice that outlives its engine: it tries again with a fresh one, then with another kind of voice."""
from __future__ import annotations

import logging
import threading
from collections.abc import Callable

import numpy as np

from companion.edge.threads import Helper, cause, pauses
from companion.edge.voice.base import RATE, Voice
from companion.errors import BrokenMachine

LIMIT_S, LIMIT_PER_CHARACTER_S = 8.0, 0.05
"""So long one text may take to render, fifty times what it usually does; a system voice gives up by itself before that."""
MAKING_S = 30.0
_PROBE = "Ready."
_LOG = logging.getLogger(__name__)


class SteadyVoice:
    """A `Voice` over `voice`; `makes` give others: first a fresh one of its kind, then another kind.

    `name` tells which speaks; `Player` says aloud that it changed. `faltered` is told where another attempt helped,
    `noticed` of a voice that is lost (False) and there again (True); `notice` gets a sentence for the screen.
    """

    rate = RATE

    def __init__(self, voice: Voice, makes: tuple[Callable[[], Voice], ...],
                 notice: Callable[[str], None] = lambda text: None) -> None:
        self._voice, self._makes, self._notice = voice, makes, notice
        self._helper, self._lost, self._closed = Helper("voice"), "", threading.Event()
        self.faltered: Callable[[str, str], None] = lambda part, why: None
        self.noticed: Callable[[str, bool, str], None] = lambda part, there, why: None
        self.pause: Callable[[float], bool] = self._closed.wait
        """Waits so many seconds between attempts; true once it is closed."""

    def tell(self, faltered: Callable[[str, str], None], noticed: Callable[[str, bool, str], None]) -> None:
        """From now on these are told."""
        self.faltered, self.noticed = faltered, noticed

    @property
    def name(self) -> str:
        """The voice that speaks now."""
        return self._voice.name

    def render(self, text: str, pace: str = "prose", speed: float = 1.0) -> np.ndarray:
        """See `Voice.render`. Raises BrokenMachine where no voice can; then it is tried again and again in spare time."""
        if self._lost:
            raise _mute(self._lost)
        try:
            return self._rendered(text, pace, speed)
        except BrokenMachine as fault:
            self._lost = fault.found
            self.noticed("voice", False, self._lost)
            threading.Thread(target=self._heal, name="voice healer", daemon=True).start()
            raise

    def close(self) -> None:
        """Ends its thread, but for one that never came back."""
        self._closed.set()
        self._helper.close()

    def _rendered(self, text: str, pace: str, speed: float) -> np.ndarray:
        first: Exception | None = None
        for make in (lambda: self._voice, *self._makes):
            try:
                voice = self._helper.do(make, MAKING_S)
                sound = self._helper.do(lambda: voice.render(text, pace, speed), LIMIT_S + LIMIT_PER_CHARACTER_S * len(text))
            except Exception as fault:
                first = first or fault
                _LOG.warning("a voice failed: %s", cause(fault))
                continue
            self._take(voice, cause(first) if first else "")
            return sound
        raise _mute(cause(first)) from first

    def _take(self, voice: Voice, why: str) -> None:
        before, self._voice = self._voice, voice
        if voice.name != before.name:
            self._notice(f"Another voice takes over: {voice.name}. {why}")
        if why:
            self.faltered("voice", why)

    def _heal(self) -> None:
        for seconds in pauses():
            if self.pause(seconds):
                return
            try:
                self._rendered(_PROBE, "prose", 1.0)
            except BrokenMachine:
                continue
            self._lost = ""
            return self.noticed("voice", True, "")


def _mute(why: str) -> BrokenMachine:
    return BrokenMachine("voice", "must be able to speak", why, "Read the screen; if it stays silent, install the program again")
