"""Every fault a card can have is found, on its line, in words a senior technician understands, all in one pass."""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from companion.core.card import CardErrors, load_card

CASES = Path(__file__).parent / "cases" / "cards"
BAD = sorted(CASES.glob("bad-*.yaml"))
MARK = re.compile(r"  # fault: (.*)")


def expected(text: str) -> list[tuple[int, str]]:
    """What the comments of a case say: line and words, in order of the lines."""
    return [(number, words) for number, line in enumerate(text.split("\n"), 1) if (mark := MARK.search(line))
            for words in mark[1].split(" | ")]


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_bad_card_has_exactly_the_faults_written_beside_its_lines(path):
    """Each fault is found with its line and words, and nothing else is: no false alarm, no fault told twice."""
    text = path.read_text(encoding="utf-8")
    with pytest.raises(CardErrors) as raised:
        load_card(text, path.name)
    found, wanted = list(raised.value.faults), expected(text)
    missed = [(line, words) for line, words in wanted if not any(f.line == line and words in f.text for f in found)]
    surplus = [f for f in found if not any(f.line == line and words in f.text for line, words in wanted)]
    assert (missed, surplus, len(found)) == ([], [], len(wanted))


HEAD, STEPS = (CASES / "smallest.yaml").read_text(encoding="utf-8").split("stages:")
GROUP = "      - {for_each: l, steps: [{id: a, say: go, answer: done}, {id: b, say: go, answer: done}]}\n"


def letters(number: int) -> str:
    """A word for a number, no two alike in spelling."""
    return "".join("bdfgklmnpr"[int(digit)] + "aeiou"[int(digit) % 5] for digit in str(number))


@pytest.mark.parametrize("text, words", [
    (f"{HEAD}lists: {{l: [{', '.join(map(letters, range(60)))}]}}\nstages:\n  - stage: s\n    steps:\n" + GROUP * 9,
     "a job card must unfold to at most 1,000 steps, not 1,080"),
    (f"{HEAD}cylinders: {{count: 999999999, counted_from: the belt end}}\nstages:{STEPS}",
     "count must be at most 16 cylinders, not 999999999"),
    (f"{HEAD}stages:{STEPS}" + "".join(
        f"      - {{id: s{n}, say: go, answer: {{choice: [{letters(n)} one, {letters(n)} two]}}}}\n"
        for n in range(101)),
     "a job card must have at most 200 different answers, not 202"),
    (f"{HEAD}stages:{STEPS}" + "".join(
        f"      - {{id: s{n}, say: 5mm, answer: done, next: t{n}}}\n" for n in range(290)),
     'next must lead to the id of a step or to "end", not to "t0"'),
    (f"{HEAD}stages:{STEPS}" + "".join(
        f"      - {{id: s{n}, say: '{'{a' * 900}', brief: '{'1.' * 990}', detail: '{'.' * 1900}', answer: done}}\n"
        for n in range(150)), "braces must stand in pairs"),
], ids=["groups", "cylinders", "answers", "faults", "long texts"])
def test_a_flood_is_told_and_ends(text, words):
    """Cards that unfold to a flood of steps, answers, comparisons or faults are refused, each with its bound named."""
    with pytest.raises(CardErrors) as raised:
        load_card(text, "x")
    assert any(words in fault.text for fault in raised.value.faults) and len(raised.value.faults) <= 501
