"""Whose turn it is: the companion speaks, and falls silent as soon as somebody else does.

While its own sound is in the air the ear gets the microphone without it. Speech found there pauses the companion at
once; what was said is heard in the clear from then on. If it means something it is obeyed; if not, the companion goes
on a little before where it stopped. Until the canceller has learnt the room nothing is heard beside its own speech.
"""
from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from companion.core.grammar import Listen
from companion.edge.ear import Guess, LivePath
from companion.edge.live.echo import Canceller
from companion.edge.sound.microphone import FRAME, Frame
from companion.edge.sound.sources import EAR_RATE

LONGEST_S = 4.0
"""So long at most the companion waits for one who speaks: a value with its unit takes 3 s."""
PATIENCE_S = 8.0
"""So long at most it waits in all before it has said what it had to say: a radio must not keep a caution from being said."""


class Speaker(Protocol):
    """As much of a `Player` as taking turns needs."""

    idle: bool

    def hold(self) -> None: ...

    def go_on(self) -> None: ...


class Silent:
    """A companion that only prints."""

    idle = True

    def hold(self) -> None:
        """There is nothing to hold."""

    def go_on(self) -> None:
        """Nor to go on with."""


class Turns:
    """Frames in, guesses out. Not for two threads at once.

    `on_pause` is told when somebody is heard above the companion's own speech.
    """

    def __init__(self, path: LivePath, speaker: Speaker, on_pause: Callable[[], None] = lambda: None) -> None:
        self.path, self._speaker, self._on_pause = path, speaker, on_pause
        self.canceller = Canceller()
        self._spoken_s = self._waited_s = 0.0
        self.held = self._above = False
        """`held`: whether the companion has paused to hear somebody out."""

    def feed(self, frame: Frame, listen: Listen) -> list[tuple[Guess, bool]]:
        """The guesses that this sound completed, each with whether it began above the companion's own speech.

        After an accepted one the companion stays silent until `go_on` of the speaker: the answer comes first.
        """
        clean = self.canceller.clean(frame.heard, frame.played)
        if frame.shifted:
            self.canceller.relearn()
        self.path.listen(listen)
        if self.canceller.sounding and not self.canceller.learnt:
            self.path.reset()
            return []
        guesses = self.path.feed(clean)
        self._give_way()
        above = self._above
        if not self.path.speaking:
            self._above = False
            self._take_back(any(guess.accepted for guess in guesses))
        return [(guess, above) for guess in guesses]

    def forget(self) -> None:
        """Other devices: whatever was being said is lost, and the room is to be learnt again."""
        self.path.reset()
        self.canceller.forget()
        self._take_back(False)

    def _give_way(self) -> None:
        """Silent while somebody speaks, but not for ever."""
        self._spoken_s = self._spoken_s + FRAME / EAR_RATE if self.path.speaking else 0.0
        self._waited_s = 0.0 if self._speaker.idle else self._waited_s + self.held * FRAME / EAR_RATE
        if self._spoken_s > LONGEST_S or self._waited_s > PATIENCE_S:
            return self._take_back(False)
        if not self.path.speaking or self._speaker.idle:
            return
        self._speaker.hold()
        if not self.held:
            self.held = self._above = True
            self._on_pause()

    def _take_back(self, obeyed: bool) -> None:
        if self.held and not obeyed:
            self._speaker.go_on()
        self._waited_s = 0.0 if obeyed else self._waited_s
        self.held = False
