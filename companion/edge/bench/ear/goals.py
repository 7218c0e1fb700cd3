"""What the ear has to reach, and whether it has. The shares are for single words, by nothing but their set."""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from companion.core.grammar import Listen, Phrase, Rule, Spelling
from companion.core.spelling import ICAO
from companion.core.understand import understand

SHARES: dict[str, dict[str, float]] = {
    "alphabet": {"clean": 0.99, "10 dB": 0.97, "0 dB": 0.88},
    "ten commands": {"clean": 0.98, "10 dB": 0.93, "0 dB": 0.80},
    "digits": {"clean": 0.98, "10 dB": 0.94, "0 dB": 0.82},
    "commands at step": {"clean": 0.995, "10 dB": 0.98, "0 dB": 0.92},
    "values at step": {"clean": 0.99, "10 dB": 0.97, "0 dB": 0.88},
}
"""Set to the least share that is right, by condition."""
WRONG = {"clean": 1.0, "20 dB": 1.0, "10 dB": 1.0, "0 dB": 5.0}
"""At most so many of a thousand wrong and accepted, after asking back."""
FALSE = {"records": 0.1, "harmless": 0.5}
"""At most so many false accepts an hour, at the first hearing, on speech that is not for the program and on noise."""
DECISION_MS = 250.0
"""The 95th percentile from the endpoint to the guess."""


@dataclass(frozen=True)
class Goal:
    """One figure beside what it has to be."""

    what: str
    found: float
    must: float
    least: bool
    """Whether it must be at least, not at most, so much."""

    @property
    def reached(self) -> bool:
        """By the figure itself; its interval stands in the table."""
        return self.found >= self.must if self.least else self.found <= self.must


def judged(figures: dict[str, Any], ear: str, alike: dict[str, str]) -> list[Goal]:
    """Every goal for which `ear` has a figure. `alike` names for each set the row of `SHARES` that judges it."""
    return [*_shares(figures, ear, alike), *_wrong(figures, ear), *_false(figures, ear), *_decision(figures, ear)]


def row_of(name: str, listen: Listen) -> str:
    """The row of `SHARES` for a set: by its name; a list of phrases by what it holds; "" where there is none."""
    if name in SHARES:
        return name
    phrases = [rule.expr.text for rule in listen.rules if isinstance(rule.expr, Phrase)]
    if len(phrases) < len(listen.rules):
        return ""
    readings = {understand(_SPELLED, phrase) for phrase in phrases}
    characters = {reading.get("spelled") for reading in readings if reading is not None}
    for row, wanted in (("alphabet", ICAO), ("digits", "0123456789")):
        if len(phrases) == len(wanted) and characters == set(wanted):
            return row
    return "ten commands" if len(phrases) == 10 else ""


_SPELLED = Listen((Rule("spelled", Spelling(1, 1)),))


def _shares(figures: dict[str, Any], ear: str, alike: dict[str, str]) -> Iterator[Goal]:
    for cell in figures["accuracy"]["set"]:
        must = SHARES.get(alike.get(cell["set"], ""), {}).get(cell["condition"])
        if cell["ear"] == ear and must is not None:
            yield Goal(f"{cell['set']}, {cell['condition']}: right", cell["share"], must, True)


def _wrong(figures: dict[str, Any], ear: str) -> Iterator[Goal]:
    for cell in figures["wrong"]:
        if cell["ear"] == ear and cell["condition"] in WRONG:
            yield Goal(f"wrong and accepted after asking back, of 1,000, {cell['condition']}", cell["sure_per_1000"],
                       WRONG[cell["condition"]], False)


def _false(figures: dict[str, Any], ear: str) -> Iterator[Goal]:
    for cell in figures["false_accepts"]:
        for kind, must in FALSE.items():
            if cell["ear"] == ear:
                what = "change the record" if kind == "records" else "are harmless"
                name = f"false accepts an hour on {cell['on']}, acts that {what}"
                yield Goal(name, cell[kind]["per_hour"], must, False)


def _decision(figures: dict[str, Any], ear: str) -> Iterator[Goal]:
    if ear in figures.get("timing", {}):
        yield Goal("milliseconds from the endpoint to the guess, 95 %", figures["timing"][ear]["decision_ms"]["p95"],
                   DECISION_MS, False)
