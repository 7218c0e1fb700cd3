"""The golden sessions: whole jobs as lines that a mechanic says, and the shipped cards they are worked on."""
from __future__ import annotations

from pathlib import Path
from typing import Iterable

from simulator import Simulator

CARDS = Path(__file__).parent.parent / "checklists"
SESSIONS = Path(__file__).parent / "sessions"
CARD_OF = {path.stem: "common-rail-injector" for path in SESSIONS.glob("injector-*.txt")} | {
    "learning": "learning", "learning-voice-set": "learning", "road-wheels": "road-wheels"}
SECONDS = {"s": 1, "min": 60}


def card(name: str) -> str:
    """The text of a shipped card."""
    return (CARDS / f"{name}.yaml").read_text(encoding="utf-8")


def lines_of(session: str) -> list[str]:
    """Its lines; "wait 3 min" lets that much time pass."""
    return (SESSIONS / f"{session}.txt").read_text(encoding="utf-8").splitlines()


def play(job: Simulator, lines: Iterable[str], until: str = "") -> Simulator:
    """Say the lines, or let their time pass, until the step `until` waits for its answer."""
    for line in lines:
        if until and job.job.at == until and not job.job.cautions:
            break
        word, *rest = line.split()
        if word == "wait":
            job.wait(int(rest[0]) * SECONDS[rest[1]])
        else:
            job.say(line)
    return job


def worked(session: str) -> Simulator:
    """A whole session on its card."""
    return play(Simulator(card(CARD_OF[session])), lines_of(session))


def injector_at(step: str) -> Simulator:
    """The injector card on its usual way, standing at a step with its cautions acknowledged."""
    job = play(Simulator(card("common-rail-injector")), lines_of("injector-clean"), until=step)
    assert job.job.at == step, job.spoken[-3:]
    return job
