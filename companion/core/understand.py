"""What a line of words means under a `Listen`: typed lines and recognised words are read the same way.

A rule must take the whole line, and earlier rules win. Inside a rule every part offers all the places where it may end,
longest first, so that a number gives words back when what follows needs them. Each part is read once at each place
(memo), which bounds the work for any line.
"""
from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from companion.core.grammar import Choice, Expr, Free, Listen, Maybe, Number, Phrase, Reading, Sequence, Spelling, Unit
from companion.core.numbers import NUMERAL, read_number, say_number
from companion.core.sentences import sentences as sentences
from companion.core.spelling import read_spelling
from companion.core.words import Word, fold, words
from companion.trade import units

Slots = tuple[tuple[str, str], ...]
_LONGEST_UNIT = 6


@dataclass(frozen=True)
class _End:
    """One way a part may be read: where it ends, the slots it fills, and its words in the form they are kept."""

    at: int
    slots: Slots
    text: str


def understand(listen: Listen, line: str) -> Reading | None:
    """The first rule of `listen` that takes the whole `line`, with its slots; None if there is none. Never raises."""
    reader = _Reader(line)
    if not reader.words:
        return None
    for rule in listen.rules:
        for end in reader.ends(rule.expr, 0):
            if end.at == len(reader.words):
                return Reading(rule.name, end.slots)
    return None


def options(listen: Listen) -> tuple[str, ...]:
    """What may be said now, in words a voice can say, in the order of the rules."""
    return tuple(dict.fromkeys(rule.shown for rule in listen.rules if rule.shown))


class _Reader:
    """One line, and what has been read of it."""

    def __init__(self, line: str) -> None:
        self.line = line
        self.words = words(line)
        self.texts = tuple(word.text for word in self.words)
        self.keys = tuple(_key(word.text) for word in self.words)
        self._memo: dict[tuple[int, int], list[_End]] = {}

    def ends(self, expr: Expr, start: int) -> list[_End]:
        """Every place where `expr`, begun at word `start`, may end; the preferred first, each place once."""
        known = self._memo.get((id(expr), start))
        if known is None:
            found: dict[int, _End] = {}
            for end in self._read(expr, start):
                found.setdefault(end.at, end)
            known = self._memo[id(expr), start] = list(found.values())
        return known

    def _read(self, expr: Expr, start: int) -> list[_End]:
        if isinstance(expr, Phrase):
            return [_End(at, (), expr.text) for at in self._phrase(expr.text, start)]
        if isinstance(expr, Sequence):
            return self._sequence(expr, start)
        if isinstance(expr, Choice):
            ends = [end for option in expr.options for end in self.ends(option, start)]
            return [_End(e.at, e.slots + ((expr.name, e.text),), e.text) for e in ends] if expr.name else ends
        if isinstance(expr, Maybe):
            return [*self.ends(expr.part, start), _End(start, (), "")]
        return [_End(at, ((expr.name, text),), text) for text, at in self._slot(expr, start)]

    def _slot(self, expr: Number | Unit | Spelling | Free, start: int) -> list[tuple[str, int]]:
        if isinstance(expr, Number):
            readings = [(digits, start + used) for digits, used in read_number(self.texts[start:])]
            return [(digits, at) for digits, at in readings if _fits(expr, digits)]
        if isinstance(expr, Unit):
            return self._unit(expr.symbols, start)
        if isinstance(expr, Spelling):
            return [(text, at) for text, at in self._spelling(start) if expr.least <= len(text) <= expr.most]
        return [(self._typed(start, at), at) for at in range(len(self.words), start, -1)]

    def _sequence(self, expr: Sequence, start: int) -> list[_End]:
        ends = [_End(start, (), "")]
        for part in expr.parts:
            longer: dict[int, _End] = {}
            for end in ends:
                for more in self.ends(part, end.at):
                    longer.setdefault(more.at, _End(more.at, end.slots + more.slots, f"{end.text} {more.text}".strip()))
            ends = list(longer.values())
        return ends

    def _phrase(self, text: str, start: int) -> list[int]:
        """Compared without spaces and with numbers in words: "x-ray" is "x ray" and "xray", "1" is "one"."""
        wanted, at = _phrase_key(text), start
        while wanted and at < len(self.keys) and wanted.startswith(self.keys[at]):
            wanted, at = wanted[len(self.keys[at]):], at + 1
        return [at] if not wanted and at > start else []

    def _unit(self, symbols: tuple[str, ...], start: int) -> list[tuple[str, int]]:
        forms, ends, form = _unit_forms(symbols), [], ""
        for at in range(start, min(start + _LONGEST_UNIT, len(self.texts))):
            form += units.key(self.texts[at])
            if form in forms:
                ends.append((forms[form], at + 1))
        return ends[::-1]

    def _spelling(self, start: int) -> list[tuple[str, int]]:
        """Written codes are cut into characters first; a spelling ends only where a written word does."""
        characters: list[str] = []
        ends = {0: start}
        for at, word in enumerate(self.words[start:], start + 1):
            characters += _characters(word)
            ends[len(characters)] = at
        return [(text, ends[used]) for text, used in read_spelling(characters) if used in ends]

    def _typed(self, start: int, end: int) -> str:
        """The words as they were typed, with the punctuation after them."""
        stop = self.words[end].start if end < len(self.words) else len(self.line)
        return self.line[self.words[start].start:stop].strip()


def _characters(word: Word) -> list[str]:
    return list(word.text) if word.code and word.text.isascii() and word.text.isalnum() else [word.text]


def _fits(expr: Number, digits: str) -> bool:
    whole, _, fraction = digits.lstrip("-").partition(".")
    return (expr.signed or digits[0] != "-") and len(fraction) <= expr.decimals and int(whole) <= expr.most


def _key(text: str) -> str:
    """A word as phrases compare it: figures in words, no spaces; a hyphen counts for nothing."""
    if NUMERAL.fullmatch(text):
        return say_number(text).replace(" ", "")
    return "" if text == "-" else text


@lru_cache(maxsize=4096)
def _phrase_key(text: str) -> str:
    return "".join(_key(word) for word in fold(text))


@lru_cache(maxsize=256)
def _unit_forms(symbols: tuple[str, ...]) -> dict[str, str]:
    return units.forms(symbols)
