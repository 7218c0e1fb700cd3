"""Sounding alike: pairs that are taken for each other are found, pairs that are not are left alone."""
from __future__ import annotations

from itertools import combinations

import pytest

from companion.core.commands import REASONS, STANDING
from companion.core.phonemes import phonemes
from companion.core.sounding import alike, sounds_alike
from companion.core.spelling import ICAO

# Spelled letters: Cole & Fanty 1990 (H90-1075), and NIPS 1991 for P/T and F/S. The reason for "niner" and "fife": ICAO
# Annex 10. The others: common practice, no source.
ALIKE = [
    ("b", "d"), ("b", "p"), ("d", "t"), ("t", "g"), ("c", "z"), ("v", "z"), ("m", "n"), ("j", "k"), ("p", "t"),
    ("f", "s"),
    ("five", "nine"), ("fifteen", "fifty"), ("thirteen", "thirty"), ("15 millimetres", "fifty millimetres"),
    ("six", "sixty"),
    ("dry", "try"), ("leak", "leaking"), ("affirm", "confirm"), ("on", "off"), ("pressure on", "pressure gone"),
    ("done", "gone"), ("done", "one"), ("next", "text"),
    ("seat", "feet"), ("left", "lift"), ("stop", "top"), ("pass", "past"), ("tight", "type"), ("hot", "not"),
    ("cap", "cab"), ("plug", "plugged"), ("repeat", "reheat"),
    ("correction", "collection"), ("wait", "weight"), ("clean", "green"), ("dirty", "thirty"), ("loose", "lose"),
    ("light", "right"), ("resume", "presume"),
    ("no", "know"), ("pause", "paws"), ("cylinder five", "cylinder nine"), ("next", "Next."),
    ("cylinder 1", "cylinder one"), ("gauge", "gage"),
]
APART = [
    ("next", "repeat"), ("dry", "leaking"), ("affirm", "negative"), ("yes", "no"), ("leave open", "leave out"),
    ("stop", "stop job"), ("inside", "outside"),
    ("leaking at the union", "leaking at the seat"), ("leaking at the union", "leaking at the return joint"),
    ("left", "right"), ("upper", "lower"), ("front", "rear"),
    ("open", "closed"), ("hot", "cold"), ("fitted", "missing"), ("pressure gone", "keep hands clear"),
    ("done", "next"), ("clean", "dirty"), ("good", "bad"),
    ("worn", "cracked"), ("first", "second"), ("steady", "flickering"), ("red", "green"), ("red", "amber"),
    ("one", "two"), ("two", "three"), ("four", "fife"),
    ("one", "nine"), ("six", "seven"), ("cylinder one", "cylinder two"), ("damp", "dry"), ("pass", "fail"),
    ("correct", "wrong"), ("present", "absent"),
]


@pytest.mark.parametrize("a, b", ALIKE)
def test_confusable_phrases_are_found(a: str, b: str) -> None:
    """What a person or a recogniser takes for the other, in either order."""
    assert sounds_alike(a, b) and sounds_alike(b, a), alike(a, b)


@pytest.mark.parametrize("a, b", APART)
def test_clearly_different_phrases_are_left_alone(a: str, b: str) -> None:
    """A card may use both at one step."""
    assert not sounds_alike(a, b) and not sounds_alike(b, a), alike(a, b)


@pytest.mark.parametrize("phrases", [tuple(ICAO.values()), STANDING, REASONS], ids=["alphabet", "commands", "reasons"])
def test_words_chosen_to_differ_do(phrases: tuple[str, ...]) -> None:
    """The ICAO alphabet was made to be told apart; our own commands and reasons must be too."""
    assert [(a, b) for a, b in combinations(phrases, 2) if sounds_alike(a, b)] == []


def test_the_order_of_two_phrases_does_not_matter() -> None:
    """A pair sounds alike to the same degree from either side."""
    for a, b in combinations((*STANDING, "leaking", "leak", "plugged", "plug"), 2):
        assert alike(a, b) == pytest.approx(alike(b, a)), (a, b)


@pytest.mark.parametrize("word, nearer, farther", [
    ("dot", "tot", "got"), ("dot", "got", "rot"), ("sat", "set", "sought"), ("leak", "leaking", "leakage report"),
    ("pin", "bin", "win"), ("map", "nap", "lap")])
def test_nearer_sounds_count_as_nearer(word: str, nearer: str, farther: str) -> None:
    """A confusable pair before two of a kind, two of a kind before others, a lost ending before lost words."""
    assert alike(word, nearer) > alike(word, farther)


@pytest.mark.parametrize("a, b", [("", ""), ("", "next"), ("...", "next"), ("☃", "next"), ("next " * 60, "next " * 59),
    ("½", "٣")])
def test_odd_phrases_only_give_a_figure(a: str, b: str) -> None:
    """Nothing raises, and the figure lies between 0 and 1."""
    assert 0 <= alike(a, b) <= 1


# As the CMU pronouncing dictionary has them (from memory), AX for the weak vowel.
@pytest.mark.parametrize("word, sounds", [
    ("leaking", "L IY K IH NG"), ("wrench", "R EH N CH"), ("bridge", "B R IH JH"), ("station", "S T EY SH AX N"),
    ("screw", "S K R UW"), ("knocking", "N AA K IH NG"),
    ("washers", "W AA SH ER Z"), ("tightened", "T AY T AX N D"), ("phase", "F EY Z"), ("quick", "K W IH K"),
    ("joint", "JH OY N T"), ("rate", "R EY T"), ("starter", "S T AA R T ER")])
def test_spelling_gives_sounds(word: str, sounds: str) -> None:
    """The rules, on words that no table holds unless a rule would fail."""
    assert phonemes(word) == tuple(sounds.split())
