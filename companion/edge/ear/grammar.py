"""Which word pieces may come next: a `Listen` compiled for the recogniser, walked piece by piece.

Places are kept by the text read so far, so that two ways of cutting one word meet in the same place and a phrase that
was walked once costs nothing the next time.
"""
from __future__ import annotations

import numpy as np
from llguidance import LLMatcher, LLTokenizer, TokenizerWrapper

from companion.edge.ear.model import END, START

_MOST_PLACES = 400
"""Each holds 20 kB, most of it the matcher's; a hundred noises made 700 places of one `Listen`."""
_MARKS = (b",", b".", b"!", b"?")


class Place:
    """One text that a sentence may begin with."""

    def __init__(self, text: bytes, matcher: LLMatcher, pieces: int) -> None:
        self.text = text
        self._matcher = matcher
        bits = np.unpackbits(np.frombuffer(matcher.compute_bitmask(), np.uint8), bitorder="little")[:pieces]
        self.complete = bool(matcher.is_accepting())
        """The text is a whole sentence."""
        self.next = np.flatnonzero(bits).astype(np.uint16)
        """The pieces that may follow."""
        self.next = self.next[self.next != END] if not matcher.is_stopped() else self.next[:0]

    def after(self, piece: int) -> LLMatcher:
        """The matcher one piece further."""
        matcher = self._matcher.deep_copy()
        matcher.consume_token(piece)
        return matcher


class Grammar:
    """All places of one pattern (`pattern.pattern`)."""

    def __init__(self, expression: str, pieces: list[bytes], tokenizer: LLTokenizer) -> None:
        self._pieces = pieces
        self._matcher = LLMatcher(tokenizer, LLMatcher.grammar_from_regex(expression))
        if self._matcher.get_error():
            raise ValueError(self._matcher.get_error())  # a fault of `pattern`, not of any input
        self._places: dict[bytes, Place] = {}

    def start(self) -> Place:
        """Before the first piece."""
        return self._places.get(b"") or self._keep(Place(b"", self._matcher, len(self._pieces)))

    def step(self, place: Place, piece: int) -> Place:
        """The place after one more piece, which must be in `place.next`."""
        text = place.text + self._pieces[piece]
        return self._places.get(text) or self._keep(Place(text, place.after(piece), len(self._pieces)))

    def longer(self, place: Place) -> bool:
        """Whether more could follow a whole sentence than the mark that closes it, or instead of that mark: the recogniser
        likes a full stop after three of seven figures too. True too for a sentence of another grammar that this one does not
        know: it is better to wait than to cut."""
        bare = self._at(place.text.rstrip(b"".join(_MARKS)))
        return bare is None or any(self._goes_on(bare, piece) for piece in bare.next)

    def _goes_on(self, place: Place, piece: int) -> bool:
        text = self._pieces[piece]
        if text in _MARKS:
            return len(self.step(place, piece).next) > 0
        return text[:1] in (b" ", b"-", *_MARKS)

    def _at(self, text: bytes) -> Place | None:
        """The place after a text, byte by byte where it was never walked; None where no way leads there."""
        if text in self._places:
            return self._places[text]
        place = self.start()
        for number in range(len(text)):
            piece = self._pieces.index(text[number:number + 1])
            if piece not in place.next:
                return None
            place = self.step(place, piece)
        return place

    def _keep(self, place: Place) -> Place:
        if len(self._places) >= _MOST_PLACES:
            self._places.clear()
        self._places[place.text] = place
        return place


class _Pieces:
    """What `llguidance` wants to know of the word pieces."""

    eos_token_id, bos_token_id = END, START

    def __init__(self, pieces: list[bytes]) -> None:
        self.tokens = [piece or b"\xff<%d>" % number for number, piece in enumerate(pieces)]
        self.special_token_ids = [number for number, piece in enumerate(pieces) if not piece]
        self._single = {piece: number for number, piece in reversed(list(enumerate(pieces))) if len(piece) == 1}

    def __call__(self, text: bytes) -> list[int]:
        return [self._single[bytes([byte])] for byte in text]


def tokenizer(pieces: list[bytes]) -> LLTokenizer:
    """The word pieces, ready for any number of grammars; 0.15 s."""
    return LLTokenizer(TokenizerWrapper(_Pieces(pieces)), n_vocab=len(pieces))
