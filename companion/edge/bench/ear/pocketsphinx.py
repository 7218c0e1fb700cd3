"""PocketSphinx with its own English model, to compare with: the same phrases as a grammar (JSGF).

It takes whatever it hears for the likeliest sentence of the grammar. Nothing is turned away but what is no whole
reading: its score, the decoder's posterior, has no floor of its own (the trade-off curve shows what one would do).
Words that its dictionary lacks are kept in `lacking`, and what needs them cannot be heard.
"""
from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import replace
from typing import Any

import numpy as np

from companion.core.grammar import Choice, Expr, Free, Listen, Maybe, Number, Phrase, Sequence, Spelling, Unit
from companion.core.numbers import DIGITS, NUMERAL, TEENS, TENS, say_number
from companion.core.spelling import ICAO
from companion.core.understand import understand
from companion.edge.ear import NOTHING, RATE, Guess
from companion.edge.ear.embedded import even
from companion.edge.ear.pattern import writings
from companion.errors import BrokenMachine
from companion.trade.units import UNITS

GET = "pip install '.[bench]'"
_LISTENS_KEPT = 6
_ALSO = {"alfa": "alpha", "juliett": "juliet", "x-ray": "x. ray", "fife": "five", "niner": "nine"}
"""Words under another writing of the same sound or sense."""
_FIGURES = (*DIGITS, *TEENS, *TENS, "hundred", "thousand", "and", "oh")
_LETTERS = tuple(word.lower() for word in ICAO.values())


class PocketSphinxEar:
    """Raises BrokenMachine where the package is missing or its model cannot be loaded."""

    name = "pocketsphinx"

    def __init__(self) -> None:
        try:
            import pocketsphinx
        except ImportError as fault:
            raise BrokenMachine("PocketSphinx", "the package pocketsphinx must be installed", "missing", GET) from fault
        try:
            self._decoder: Any = pocketsphinx.Decoder(lm=None, loglevel="FATAL", samprate=RATE, cmn="batch")
        except Exception as fault:  # the package raises several kinds
            raise BrokenMachine("PocketSphinx", "its model must load", str(fault), GET) from fault
        self.lacking: set[str] = set()
        self._grammars: OrderedDict[Listen, str] = OrderedDict()
        self._made = 0

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """One utterance; see `Ear`. `longer` is always true: it waits for the whole silence, so that nothing is cut."""
        begun = time.perf_counter()
        guess, sound = NOTHING, even(samples)
        if sound is not None and self._take(listen):
            self._decoder.reinit_feat()  # else something of the utterance before stays, and moves scores by a thousandth
            self._decoder.start_utt()
            self._decoder.process_raw((sound * 32767).clip(-32768, 32767).astype("<i2").tobytes(), full_utt=True)
            self._decoder.end_utt()
            guess = self._guess(listen)
        return replace(guess, ms=round((time.perf_counter() - begun) * 1000, 1))

    def draft(self, samples: np.ndarray) -> str:
        """Nothing: it is only given grammars here."""
        return ""

    def _guess(self, listen: Listen) -> Guess:
        heard = self._decoder.hyp()
        text = heard.hypstr.replace(_ALSO["x-ray"], "x-ray") if heard is not None else ""
        reading = understand(listen, text)
        if reading is None:
            return NOTHING
        score = round(min(1.0, max(0.0, float(heard.prob))), 3)
        return Guess(text, score, True, True, reading, longer=True)

    def _take(self, listen: Listen) -> bool:
        """Makes the grammar the one in force; false where nothing of it can be heard."""
        if listen not in self._grammars:
            self._grammars[listen] = self._compiled(listen)
            if len(self._grammars) > _LISTENS_KEPT:
                _, old = self._grammars.popitem(last=False)
                if old:
                    self._decoder.remove_search(old)
        self._grammars.move_to_end(listen)
        if self._grammars[listen]:
            self._decoder.activate_search(self._grammars[listen])
        return bool(self._grammars[listen])

    def _compiled(self, listen: Listen) -> str:
        ways = [way for way in (self._rendered(rule.expr) for rule in listen.rules) if way]
        if not ways:
            return ""
        self._made += 1
        name = f"listen{self._made}"
        text = "#JSGF V1.0;\ngrammar now;\npublic <now> = " + " | ".join(ways) + ";\n"
        self._decoder.add_jsgf_string(name, text)
        if len(self._grammars) == 0:
            self._decoder.activate_search(name)
        return name

    def _rendered(self, expr: Expr) -> str:
        """As JSGF; "" for what cannot be heard."""
        if isinstance(expr, Phrase):
            return self._known(expr.text)
        if isinstance(expr, Free):
            return ""
        if isinstance(expr, Sequence):
            parts = [self._rendered(part) for part in expr.parts]
            return " ".join(parts) if all(parts) else ""
        if isinstance(expr, Maybe):
            inner = self._rendered(expr.part)
            return f"[ {inner} ]" if inner else "<NULL>"
        if isinstance(expr, Choice):
            return self._any(*(self._rendered(option) for option in expr.options))
        return self._slot(expr)

    def _slot(self, expr: Number | Unit | Spelling) -> str:
        if isinstance(expr, Unit):
            forms = [form for symbol in expr.symbols for form in UNITS[symbol].heard if len(form) > 1]
            return self._any(*map(self._known, forms))
        if isinstance(expr, Spelling):
            return f"( {self._any(*map(self._known, (*_LETTERS, *_FIGURES)))} )+"
        number = f"( {self._any(*map(self._known, _FIGURES))} )+"
        if expr.decimals:
            number += f" [ ( point | decimal ) ( {self._any(*map(self._known, DIGITS))} )+ ]"
        return f"[ minus ] {number}" if expr.signed else number

    def _any(self, *ways: str) -> str:
        known = list(dict.fromkeys(way for way in ways if way))
        return f"( {' | '.join(known)} )" if known else ""

    def _known(self, text: str) -> str:
        """The words as its dictionary writes them; "" where it lacks one."""
        words = [self._word(word) for word in _written(text)]
        return " ".join(words) if all(words) else ""

    def _word(self, word: str) -> str:
        for way in (word, _ALSO.get(word, ""), word.replace("-", " "), *writings(word)):
            if way and all(self._decoder.lookup_word(part) for part in way.split()):
                return way
        self.lacking.add(word)
        return ""


def _written(text: str) -> list[str]:
    return " ".join(say_number(word) if NUMERAL.fullmatch(word) else word for word in text.lower().split()).split()
