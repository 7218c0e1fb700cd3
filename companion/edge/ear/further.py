"""Whether more words could follow what was heard: `pattern` walked byte by byte."""
from __future__ import annotations

from functools import lru_cache

from companion.core.grammar import Listen
from companion.edge.ear.grammar import Grammar, tokenizer
from companion.edge.ear.pattern import pattern

# As the grammar wants them: three that stand for no text first, then every byte that text can hold.
_BYTES = [b"", b"", b"", *(bytes([byte]) for byte in range(1, 256))]
_GAPS = (b" ", b"-")
_PIECE = {piece: number for number, piece in enumerate(_BYTES) if piece}


class Further:
    """What may follow under one `Listen`."""

    def __init__(self, listen: Listen) -> None:
        self._grammar = byte_grammar(listen)

    def after(self, text: str) -> bool:
        """True too for a text that the pattern does not take: it is better to wait than to cut."""
        if self._grammar is None:
            return True
        place = self._grammar.start()
        for byte in f" {text}".encode():
            piece = _PIECE.get(bytes([byte]))
            if piece is None or piece not in place.next:
                return True
            place = self._grammar.step(place, piece)
        return any(_BYTES[piece] in _GAPS for piece in place.next)


def byte_grammar(listen: Listen) -> Grammar | None:
    """What `listen` can hear, byte by byte: byte b is piece b + 2. None if there is nothing."""
    expression = pattern(listen)
    return Grammar(expression, _BYTES, _tokenizer()) if expression is not None else None


@lru_cache(maxsize=1)
def _tokenizer():
    return tokenizer(_BYTES)
