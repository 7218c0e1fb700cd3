"""Carrying out speech effects: printed, spoken by a player in real time, or spoken while a simulated clock moves."""
from __future__ import annotations

import sys
from typing import Callable, Optional, Protocol, TextIO

from companion.core.job.effects import Effect, Hush, Record, Say, SetVoice, StopRecording, Tone
from companion.edge.clock import SimulatedClock
from companion.edge.player import Ended, Player
from companion.terminal import clean


_LAST_WORDS_S = 60.0


class Mouth(Protocol):
    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """Render ahead, while the entry is being written."""

    def carry_out(self, effect: Effect) -> None:
        """Say, sound or hush. What carries a tag is reported after its last word."""

    def close(self) -> None:
        """Fall silent."""


class Records(Protocol):
    """Whoever takes down memos."""

    def begin(self, memo: Record) -> None:
        """Once the companion is silent, until silence ends it."""

    def stop(self) -> None:
        """Now, if one is being taken."""


Report = Callable[[str], None]
"""Takes the tag of speech whose last word has sounded."""


class PrintedMouth:
    """Writes what would be said, one line each; reading takes no time. Control characters never reach the terminal."""

    def __init__(self, report: Report, out: Optional[TextIO] = None) -> None:
        self._report, self._out = report, out or sys.stdout

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """See `Mouth`: nothing to render."""

    def carry_out(self, effect: Effect) -> None:
        """See `Mouth`."""
        if isinstance(effect, Say):
            print(f"companion: {clean(effect.text)}", file=self._out, flush=True)
            if effect.tag:
                self._report(effect.tag)
        elif isinstance(effect, Tone) and effect.kind.startswith("alarm"):
            bell = "\a" if self._out.isatty() else ""  # the terminal's own: there may be no other sound
            print(f"companion: (The alarm sounds.){bell}", file=self._out, flush=True)

    def close(self) -> None:
        """See `Mouth`: nothing sounds."""


class SpokenMouth:
    """Real time: the player's own thread speaks, and `on_end` hears of each ending."""

    def __init__(self, player: Player, shown: Mouth, recorder: Optional[Records] = None) -> None:
        self.player, self._shown, self._recorder = player, shown, recorder

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """See `Mouth`."""
        _prepare(self.player, effects)

    def carry_out(self, effect: Effect) -> None:
        """See `Mouth`."""
        self._shown.carry_out(effect)
        if isinstance(effect, Say):
            self.player.say(effect.text, effect.tag, effect.pace)
        elif isinstance(effect, Tone):
            self.player.tone(effect.kind)
        elif isinstance(effect, Hush):
            self.player.hush()
        else:
            _other(effect, self.player, self._recorder)

    def close(self) -> None:
        """See `Mouth`. The last words are spoken to their end, unless something keeps them from it for a minute."""
        self.player.go_on()
        self.player.wait(_LAST_WORDS_S)
        self.player.close()
        self._shown.close()


class SimulatedMouth:
    """Simulated time: each utterance moves the clock by its own length."""

    def __init__(self, player: Player, clock: SimulatedClock, report: Report, shown: Mouth,
                 recorder: Optional[Records] = None) -> None:
        self.player, self._clock, self._report, self._shown = player, clock, report, shown
        self._recorder = recorder

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """See `Mouth`."""
        _prepare(self.player, effects)

    def carry_out(self, effect: Effect) -> None:
        """See `Mouth`."""
        self._shown.carry_out(effect)
        if isinstance(effect, Say):
            self._clock.advance(round(1000 * self.player.say_now(effect.text, effect.pace)))
            if effect.tag:
                self._report(effect.tag)
        elif isinstance(effect, Tone):
            self._clock.advance(round(1000 * self.player.tone_now(effect.kind)))
        else:
            _other(effect, self.player, self._recorder)

    def close(self) -> None:
        """See `Mouth`."""
        self.player.close()
        self._shown.close()


def _prepare(player: Player, effects: tuple[Effect, ...]) -> None:
    for effect in effects:
        if isinstance(effect, SetVoice):
            _set_voice(effect, player)
        elif isinstance(effect, Say):
            player.prepare(effect.text, effect.pace)


def _set_voice(effect: SetVoice, player: Player) -> None:
    player.set_voice(effect.speed / 100, effect.loudness)


def _other(effect: Effect, player: Player, recorder: Optional[Records]) -> None:
    """What both spoken mouths do alike."""
    if isinstance(effect, SetVoice):
        _set_voice(effect, player)
    elif isinstance(effect, Record) and recorder is not None:
        recorder.begin(effect)
    elif isinstance(effect, StopRecording) and recorder is not None:
        recorder.stop()


def spoken_to_end(ended: Ended, report: Report) -> None:
    """For a player's `on_end`: only speech that sounded whole counts as spoken to its end."""
    if ended.tag and ended.text and ended.whole:
        report(ended.tag)
