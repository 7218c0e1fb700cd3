"""How well the embedded ear hears: what a step listens for, said by synthetic voices through the live path.

The voices are throats of the built-in voice that nothing was tuned on. A manifest of recordings (tab-separated, with
the columns `file` and `said`) may be measured instead.
"""
from __future__ import annotations

import csv
import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from statistics import quantiles
from typing import Any

import numpy as np
import soxr

from companion.core.card import Card, CodesOf, SpellingOf, Step, ValueOf
from companion.core.commands import RULES
from companion.core.grammar import Listen, Reading
from companion.core.job.listen import listen_for
from companion.core.saying import say_quantity
from companion.core.sentences import sentences
from companion.core.understand import understand
from companion.edge.cards import read_card, shipped
from companion.edge.ear import RATE, Guess, LivePath, load_ear
from companion.edge.ear.endpoint import EARLY_S, FULL_S
from companion.edge.sound import read_sound
from companion.edge.voice.builtin import BuiltinVoice, Throat
from companion.errors import BadInput

THROATS = (Throat("tall", tract=1.10, pitch=0.72), Throat("small", tract=0.93, pitch=1.12),
           Throat("deep", tract=1.20, pitch=0.55), Throat("plain", tract=1.05, pitch=0.85))
SPEEDS = (0.95, 1.15, 1.3)
KINDS = ("command", "value", "spelling")
_HISS = 5e-4
_WITH_NUMBERS = ("value", "correction", "correct_place", "timer")


@dataclass(frozen=True)
class Utterance:
    """One line to be said."""

    kind: str
    listen: Listen
    text: str
    sound: np.ndarray | Path | None = None
    """A recording; None to have it said."""


@dataclass
class Tally:
    """What became of the utterances of one kind."""

    said: int = 0
    right: int = 0
    """Accepted, and exactly what was said."""
    wrong: int = 0
    """Accepted as something else, and not doubted."""
    doubted: int = 0
    """Accepted as something else, but asked back."""
    missed: list[str] = field(default_factory=list)

    def add(self, text: str, meant: Reading | None, guesses: list[Guess]) -> None:
        """One utterance and all that was made of it."""
        accepted = [guess for guess in guesses if guess.accepted]
        self.said += 1
        self.right += [guess.reading for guess in accepted] == [meant]
        self.wrong += any(guess.sure and guess.reading != meant for guess in accepted)
        self.doubted += any(not guess.sure and guess.reading != meant for guess in accepted)
        if [guess.reading for guess in accepted] != [meant]:
            self.missed.append(f"{text}: {', '.join(guess.text for guess in guesses) or 'nothing'}")


def wilson(hits: int, count: int, z: float = 1.959964) -> tuple[float, float]:
    """The Wilson score interval of a proportion (95 % by default). Raises BadInput unless 0 <= hits <= count > 0."""
    if not 0 <= hits <= count or count <= 0:
        raise BadInput("wilson", "needs 0 <= hits <= count and count > 0", f"{hits} of {count}")
    share, spread = hits / count, z * z / count
    middle = (share + spread / 2) / (1 + spread)
    half = math.sqrt(spread * (share * (1 - share) + spread / 4)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)


def measure(count: int = 500, manifest: Path | None = None) -> dict[str, Any]:
    """Hears `count` lines and tells what became of them; times in milliseconds, memory in megabytes."""
    ear = load_ear("embedded")
    path, tallies, times = LivePath(ear), {}, []
    for number, utterance in enumerate(_recorded(manifest) if manifest else said_at_steps(count)):
        guesses = heard(path, utterance.listen, _sound(utterance, number))
        meant = understand(utterance.listen, utterance.text)
        tallies.setdefault(utterance.kind, Tally()).add(utterance.text, meant, guesses)
        times += [guess.ms for guess in guesses]
    return {"ear": ear.name, "kinds": {kind: _figures(tally) for kind, tally in tallies.items()},
            "wrong": _wrong(list(tallies.values())), "decode_ms": _times(times), "silence_s": [EARLY_S, FULL_S],
            "memory_mb": _memory()}


def heard(path: LivePath, listen: Listen, sound: np.ndarray) -> list[Guess]:
    """The guesses for one sound, with a quiet room's silence before and after."""
    path.reset()
    path.listen(listen)
    room = np.random.default_rng(1).normal(0, _HISS, int(0.6 * RATE)).astype(np.float32)
    return path.feed(np.concatenate([room, sound, room])) + path.finish()


