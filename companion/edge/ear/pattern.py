"""A `Listen` as a regular expression over what the recogniser writes (the syntax of `llguidance`, and of `re`).

Everything a `Listen` can hold is a regular language. The expression may take somewhat more than `core.understand` does
(it does not do arithmetic on "two hundred thousand and"): whatever is recognised must still be understood.
Left out: `Free`, and with it every rule that cannot be said without it.
"""
from __future__ import annotations

import re

from companion.core.grammar import Choice, Expr, Listen, Maybe, Number, Phrase, Sequence, Spelling, Unit
from companion.core.numbers import DIGITS, HEARD_DIGITS, POINTS, REPEATS, TEENS, TENS
from companion.core.spelling import HEARD
from companion.trade.units import AMBIGUOUS, UNITS

_GAP = "(?:[,.;:!?]? |-)"
_CLOSE = "(?:,? |-)"
"""Between the words of a number and between characters: a full stop there may be a decimal point."""
_AMERICAN = {"tyre": "tire", "tyres": "tires", "centre": "center", "colour": "color", "grey": "gray", "kerb": "curb",
             "aluminium": "aluminum", "gauge": "gage", "vice": "vise", "licence": "license", "okay": "ok"}

# Other writings of the same sound (common English homophones); each is read back as the word on the left (`plain`).
SAME_SOUND = {"one": ("won",), "two": ("to", "too"), "four": ("for",), "eight": ("ate",), "no": ("know",),
              "right": ("write",), "alfa": ("alpha",), "juliett": ("juliet",), "whiskey": ("whisky",)}


def pattern(listen: Listen) -> str | None:
    """All that `listen` can hear, with the space before and the mark after it; None if there is nothing."""
    parts = [part for rule in listen.rules if (part := _render(rule.expr)) is not None]
    return f"(?i: {_any(parts)}[.,!?]?)" if parts else None


def _any(parts: list[str]) -> str:
    return "(?:" + "|".join(dict.fromkeys(parts)) + ")"


def _render(expr: Expr) -> str | None:
    """None for what cannot be heard at all."""
    if isinstance(expr, Phrase):
        return _words(expr.text)
    if isinstance(expr, Number):
        return _number(expr)
    if isinstance(expr, Unit):
        return _unit(expr)
    if isinstance(expr, Spelling):
        return _spelling(expr)
    if isinstance(expr, Choice):
        parts = [part for option in expr.options if (part := _render(option)) is not None]
        return _any(parts) if parts else None
    if isinstance(expr, Maybe):
        part = _render(expr.part)
        return f"(?:{part})?" if part is not None else ""
    return _sequence(expr.parts) if isinstance(expr, Sequence) else None


def _sequence(parts: tuple[Expr, ...], begun: bool = False) -> str | None:
    """Gaps stand between parts that are said: one left out takes its gap along. A unit may touch its number."""
    if not parts:
        return "" if begun else None
    inner = parts[0].part if isinstance(parts[0], Maybe) else parts[0]
    said, left_out = _render(inner), _sequence(parts[1:], begun) if parts[0] is not inner else None
    after = _sequence(parts[1:], True)
    if said is None or after is None:
        return left_out
    gap = "" if not begun else f"{_GAP}?" if isinstance(inner, Unit) else _GAP
    return _any([gap + said + after] + ([left_out] if left_out is not None else []))


def _either(word: str) -> str:
    """One word of a phrase in every writing: figures for digits, American spelling, words of the same sound."""
    ways = [*_national(word), *SAME_SOUND.get(word, ())]
    if word in DIGITS:
        ways.append(str(DIGITS[word]))
    return _any([re.escape(way).replace("'", "['’]?").replace("\\-", "[- ]?") for way in ways])


def _national(word: str) -> list[str]:
    """British, and American where it differs."""
    theirs = _AMERICAN.get(word, word).replace("metre", "meter").replace("litre", "liter")
    return list(dict.fromkeys((word, theirs)))


