"""When an utterance is looked at, told by a pause detector that hears loudness alone."""
from __future__ import annotations

import numpy as np
import pytest

from companion.edge.ear import endpoint
from companion.edge.ear.endpoint import CHUNK, FULL_S, LONG_EARLY_S, LOOK_S, Endpoint, Utterance, chunks


class Loudness:
    """Certain of speech in what is loud."""

    def process_samples(self, samples: list[float]) -> float:
        return float(max(samples) > 0.1)

    def reset(self) -> None:
        pass


@pytest.fixture
def ended(monkeypatch: pytest.MonkeyPatch):
    """What the endpoint makes of stretches of speech and of silence, in turn, in chunks."""
    monkeypatch.setattr(endpoint, "pause_detector", Loudness)

    def hear(*lengths: int) -> list[Utterance]:
        sound = [np.full(length * CHUNK, 0.5 * (turn % 2 == 0), np.float32) for turn, length in enumerate(lengths)]
        return [utterance for stretch in sound for utterance in listening.feed(stretch)]

    listening = Endpoint()
    return hear


def test_a_short_phrase_is_looked_at_before_it_may_end(ended) -> None:
    """A first look so that the work is done in time, the moment when it may end, and the end; always the same sound."""
    found = ended(20, 40)
    assert [(utterance.may_end, utterance.whole) for utterance in found] == [(False, False), (True, False), (True, True)]
    assert len({len(utterance.samples) for utterance in found}) == 1
    assert len(found[0].samples) == (20 + chunks(LOOK_S)) * CHUNK


def test_a_long_phrase_is_looked_at_as_early_and_ends_later(ended) -> None:
    """Two seconds and more may be spelled."""
    found = ended(80, chunks(LONG_EARLY_S) - 1)
    assert [(utterance.may_end, len(utterance.samples)) for utterance in found] == [(False, (80 + chunks(LOOK_S)) * CHUNK)]
    assert [utterance.may_end for utterance in ended(0, 1)] == [True]


def test_pauses_like_those_before_are_not_looked_at(ended) -> None:
    """Who spells with pauses: the first costs a look, the next ones only when they grow longer than any before."""
    pause = chunks(LOOK_S) + 2
    assert len(ended(80, pause)) == 1
    assert ended(10, pause) == ended(10, pause - 1) == []
    assert [utterance.may_end for utterance in ended(10, pause + 1)] == [False]


def test_the_next_utterance_knows_nothing_of_the_pauses_before(ended) -> None:
    """Each speaker, and each sentence, pauses in its own way."""
    ended(80, 9, 10, chunks(FULL_S))
    assert [utterance.may_end for utterance in ended(20, chunks(LOOK_S))] == [False]
