"""Whether the companion hears itself, and whether it can be interrupted: on paper, with the real voice, canceller and ear."""
from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import soxr

from companion.core.card import ValueOf
from companion.core.job.listen import listen_for
from companion.core.understand import understand
from companion.edge.bench.room import PaperSpeaker, Room, live
from companion.edge.cards import read_card
from companion.edge.ear import LivePath, load_ear
from companion.edge.sound import EAR_RATE
from companion.edge.voice import Voice, load_voice
from companion.edge.voice.builtin import BuiltinVoice, Throat

THROATS = (Throat("low", 1.15, 0.6), Throat("middle", 1.08, 0.75), Throat("long", 1.1, 0.62))
"""Talkers, made of the built-in voice's model."""
COMMANDS = ("stop", "emergency", "pause", "repeat", "say again", "how long", "options", "where was I", "stop job")
WITHIN_S = 0.5
LEVELS = (-10.0, 0.0)
"""Of its own voice at the microphone, in dB above the talker's."""
MINUTES, COUNT = 60, 100
"""So long it listens to itself, half at each level, and so often it is interrupted at each."""
_LEARNING_S, _AFTER_S = 2.5, 2.0
_TALKER = 10 ** (-6 / 20)  # voices have -20 dBFS, the talker -26


@dataclass(frozen=True)
class OwnVoice:
    """Its own speech alone."""

    minutes: float
    echo_db: float
    accepted: int
    """Guesses that were accepted; none must be."""
    pauses: int
    """How often it paused for nobody."""


@dataclass(frozen=True)
class Interruptions:
    """Commands said above its speech."""

    count: int
    echo_db: float
    obeyed: int
    """Silent within 0.5 s of the command's end, and the command heard right."""
    silent: int
    """Silent within 0.5 s of the command's beginning."""
    wrong: int
    """Taken for something else and accepted."""


def own_voice(minutes: float, echo_db: float) -> OwnVoice:
    """Hears its own reading of the injector card for so many minutes; `echo_db` above the talker's level."""
    listen, path = _listen(), LivePath(load_ear())
    speaker = PaperSpeaker(_speech(load_voice("builtin"), minutes * 60))
    accepted, pauses, before = 0, 0, False
    for moment in live(path, speaker, Room(echo_db), np.zeros(int(minutes * 60 * EAR_RATE), np.float32), listen):
        accepted += sum(guess.accepted for guess, _ in moment.guesses)
        pauses, before = pauses + (moment.held and not before), moment.held
        if any(guess.accepted for guess, _ in moment.guesses):
            speaker.go_on()
    return OwnVoice(minutes, echo_db, accepted, pauses)


def interruptions(count: int, echo_db: float, seed: int = 1) -> Interruptions:
    """Interrupts it so often, each time after some seconds of its speech, with another command and talker."""
    listen, path = _listen(), LivePath(load_ear())
    random = np.random.default_rng(seed)
    speech = _speech(load_voice("builtin"), 20)
    talkers = [BuiltinVoice(throat) for throat in THROATS]
    obeyed = silent = wrong = 0
    for number, command in zip(range(count), itertools.cycle(COMMANDS)):
        words = at_16k(talkers[number % len(talkers)], command) * _TALKER
        begin = _LEARNING_S + random.uniform(0, 5)
        one = _interrupt(path, speech, words, begin, command, echo_db, listen)
        obeyed, silent, wrong = obeyed + one[0], silent + one[1], wrong + one[2]
        path.reset()
    return Interruptions(count, echo_db, obeyed, silent, wrong)


def _interrupt(path, speech, words, begin, command, echo_db, listen) -> tuple[bool, bool, bool]:
    talker = np.zeros(int((begin + len(words) / EAR_RATE + _AFTER_S) * EAR_RATE), np.float32)
    start = int(begin * EAR_RATE)
    talker[start:start + len(words)] = words
    end = begin + len(words) / EAR_RATE
    meant = understand(listen, command)
    quiet_at, right, wrong = None, False, False
    speaker = PaperSpeaker(speech)
    for moment in live(path, speaker, Room(echo_db), talker, listen):
        if moment.second > begin and moment.silent and not speaker.free and quiet_at is None:
            quiet_at = moment.second
        for guess, _ in moment.guesses:
            if guess.accepted:
                right, wrong = right or guess.reading == meant, wrong or guess.reading != meant
                speaker.drop()
    quiet = quiet_at if quiet_at is not None else np.inf
    return right and quiet <= end + WITHIN_S, quiet <= begin + WITHIN_S, wrong


def at_16k(voice: Voice, text: str) -> np.ndarray:
    """What a voice says, at the ear's rate."""
    return soxr.resample(voice.render(text), voice.rate, EAR_RATE).astype(np.float32)


def _speech(voice: Voice, seconds: float) -> np.ndarray:
    """The injector card read aloud, over and over, for at least so long."""
    parts: list[np.ndarray] = []
    for text in _texts():
        parts += [at_16k(voice, text), np.zeros(EAR_RATE // 2, np.float32)]
        if sum(map(len, parts)) >= seconds * EAR_RATE:
            return np.concatenate(parts)
    raise AssertionError("the texts never end")


def _texts() -> Iterator[str]:
    card = read_card("common-rail-injector")
    cautions = [caution.say for caution in card.cautions.values()]
    return itertools.cycle([text for step in card.steps for text in (step.say, step.detail) if text] + cautions)


def _listen():
    """What is live at a step that asks for a value: nearly everything, as at most moments."""
    card = read_card("common-rail-injector")
    step = next(step for step in card.steps if isinstance(step.answer, ValueOf))
    return listen_for(card, step.id)