def writings(word: str) -> tuple[str, ...]:
    """One word in every writing of one sound, for a recogniser that knows whole words: "x-ray", "x ray", "xray"."""
    return tuple(dict.fromkeys(way.replace("-", gap) for way in _national(word) for gap in ("-", " ", "")))


def _words(text: str) -> str:
    return _GAP.join(_either(word) for word in text.lower().split())


_ONES = "|".join([*HEARD_DIGITS, *SAME_SOUND["two"], *SAME_SOUND["four"], *SAME_SOUND["eight"], "won"])
_GROUPS = "|".join([*TEENS, *TENS])
_TIMES = "|".join(REPEATS)
_OPENING = f"{_ONES.replace('oh|o|', '')}|{_GROUPS}|{_TIMES}"
_FIRST = rf"(?:{_OPENING}|an? (?:hundred|thousand)|[0-9]{{1,6}}|[0-9]{{1,3}},[0-9]{{3}})"
_NEXT = rf"(?:{_ONES}|{_GROUPS}|{_TIMES}|hundred|thousand|and|[0-9]{{1,3}})"
_WHOLE = rf"{_FIRST}(?:{_CLOSE}{_NEXT}){{0,12}}"
_DECIMAL = rf"(?:{_ONES}|{_GROUPS}|{_TIMES}|[0-9]{{1,4}})(?:{_CLOSE}(?:{_ONES}|{_TIMES}|[0-9])){{0,5}}"
_POINT = rf"(?:{'|'.join(POINTS)}){_CLOSE}{_DECIMAL}"


def _number(expr: Number) -> str:
    """"Oh" begins a number only before a point: alone it is what the model makes of a whine or a groan."""
    whole = _WHOLE
    if expr.decimals:
        written = rf"(?:[0-9]{{1,6}}|[0-9]{{1,3}},[0-9]{{3}})?\.[0-9]{{1,{expr.decimals}}}"
        whole = rf"(?:{written}|{_WHOLE}(?:{_CLOSE}(?:{_POINT}|and a half))?|(?:oh?{_CLOSE})?{_POINT})"
    sign = rf"(?:(?:minus|plus){_CLOSE}|[-−] ?)?" if expr.signed else ""
    return f"(?:{sign}{whole})"


def _unit(expr: Unit) -> str:
    """Spoken forms, and written ones of more than one letter (a lone "s" or "m" is too easily imagined)."""
    forms = [form for symbol in expr.symbols for form in (*UNITS[symbol].heard, *UNITS[symbol].typed, symbol)]
    forms += [form for form, meant in AMBIGUOUS.items() if set(meant) & set(expr.symbols)]
    kept = sorted({form.lower() for form in forms if len(form) > 1 or not form.isalpha()})
    return _any([re.escape(form).replace("\\ ", "[- ]?") for form in kept])


_FIGURES = rf"(?:{_ONES}|{_GROUPS}|{_TIMES}|hundred|dash|[0-9]{{1,6}})"


def _spelling(expr: Spelling) -> str:
    """In ICAO words, or in letters with gaps ("T-I-4", "J. C. H.") or in runs as codes are written ("P0204"); not
    mixed, for a run of letters can be cut out of almost any word."""
    most = max(expr.most - 1, 0)
    icao = _any([word.replace("-", "[- ]?") for word in HEARD if len(word) > 1])
    radio = f"(?:{icao}|{_FIGURES})(?:{_CLOSE}(?:{icao}|{_FIGURES})){{0,{most}}}"
    letter = rf"(?:(?-i:[A-Z])[.]?|[a-z]|{_FIGURES}|(?-i:(?:[A-Z]{{0,3}}[0-9]{{1,6}}){{1,8}}[A-Z]{{0,3}}|[A-Z]{{2,8}}))"
    return f"(?:{radio}|{letter}(?:{_CLOSE}{letter}){{0,{most}}})"


def plain(text: str) -> str:
    """The recognised text with words of the same sound put back as the word meant."""
    swap = {other: word for word, others in SAME_SOUND.items() for other in others}
    return re.sub(r"[A-Za-z]+", lambda match: swap.get(match[0].lower(), match[0]), text)
