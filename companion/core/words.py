"""A line of words, folded so that the ways of writing one thing become one: case, punctuation, hyphens, spelling.

Nothing that could change a meaning is dropped in silence: a character that is neither a letter, a digit nor plain
punctuation stays as a word of its own, which then matches nothing.
"""
from __future__ import annotations

import re
from dataclasses import dataclass

MOST_CHARACTERS = 4_000
MOST_WORDS = 150


@dataclass(frozen=True)
class Word:
    """One folded word of a line."""

    text: str
    """Lower case. A written number keeps its digits and point ("7.50"), without thousands commas."""
    start: int
    end: int
    """The place in the line it came from, as a slice."""
    code: bool = False
    """Written like a code (in capitals, or joined to digits): its letters may stand for themselves."""


_PIECE = re.compile(r"""
    (?P<okay> \bO\.K\b\.? )
  | (?P<number> [0-9]+ (?:[.,:/][0-9]+)* )
  | (?P<point> (?<![\w.]) \. (?=[0-9]) )
  | (?P<minus> (?<!\w) [-–] (?=\.?[0-9]) | − )
  | (?P<dash> [-–—] \s* (?=\.?[0-9]) )
  | (?P<word> [^\W\d_]+ (?: ['’] [^\W\d_]+ )* )
  | (?P<blank> [\s.,;:!?"“”'‘’()\[\]…·⋅*/_\-–—]+? )
  | (?P<other> . )
""", re.VERBOSE | re.IGNORECASE | re.DOTALL)

_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_SYMBOLS = {"°": "degrees", "%": "percent"}
_FIXED = {"okay": "okay", "point": "point", "minus": "minus", "dash": "-"}

# American to British, for words met in a workshop; "-meter" and "-liter" are folded by rule.
_BRITISH = {"ok": "okay", "tire": "tyre", "tires": "tyres", "center": "centre", "color": "colour", "gray": "grey",
            "curb": "kerb", "aluminum": "aluminium", "gage": "gauge", "vise": "vice", "license": "licence"}
_ENDINGS = (("meter", "metre"), ("meters", "metres"), ("liter", "litre"), ("liters", "litres"))


def british(word: str) -> str:
    """The British spelling of a lower-case word, where the two differ."""
    for american, ours in _ENDINGS:
        if word.endswith(american):
            return word[:-len(american)] + ours
    return _BRITISH.get(word, word)


def words(line: str) -> tuple[Word, ...]:
    """The folded words of `line`; none at all if it is longer than any answer (150 words)."""
    if len(line) > MOST_CHARACTERS:
        return ()
    found = tuple(_word(line, piece) for piece in _PIECE.finditer(line) if piece.lastgroup != "blank")
    return found if len(found) <= MOST_WORDS else ()


def fold(line: str) -> tuple[str, ...]:
    """Only the texts of `words(line)`."""
    return tuple(word.text for word in words(line))


def _word(line: str, piece: re.Match[str]) -> Word:
    kind, raw, (start, end) = str(piece.lastgroup), piece.group(), piece.span()
    if kind == "word":
        joined = _is_digit(line[start - 1:start]) or _is_digit(line[end:end + 1])
        return Word(british(re.sub("['’]", "", raw.lower())), start, end, joined or (raw.isupper() and len(raw) > 1))
    if kind == "number":
        text = raw.replace(",", "") if _THOUSANDS.fullmatch(raw) else raw
        return Word(text, start, end, True)
    return Word(_FIXED.get(kind) or _SYMBOLS.get(raw, raw), start, end)


def _is_digit(text: str) -> bool:
    return text != "" and text in "0123456789"
