"""The voice, the ears, and both together with a person: a rehearsal of ten seconds."""
from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soxr

from companion.core.commands import RULES, all_commands
from companion.core.grammar import Listen, Number, Phrase, Rule, Sequence, Unit
from companion.edge.ear import RATE, Ear, Guess, LivePath
from companion.edge.ready.duplex import Duplex
from companion.edge.ready.finding import Finding, fine, missing, to_do, weak
from companion.edge.room import Room, measure, printed
from companion.edge.voice import Voice

SENTENCE = "Tighten the clamp bolt to eight newton metres."
TEST = "log value seven point five newton metres"
ASK = "Say: next."
REHEARSAL_S = 10.0
_QUIET_S = 1.0


def voice(spoken: Voice) -> Finding:
    """Does it render, and how fast?"""
    begun = time.perf_counter()
    sound = spoken.render(SENTENCE)
    took = time.perf_counter() - begun
    seconds = len(sound) / spoken.rate
    figures = {"voice": spoken.name, "render_ms": round(took * 1000), "speech_s": round(seconds, 2)}
    if seconds < 1 or not np.any(sound):
        return missing(f"The {spoken.name} voice gives no sound.", to_do("voice"), **figures)
    found = f"The {spoken.name} voice renders {seconds:.1f} s of speech in {took * 1000:.0f} ms."
    return fine(found, **figures) if took < seconds / 2 else weak(found, to_do("slow"), **figures)


def ear(loaded: Callable[[], Ear], spoken: Voice) -> Finding:
    """Does it load, and hear a rendered value right?"""
    begun = time.perf_counter()
    hearer = loaded()
    took = time.perf_counter() - begun
    return judge_ear(hearer.name, _heard(hearer, spoken), took)


def vosk_model(find: Callable[..., Path | None], loaded: Callable[..., Ear],
               spoken: Voice) -> tuple[Finding, Ear | None]:
    """Is there a Vosk model, does it load, does it know the words? With the ear, where there is one.

    `find` takes whom to tell of folders that are passed over, `loaded` a folder and whom to tell of lacking words.
    """
    told: list[str] = []
    folder = find(told.append)
    passed_over = "".join(f" {text}." for text in told)
    if folder is None:
        return fine(f"None is there, and none is needed: the embedded ear hears.{passed_over}"), None
    lacking: list[str] = []
    hearer = loaded(folder, lacking.append)
    guess = _accepted(_heard(hearer, spoken))
    heard = f'"{guess.text}", score {guess.score:.2f}' if guess else "nothing"
    found = f'{folder} loads, and takes a rendered "{TEST}" for {heard}.{passed_over}'
    figures = {"folder": str(folder), "heard": guess.text if guess else "", "lacking": lacking}
    if lacking:
        return weak(f"{found} {'; '.join(lacking)}.", to_do("vosk words"), **figures), hearer
    return (fine(found, **figures) if _is_right(guess) else weak(found, to_do("vosk words"), **figures)), hearer


def judge_ear(name: str, guesses: list[Guess], load_s: float) -> Finding:
    """The ear `name` by what it made of `TEST`."""
    guess = _accepted(guesses)
    figures = {"ear": name, "load_s": round(load_s, 2), "heard": guess.text if guess else "",
               "score": guess.score if guess else 0.0, "ms": guess.ms if guess else 0.0}
    if not _is_right(guess):
        heard = f'"{guess.text}"' if guess else "nothing"
        return missing(f'The {name} ear takes a rendered "{TEST}" for {heard}.', to_do("ear"), **figures)
    found = f"The {name} ear loads in {load_s:.1f} s and hears a rendered value right, score {guess.score:.2f}."
    return fine(found, **figures)


def _heard(hearer: Ear, spoken: Voice) -> list[Guess]:
    sound = soxr.resample(spoken.render(TEST), spoken.rate, RATE).astype(np.float32)
    path = LivePath(hearer, _VALUE)
    return path.feed(np.pad(sound, RATE // 2)) + path.finish()


def _accepted(guesses: list[Guess]) -> Guess | None:
    return next((guess for guess in guesses if guess.accepted), None)


def _is_right(guess: Guess | None) -> bool:
    return guess is not None and (guess.reading.get("number"), guess.reading.get("unit")) == ("7.5", "N·m")


_VALUE = Listen((Rule("value", Sequence((Phrase("log value"), Number(), Unit(("N·m", "bar", "°C"))))),
                 RULES["next"], RULES["repeat"], RULES["stop"], RULES["emergency"]))


def rehearse(duplex: Duplex, hearer: Ear, show: Callable[[str], None]) -> Finding:
    """Asks for one word, listens for ten seconds at the most, and tells `show` each thing it hears, with its score."""
    quiet = duplex.hear(_QUIET_S)
    show(f'The companion says: "{ASK}" Answer within ten seconds.')
    duplex.say(ASK)
    duplex.from_now()
    path, taken = LivePath(hearer, all_commands()), [np.zeros(0, np.float32)]
    while sum(map(len, taken)) < REHEARSAL_S * RATE:
        taken.append(duplex.take().heard)
        for guess in path.feed(taken[-1]):
            show(f'Heard "{guess.text}", score {guess.score:.2f}, {"" if guess.accepted else "not "}accepted.')
            if guess.accepted:
                return _answered(duplex, guess)
    return _unanswered(duplex, measure(quiet, np.concatenate(taken)), show)


def _answered(duplex: Duplex, guess: Guess) -> Finding:
    duplex.say("I hear you well." if guess.reading.rule == "next" else "I heard something else.")
    figures = {"heard": guess.text, "score": guess.score, "ms": guess.ms}
    found = f'Heard "{guess.text}", score {guess.score:.2f}, {guess.ms:.0f} ms after it was over.'
    if guess.reading.rule == "next":
        return fine(found, **figures)
    return weak(f"{found} Asked was next.", to_do("room"), **figures)


def _unanswered(duplex: Duplex, room: Room, show: Callable[[str], None]) -> Finding:
    show(printed(room))
    advice = room.advice if room.verdict != "good" else ("I heard you, but not what was asked.",)
    duplex.say(" ".join(advice))
    do = to_do("muted" if room.speech_db is None else "room")
    return missing("No answer was understood. " + " ".join(advice), do, verdict=room.verdict)
