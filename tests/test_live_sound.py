"""Live jobs by real sound: the program at two null sinks of PulseAudio, and a synthetic mechanic who speaks to it."""
from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.__main__ import main
from dictation import word_errors
from parts_needed import SOUND, needs
from workshop import Program, Workshop

SAYINGS = 3
"""A line that is not understood is said again, as a person would, so often at the most."""
WAIT = "wait 15 s"
LEARNING = (
    ("repeat", "Unroll the tools"),
    ("next", "Put four tools in front of you"),
    ("log value four", "Measure the torch"),
    ("log value twenty-one centimetres", "A torch can dazzle"),
    ("light turned away", "The torch test starts"),
    ("how long", "left on the torch test"),
    (WAIT, "Is the torch bright, or dim?"),
    ("bright", "The closing seal"),
)
"""tests/sessions/learning.txt: what the mechanic says, and how the last words of the answer begin."""


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """Two null sinks with a simulated room between them."""
    needs(*SOUND)
    with Workshop(tmp_path / "home") as made:
        yield made


def answered(workshop: Workshop, job: Program, line: str, words: str) -> int:
    """Says `line` until the answer holds `words`, and hears the answer out; how often it was said."""
    for count in range(1, SAYINGS + 1):
        said = workshop.say(line)
        if not job.printed_within(words, said.begin, 4) and job.printed_within("Did you say", said.begin, 0):
            workshop.hear_out(job, "Did you say", said.begin)
            workshop.say("affirm")
        if job.printed_within(words, said.begin, 4):
            workshop.hear_out(job, words, said.begin)
            return count
    raise AssertionError(f"{line!r} was not understood:\n{job.printed}")


def test_the_learning_card_is_worked_by_voice(workshop: Workshop, tmp_path: Path) -> None:
    """Every line of the script is taken from sound, the log holds, and what was said can be understood by ear."""
    log = tmp_path / "job.jsonl"
    job = workshop.start("job", "learning", "--log", str(log))
    workshop.hear_out(job, "Unroll the tools", seconds=30)
    sayings = 0
    for line, words in LEARNING:
        if line == WAIT:
            workshop.hear_out(job, words)
        else:
            sayings += answered(workshop, job, line, words)
    assert job.ended() == 0 and main(["verify", str(log)]) == 0
    assert sayings <= len(LEARNING) + 1, job.printed
    values = [json.loads(line)["data"] for line in log.read_text("utf-8").splitlines() if '"value_logged"' in line]
    assert [(value["value"], value["ear"]) for value in values] == [("21", "embedded")]
    assert word_errors(job.spoken, workshop.said(0)) < 0.15, f"{job.printed}\n{workshop.said(0)}"