def said_at_steps(count: int) -> Iterator[Utterance]:
    """Lines that may be said at the steps of the shipped cards: half of them values, one in ten a spelling."""
    steps = [(card, step) for card in map(read_card, shipped()) for step in card.steps]
    values = [pair for pair in steps if isinstance(pair[1].answer, ValueOf)]
    spelled = [pair for pair in steps if isinstance(pair[1].answer, (CodesOf, SpellingOf))]
    for number in range(count):
        if number % 2:
            yield _value(*values[number // 2 % len(values)], number)
        elif number % 10 == 4:
            yield _other(*spelled[number // 10 % len(spelled)], number, ("code", "spelled"))
        else:
            yield _other(*steps[number // 2 % len(steps)], number)


def _value(card: Card, step: Step, number: int) -> Utterance:
    """A reading inside the step's limits, with as many decimals as the step has."""
    low = step.answer.low if step.answer.low is not None else Decimal(0)
    high = step.answer.high if step.answer.high is not None else low + 100
    digits = f"{low + (high - low) * (number * 37 % 101) / 100:.{step.answer.decimals}f}"
    return Utterance("value", listen_for(card, step.id), say_quantity(digits, step.answer.unit))


def _other(card: Card, step: Step, number: int, wanted: tuple[str, ...] = ()) -> Utterance:
    """Anything else that is live at the step, or one of the rules `wanted`."""
    listen = listen_for(card, step.id)
    rules = [rule for rule in listen.rules if rule.name in wanted]
    rules = rules or [rule for rule in listen.rules if rule.name not in _WITH_NUMBERS]
    rule = rules[number * 13 % len(rules)]
    kind = "spelling" if rule.name in ("code", "spelled") else "command"
    return Utterance(kind, listen, sentences(rule, seed=number, count=1)[0])


def _recorded(manifest: Path) -> Iterator[Utterance]:
    """The recordings of a manifest that hold a standing command; the others mean nothing to a step."""
    listen = Listen(tuple(RULES.values()))
    with manifest.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines, delimiter="\t"):
            if understand(listen, row["said"]) is not None:
                yield Utterance("command", listen, row["said"], manifest.parent / row["file"])


def _sound(utterance: Utterance, number: int) -> np.ndarray:
    if utterance.sound is not None:
        return read_sound(utterance.sound)
    voice = BuiltinVoice(THROATS[number % len(THROATS)], SPEEDS[number // len(THROATS) % len(SPEEDS)])
    return soxr.resample(voice.render(utterance.text), voice.rate, RATE).astype(np.float32)


def _figures(tally: Tally) -> dict[str, Any]:
    return {"said": tally.said, "right": tally.right, "share": round(tally.right / tally.said, 4),
            "interval": [round(end, 4) for end in wilson(tally.right, tally.said)], "doubted": tally.doubted,
            "missed": tally.missed}


def _wrong(tallies: list[Tally]) -> dict[str, Any]:
    wrong, said = sum(tally.wrong for tally in tallies), sum(tally.said for tally in tallies)
    return {"accepted": wrong, "of": said, "at_most": round(wilson(wrong, said)[1], 4) if said else None}


def _times(times: list[float]) -> dict[str, float]:
    """Of those guesses that were not ready before the pause ended."""
    parts = quantiles(times, n=20) if len(times) > 1 else [0.0] * 19
    return {"median": round(parts[9], 1), "p95": round(parts[18], 1)}


def _memory() -> float | None:
    """The most memory this process has held; None where the system does not say."""
    try:
        import resource
    except ImportError:
        return None
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform != "darwin" else 1024 ** 2))


def table(figures: dict[str, Any]) -> str:
    """The figures as text."""
    lines = [f"{'':10} {'said':>6} {'right':>8}   95 % interval"]
    for kind, found in figures["kinds"].items():
        low, high = found["interval"]
        lines.append(f"{kind:10} {found['said']:6} {found['share']:8.1%}   {low:.1%} to {high:.1%}")
    wrong, times = figures["wrong"], figures["decode_ms"]
    lines.append(f"wrong and accepted: {wrong['accepted']} of {wrong['of']} (95 % bound: {wrong['at_most']:.2%})")
    lines.append(f"from the end of the pause to the guess: median {times['median']} ms, 95 % within {times['p95']} ms "
                 f"(the pause: {figures['silence_s'][0]} s after a whole phrase, else {figures['silence_s'][1]} s)")
    lines.append(f"memory: {figures['memory_mb']} MB")
    return "\n".join(lines)
