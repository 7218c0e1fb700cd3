"""The letters heard: how likely a sentence is, what may be said for it, and that the shipped network hears a voice."""
from __future__ import annotations

from itertools import groupby, product
from pathlib import Path

import numpy as np
import pytest
import soxr

from companion.core.grammar import Listen, Phrase, Rule
from companion.edge.bench.letters.said import texts
from companion.edge.ear import RATE, letters
from companion.edge.ear.by_letters import ByLetters
from companion.edge.ear.crops import even
from companion.edge.ear.grammar import Grammar, tokenizer
from companion.edge.ear.letters import ALPHABET, Letters, likelihoods, likeliest, spectrum, spoken_forms
from companion.edge.ear.model import Model, model_folder
from companion.edge.ear.pattern import pattern
from companion.edge.ear.tokens import read_pieces
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
    """A doubled letter must have a frame of nothing between, and is where an implementation goes wrong."""
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
    assert not (heard.argmax(1) > 1).any()
    assert max(likelihoods(heard, ["seven", "no", "yes"])) < likeliest(heard) - 2


@pytest.mark.parametrize("spoil", ["no archive", "nothing", "half", "lacks an array"])
def test_a_damaged_file_is_told(tmp_path, spoil: str) -> None:  # type: ignore[no-untyped-def]
    """When it is loaded, not when somebody speaks: it names the file and what to do."""
    shipped = Path(letters.__file__).with_name("letters.npz")
    whole, damaged = shipped.read_bytes(), tmp_path / "letters.npz"
    damaged.write_bytes({"no archive": b"no network", "nothing": b"", "half": whole[:len(whole) // 2]}.get(spoil, whole))
    if spoil == "lacks an array":
        with np.load(shipped) as found:
            np.savez(damaged, **{name: found[name] for name in found.files if name != "out.b"})
    with pytest.raises(BrokenMachine, match="letters.npz.*Install the companion again"):
        Letters(damaged)


_WORDS = ("no", "see", "seen", "se", "on", "noon")


def test_the_search_finds_what_adding_up_every_path_finds() -> None:
    """Over frames of chance the likeliest of a few words, in order, with letters that are doubled and words that begin alike."""
    listen = Listen(tuple(Rule(word, Phrase(word)) for word in _WORDS))
    for seed in range(20):
        heard = np.full((7, len(ALPHABET) + 1), -1e9, np.float32)
        heard[:, [0, *(ALPHABET.index(letter) + 1 for letter in "enos")]] = np.log(
            np.random.default_rng(seed).dirichlet(np.ones(5), 7))
        by_hand = dict(zip(_WORDS, likelihoods(heard, list(_WORDS))))
        found = ByLetters(listen).search(heard, 3)
        assert found == sorted(_WORDS, key=lambda word: -by_hand[word])[:len(found)] and found


def test_a_sentence_that_the_grammar_does_not_know_is_waited_for() -> None:
    """The letters put a sentence forward, which the recogniser writes in its own way: better to wait than to cut it."""
    pieces = read_pieces(model_folder() / "tokenizer.bin")
    own, other = (Grammar(pattern(Listen((Rule("word", Phrase(word)),))), pieces, tokenizer(pieces)) for word in ("next", "stop"))
    place = other.start()
    for letter in b" stop":
        place = other.step(place, pieces.index(bytes([letter])))
    assert own.longer(place) and not other.longer(place)


def test_training_says_the_same_every_time_and_knows_the_cards() -> None:
    """What is trained on follows from the words given alone, and holds phrases of the shipped cards."""
    words = ["kettle", "ladder", "window"]
    assert texts(words, 300) == texts(words, 300)
    assert any("newton metres" in text for text in texts(words, 3000))
