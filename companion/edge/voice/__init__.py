"""The companion's voices behind one interface."""
from __future__ import annotations

import sys
from collections.abc import Callable

from companion.edge.voice.base import PACES, RATE, Voice
from companion.edge.voice.builtin import MECHANIC, BuiltinVoice
from companion.edge.voice.steady import SteadyVoice
from companion.edge.voice.system import SystemVoice
from companion.errors import BadInput, BrokenMachine

__all__ = ["PACES", "RATE", "Voice", "SteadyVoice", "load_voice", "mechanic_voice"]


def load_voice(prefer: str = "auto", notice: Callable[[str], None] = lambda text: None, speed: float = 1.0) -> SteadyVoice:
    """The companion's voice. auto: the system's where it has a good one, else the built-in; system and builtin insist.

    On Linux the system's voice is espeak-ng, of which a recogniser got 29.6 % of the words wrong where it got 3.8 % of the
    built-in one's wrong (154 card sentences, free decoding): there auto takes the built-in voice.
    Where it fails later a fresh one is tried, then the other kind; `notice` gets a sentence, and the player says it aloud.
    `speed` 1 is 150 to 170 words a minute. Raises BrokenMachine where the wanted voice cannot be had.
    """
    if prefer not in ("auto", "system", "builtin"):
        raise BadInput("voice", "must be auto, system or builtin", repr(prefer))
    system, builtin = lambda: SystemVoice(speed), lambda: BuiltinVoice.afresh(speed)
    if prefer == "system" or (prefer == "auto" and not sys.platform.startswith("linux")):
        try:
            return SteadyVoice(SystemVoice(speed), (system, builtin), notice)
        except BrokenMachine:
            if prefer == "system":
                raise
    return SteadyVoice(BuiltinVoice(speed=speed), (builtin, system), notice)


def mechanic_voice(speed: float = 1.0) -> Voice:
    """Another voice than any `load_voice` gives, for a synthetic mechanic: lower, and easy for the recogniser."""
    return BuiltinVoice(MECHANIC, speed)
