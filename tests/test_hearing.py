"""The bench of hearing: its statistics against published figures, its lines, and one short run of it all."""
from __future__ import annotations

import pytest

from companion.core.understand import understand
from companion.edge.bench.hearing import measure, said_at_steps, table, wilson
from companion.errors import BadInput


@pytest.mark.parametrize("hits, count, low, high", [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718),
])
def test_the_wilson_interval_is_the_published_one(hits: int, count: int, low: float, high: float) -> None:
    """Newcombe 1998, table of worked examples (recomputed with statsmodels 0.15.0; the print from memory)."""
    assert wilson(hits, count) == pytest.approx((low, high), abs=5e-5)


def test_nothing_wrong_in_three_thousand_shows_at_most_about_one_in_a_thousand() -> None:
    """The rule of three (3/n) from memory: the one-sided bound is 1.0 in 1,000; the two-sided Wilson bound is 1.3."""
    assert wilson(0, 3000)[0] == 0.0 and wilson(0, 3000)[1] == pytest.approx(1.28e-3, abs=1e-5)


@pytest.mark.parametrize("hits, count", [(1, 0), (-1, 5), (6, 5)])
def test_an_impossible_count_is_refused(hits: int, count: int) -> None:
    """Nothing measured gives no interval."""
    with pytest.raises(BadInput):
        wilson(hits, count)


def test_every_line_means_something_at_its_step() -> None:
    """Each line that the bench says is understood where it is said, so that a miss is the ear's."""
    lines = list(said_at_steps(400))
    assert {line.kind for line in lines} == {"command", "value", "spelling"}
    assert not [line.text for line in lines if understand(line.listen, line.text) is None]


def test_a_short_run_hears_right() -> None:
    """Sixteen lines: nothing wrong is accepted, nearly all are right, and the table says so."""
    figures = measure(16)
    assert figures["wrong"]["accepted"] == 0
    assert sum(kind["right"] for kind in figures["kinds"].values()) >= 15
    assert "wrong and accepted: 0 of 16" in table(figures)
