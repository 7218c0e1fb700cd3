"""The letters heard: how likely a sentence is, what may be said for it, and that the shipped network hears a voice."""
from __future__ import annotations

from itertools import groupby, product

import numpy as np
import pytest
import soxr

from companion.edge.bench.letters.said import texts
from companion.edge.ear import RATE
from companion.edge.ear.crops import even
from companion.edge.ear.letters import ALPHABET, Letters, likelihoods, likeliest, spectrum, spoken_forms
from companion.edge.ear.model import Model, model_folder
from companion.edge.voice.builtin import MECHANIC, BuiltinVoice
from companion.errors import BrokenMachine


def _by_hand(heard: np.ndarray, text: str) -> float:
    """The definition (Graves et al. 2006, from memory): every path over the frames that comes to `text` when what repeats
    is written once and nothing is left out, added up one by one."""
    total = -np.inf
    for path in product(range(heard.shape[1]), repeat=len(heard)):
        written = "".join(ALPHABET[place - 1] for place, _ in groupby(path) if place)
        if written == text:
            total = np.logaddexp(total, sum(row[place] for row, place in zip(heard, path)))
    return float(total)


@pytest.mark.parametrize("text", ["a", "ab", "aa", "aba", "b"])
def test_a_sentence_is_as_likely_as_all_paths_to_it_together(text: str) -> None:
    """Double letters need nothing between them, and are where an implementation goes wrong."""
    random = np.random.default_rng(4)
    few = np.log(random.dirichlet(np.ones(4), 5)).astype(np.float32)  # nothing, blank, a, b over five frames
    heard = np.full((5, len(ALPHABET) + 1), -1e9, np.float32)
    heard[:, :4] = few
    assert likelihoods(heard, [text])[0] == pytest.approx(_by_hand(few, text), abs=1e-4)


def test_sentences_are_weighed_together_as_they_are_alone() -> None:
    """A long neighbour changes nothing."""
    heard = np.log(np.random.default_rng(5).dirichlet(np.ones(len(ALPHABET) + 1), 40)).astype(np.float32)
    said = ["no", "seven point five newton metres", "go on"]
    assert likelihoods(heard, said) == pytest.approx([likelihoods(heard, [text])[0] for text in said], abs=1e-3)


@pytest.mark.parametrize(("written", "said"), [
    ("Log value 7.5 newton meters.", {"log value seven point five newton metres"}),
    ("1540 bar", {"one thousand five hundred and forty bar", "one five four zero bar", "fifteen forty bar"}),
    ("15", {"fifteen", "one five"}),
    ("P0204", {"p zero two zero four", "p two hundred and four", "p two four"}),
    ("X-ray", {"x ray"}),
    ("don't", {"dont"}),
    ("", set()),
])
def test_figures_and_codes_are_weighed_as_they_are_said(written: str, said: set[str]) -> None:
    """Whichever way a figure may be said; the way that was not said costs nothing."""
    assert bool(set(spoken_forms(written)) & said) == bool(spoken_forms(written)) == bool(said)
    assert all(set(form) <= set(ALPHABET) for form in spoken_forms(written))
    assert len(said) <= 1 or said & set(spoken_forms(written)) == set(spoken_forms(written))


def test_a_tone_stands_in_its_band() -> None:
    """1 kHz lies at 1000 mel (by the scale's definition), between bands 13 and 14 of 40 from 80 to 7600 Hz."""
    tone = np.sin(2 * np.pi * 1000 * np.arange(2 * RATE) / RATE).astype(np.float32)
    tone[:RATE] = 0
    found = spectrum(tone, 80)[60]
    place = (1000 - 2595 * np.log10(1 + 80 / 700)) / (2595 * np.log10((1 + 7600 / 700) / (1 + 80 / 700))) * 41 - 1
    assert abs(int(found[:40].argmax()) - place) <= 1


def test_the_network_hears_a_voice_and_no_letters_in_a_hiss() -> None:
    """Words that it was not tuned on, in the second voice: the right one is likelier than its neighbours."""
    network, model, voice = Letters(), Model(model_folder(), 1), BuiltinVoice(MECHANIC)
    for right, others in (("seven", ["eleven", "even"]), ("fifteen", ["fifty", "sixteen"]), ("november", ["victor"])):
        sound = even(soxr.resample(voice.render(right), voice.rate, RATE).astype(np.float32))
        assert sound is not None
        heard = network.hear(model.encode(sound), sound)
        own, *rest = likelihoods(heard, [right, *others])
        assert own > max(rest) and own > likeliest(heard) - 12
    hiss = np.random.default_rng(1).standard_normal(2 * RATE).astype(np.float32) * 0.1
    heard = network.hear(model.encode(hiss), hiss)
    assert max(likelihoods(heard, ["seven", "no", "yes"])) < likeliest(heard) - 5


def test_a_damaged_file_is_told(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """It names the file and what to do."""
    damaged = tmp_path / "letters.npz"
    damaged.write_bytes(b"no network")
    with pytest.raises(BrokenMachine, match="Install the companion again"):
        Letters(damaged)


def test_training_says_the_same_every_time_and_knows_the_cards() -> None:
    """What is trained on follows from the words given alone, and holds phrases of the shipped cards."""
    words = ["kettle", "ladder", "window"]
    assert texts(words, 300) == texts(words, 300)
    assert any("newton metres" in text for text in texts(words, 3000))
