"""Words for the ear: what a voice stumbles over, sentences too long to follow, and orders that hold the unsafe act.

Flagged in every spoken text, with few false alarms:
- symbols: anything but letters, figures and plain punctuation ("N·m", "°", "%", "/", "&");
- figures joined to letters ("10mm", "M8", "1st"), and figures before the sign of a unit ("25 Nm", "3 min", "12 V");
- capitals of two letters and more ("VIN"): as a word, or letter by letter as "V I N";
- small letters running into capitals ("kPa"), and the abbreviations of the table below.
Plain numbers in figures ("3 minutes", "2,500 bar") pass: the voice reads them as words. The source of a caution is
never spoken, so it may hold anything. The limits on length are our own (common practice, no source).
"""
from __future__ import annotations

import re
from typing import Iterator, Optional, Union

from companion.core.card import answer_form, form
from companion.core.card.names import NAME
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault, Path

MOST_WORDS = 30
"""Words of one sentence of an order."""
MOST_SENTENCES = 4
"""Sentences of one order."""
MOST_CAUTION_WORDS = 40

_SYMBOL = re.compile(r"""[^A-Za-zÀ-ÖØ-öø-ÿ0-9\s.,;:?!'"’‘“”()…–—-]""")
_JOINED = re.compile(r"\b(?:[A-Za-z]*[0-9][0-9.,]{0,12}[A-Za-z]|[A-Za-z]+[0-9])\w*")
_UNIT_SIGN = re.compile(r"\b[0-9][0-9.,]{0,12} ?"
                        r"(?:m|g|l|s|h|V|A|C|F|K|N|W|in|ft|lb|oz|mi|min|mins|sec|secs|hr|hrs|deg)\b(?!['’·])")
_CAPITALS = re.compile(r"\b[A-Z]{2,}s?\b")
_MIXED = re.compile(r"\b[A-Za-z]*[a-z][A-Z][A-Za-z]*\b")
_ABBREVIATION = re.compile(r"\b(?:e\. ?g|i\. ?e|a\.m|p\.m|no\.(?= ?[0-9]))\.?|\b(?:" + "|".join("""
    psi rpm mm cm km kg mg ml nm kpa mpa mbar kmh mph lbs approx incl excl etc vs eg ie cyl eng temp qty assy ref
    max min mins sec secs hr hrs deg fig rhs lhs ecu dpf egr vin obd dtc abs abt tbc nb fwd rpms
    """.split()) + r")\b", re.IGNORECASE)
_STUMBLES = ((_UNIT_SIGN, "write the unit in words"), (_JOINED, "write it in words, figures apart from letters"),
             (_CAPITALS, "write it in words, or its letters apart"), (_MIXED, "write it in words"),
             (_ABBREVIATION, "write it in full"))
_UNSAFE = re.compile(r"\b(?:do not|don['’]t|never|must not|not to|avoid) (?:(?:re)?start|open|loosen|touch|crank|undo"
                     r"|unbolt|slacken|starting|opening|loosening|touching|cranking)\b", re.IGNORECASE)
_SENTENCE_END = re.compile(r"[.!?…](?=\s|$)")
_WORD = re.compile(r"[\w'’{}-]+")


def word_faults(sheet: Sheet) -> Iterator[Fault]:
    """Every spoken text of the card that a voice or an ear would stumble over."""
    for path, text in _texts(sheet):
        for fault in _stumbles(text):
            yield sheet.fault(f"{_called(path)}: {fault}", *path)
    for path, text, most_words, most_sentences in _orders(sheet):
        for fault in (*_unsafe(text), *_long(text, most_words, most_sentences)):
            yield sheet.fault(f"{_called(path)}: {fault}", *path)


def _called(path: Path) -> str:
    """How a message names a text."""
    if path[0] in ("cautions", "clocks", "lists"):
        return f"{str(path[0])[:-1]} {path[1]}"
    return next(part for part in reversed(path) if isinstance(part, str))


