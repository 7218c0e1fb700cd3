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
