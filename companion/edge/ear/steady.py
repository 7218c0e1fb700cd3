"""An ear that outlives its recogniser: what throws is missed, what throws again and again or stalls is made anew."""
from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np

from companion.core.grammar import Listen
from companion.edge.ear.base import NOTHING, RATE, Ear, Guess
from companion.edge.threads import Helper, Stalled, cause, pauses

LIMIT_S = 5.0
"""So long, beside the length of the sound, one utterance may take: a hundred times what it usually does."""
DRAFT_S = 60.0
"""The same for a memo of a minute."""
MAKING_S = 60.0
FAULTS = 3
"""So many in a row are no chance."""


class SteadyEar:
    """An `Ear` over one that `make` gives. Raises at the start as `make` does, and never again.

    `faltered` is told of an utterance that was missed, `noticed` of an ear that is lost (False) and there again (True);
    both must be quick. While it is lost nothing is heard, and one thread tries to make another.
    """

    def __init__(self, make: Callable[[], Ear]) -> None:
        self._make, self._ear, self._closed = make, make(), threading.Event()
        self._helper, self._faults, self._pauses = Helper("ear"), 0, pauses()
        self.name = self._ear.name
        self.faltered: Callable[[str, str], None] = lambda part, why: None
        self.noticed: Callable[[str, bool, str], None] = lambda part, there, why: None
        self.pause: Callable[[float], bool] = self._closed.wait
        """Waits so many seconds between attempts; true once it is closed."""

    def tell(self, faltered: Callable[[str, str], None], noticed: Callable[[str, bool, str], None]) -> None:
        """From now on these are told."""
        self.faltered, self.noticed = faltered, noticed

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """See `Ear`."""
        ear = self._ear
        if ear is None:
            return NOTHING
        try:
            guess = self._helper.do(lambda: ear.hear(samples, listen), LIMIT_S + len(samples) / RATE)
        except Exception as fault:
            self._missed(fault)
            return NOTHING
        if self._faults:
            self._faults, self._pauses = 0, pauses()
        return guess

    def draft(self, samples: np.ndarray) -> str:
        """See `Ear`; "" where it fails."""
        ear = self._ear
        try:
            return self._helper.do(lambda: ear.draft(samples), DRAFT_S) if ear is not None else ""
        except Exception as fault:
            self._missed(fault)
            return ""

    def close(self) -> None:
        """Ends its threads, but for those that never came back."""
        self._closed.set()
        self._helper.close()

    def _missed(self, fault: Exception) -> None:
        """A recogniser out of memory is let go at once: it holds most of it."""
        self._faults += 1
        if self._faults >= FAULTS or isinstance(fault, (Stalled, MemoryError)):
            self._ear = None
            self.noticed("ear", False, cause(fault))
            threading.Thread(target=self._heal, name="ear healer", daemon=True).start()
        else:
            self.faltered("ear", cause(fault))

    def _heal(self) -> None:
        """The pauses grow from loss to loss until an utterance is heard."""
        for seconds in self._pauses:
            if self.pause(seconds):
                return
            try:
                ear = self._helper.do(self._make, MAKING_S)
            except Exception:  # told already; it is tried again
                continue
            self._faults, self._ear = FAULTS - 1, ear
            return self.noticed("ear", True, "")