def _stumbles(text: str) -> Iterator[str]:
    bare = NAME.sub("", text.replace("{item}", ""))
    if "{" in bare or "}" in bare:
        yield "braces must stand in pairs around a name, such as {item}"
    bare = bare.replace("{", "").replace("}", "")
    for symbol in dict.fromkeys(_SYMBOL.findall(bare)):
        yield f'a voice cannot say the symbol "{symbol}"; write it in words'
    told: set[str] = set()
    for pattern, do in _STUMBLES:
        for match in pattern.finditer(bare):
            if not told & set(match[0].split()):
                told.update((match[0], *match[0].split()))
                yield f'a voice stumbles over "{match[0]}"; {do}'


def _unsafe(text: str) -> Iterator[str]:
    for match in _UNSAFE.finditer(text):
        yield f'an order must say what to do, such as "keep the engine off", not "{match[0]}"'


def _long(text: str, most_words: int, most_sentences: int) -> Iterator[str]:
    sentences = [sentence for sentence in _SENTENCE_END.split(text) if _WORD.search(sentence)]
    longest = max((len(_WORD.findall(sentence)) for sentence in sentences), default=0)
    if longest > most_words:
        yield f"a sentence must have at most {most_words} words, not {longest}"
    if len(sentences) > most_sentences:
        yield f"there must be at most {most_sentences} sentences, not {len(sentences)}: one act each"


def _orders(sheet: Sheet) -> Iterator[tuple[Path, str, int, int]]:
    """Texts that tell what to do, with the most words a sentence and the most sentences."""
    for name, caution in sheet.form.cautions.items():
        yield ("cautions", name, "say"), caution.say, MOST_CAUTION_WORDS, 2 * MOST_SENTENCES
    for path, step, _, _ in sheet.steps():
        for key in ("say", "brief", "detail"):
            if getattr(step, key):
                yield (*path, key), getattr(step, key), MOST_WORDS, MOST_SENTENCES * (2 if key == "detail" else 1)
        if step.run:
            yield (*path, "run", "ask"), step.run.ask, MOST_WORDS, MOST_SENTENCES


def _texts(sheet: Sheet) -> Iterator[tuple[Path, str]]:
    """Everything on the card that is spoken."""
    card = sheet.form
    for key in ("title", "applies_to", "defers", "emergency"):
        yield (key,), getattr(card, key)
    if card.cylinders:
        yield ("cylinders", "counted_from"), card.cylinders.counted_from
    for name, entries in card.lists.items():
        if isinstance(entries, form.BoltsForm):
            yield ("lists", name, "called"), entries.called
        else:
            yield from ((("lists", name, place), entry) for place, entry in enumerate(entries))
    for key in ("tools", "parts"):
        yield from (((key, place, "name"), item.name) for place, item in enumerate(getattr(card, key)))
    yield from ((("cautions", name, "say"), caution.say) for name, caution in card.cautions.items())
    for name, clock in card.clocks.items():
        yield ("clocks", name, "say"), clock.say
        yield ("clocks", name, "kept"), clock.kept or ""
    yield from ((("stages", place, "stage"), stage.stage) for place, stage in enumerate(card.stages))
    for path, step, _, _ in sheet.steps():
        yield from ((path + inside, text) for inside, text in _of_step(step) if text)


def _of_step(step: form.StepForm) -> Iterator[tuple[Path, Optional[str]]]:
    yield from (((key,), getattr(step, key)) for key in ("say", "brief", "detail"))
    if step.run:
        yield ("run", "ask"), step.run.ask
    if step.makes_safe:
        yield ("makes_safe", "still"), step.makes_safe.still
        yield ("makes_safe", "name"), step.makes_safe.name
    answer: Union[str, answer_form.Form, None] = step.answer
    for key in ("name", "value", "count", "codes", "spelling", "tool", "kind", "cylinder", "fault", "fastener"):
        if isinstance(getattr(answer, key, None), str):
            yield ("answer", key), getattr(answer, key)
