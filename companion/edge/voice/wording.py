"""The last pass over words before a voice says them.

What the companion says is written in words; cards are checked for that on load. This pass is the net below: whatever
still holds digits, symbols or codes (a name typed by hand, say) is turned into words, so that no voice has to guess.
"""
from __future__ import annotations

import re
import unicodedata

from companion.core.numbers import say_digits, say_number
from companion.core.spelling import say_spelling
from companion.trade.units import UNITS, say_unit

_MOST_WORDS = 14

# Symbols that are also words or bare letters are read as units only after a number.
_WORDLIKE = {"N", "ms", "bar", "in", "m", "s", "h", "A", "V", "l", "g", "min", "°", "%", "mi", "mg"}
_SEPARATOR = re.compile("[·.⋅ ]")
_WRITTEN = {_SEPARATOR.sub("", unicodedata.normalize("NFKC", symbol)): symbol for symbol in UNITS}
_UNIT = "|".join(re.escape(symbol).replace("·", "[·.⋅ ]?") for symbol in sorted(UNITS, key=len, reverse=True))
_NUMBER = r"(?<![\w.])([-−–]?)([0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]+(?:\.[0-9]+)*)"
_MEASURE = re.compile(_NUMBER + rf" ?({_UNIT})(?!\w)")
_BARE_UNIT = re.compile(rf"(?<!\w)({_UNIT})(?!\w)")
_RANGE = re.compile("(?<=[0-9]) ?[-–—] ?(?=[0-9])")
_CLOCK = re.compile("(?<=[0-9]):(?=[0-9])")
_PLAIN = re.compile(_NUMBER)
_CODE = re.compile(r"(?<!\w)(?=[A-Z0-9]*[A-Z])(?=[A-Z0-9]*[0-9])[A-Z0-9]{3,17}(?!\w)")
_DIGITS = re.compile("[0-9]+")
_BREAK = re.compile(r"(?<=[.!?])\s+")

_SYMBOLS = {
    "&": " and ", "+": " plus ", "=": " equals ", "±": " plus or minus ", "%": " percent ", "°": " degrees ",
    "½": " a half ", "¼": " a quarter ", "¾": " three quarters ", "→": " to ", "−": " minus ",
    "×": " times ", "≤": " at most ", "≥": " at least ", "<": " below ", ">": " above ", "@": " at ",
    "/": " or ", "(": ", ", ")": ", ", "[": ", ", "]": ", ", "–": ", ", "—": ", ", "…": ". ", "\n": ". ", "·": " ",
    "’": "'", "‘": "'", "“": "", "”": "", '"': "",
}
_KEPT = re.compile(r"[^\w\s.,;:!?'-]|_")


def for_voice(text: str) -> str:
    """`text` in words alone: units, numbers, codes and symbols written out, one line. A second pass changes nothing."""
    said = _once(text)
    return said if said == text else for_voice(said)


def _once(text: str) -> str:
    text = "".join(map(_plain, text))
    text = _RANGE.sub(" to ", _CLOCK.sub(" ", text))
    text = _MEASURE.sub(_say_measure, text)
    text = _BARE_UNIT.sub(_say_bare_unit, text)
    text = _CODE.sub(lambda code: say_spelling(code[0]), text)
    text = _PLAIN.sub(lambda number: _say(number[1], number[2]), text)
    text = _DIGITS.sub(lambda digits: f" {_each(digits[0])} ", text)
    text = _KEPT.sub(" ", "".join(_SYMBOLS.get(c, c) for c in text))
    return _tidy(text)


def sentences(text: str) -> list[str]:
    """The sentences of a line of words. One of more than 14 words is cut at commas: its start is ready sooner."""
    return [part for sentence in _BREAK.split(text) for part in _cut(sentence) if any(c.isalnum() for c in part)]


def _plain(character: str) -> str:
    """One character in its plainest form: wide and styled letters, digits of any script, blanks of any kind."""
    if character in _SYMBOLS or character == "²":
        return character
    if character.isdecimal():
        return str(unicodedata.decimal(character))
    return " " if character.isspace() else unicodedata.normalize("NFKC", character)


def _say_measure(match: re.Match[str]) -> str:
    sign, digits, written = match.groups()
    symbol = _symbol(written)
    if symbol == "in" and match[0][-3] == " ":  # "step 3 in the list"
        return match[0]
    return f"{_say(sign, digits)} {say_unit(symbol, digits)}"


def _say_bare_unit(match: re.Match[str]) -> str:
    symbol = _symbol(match[1])
    return match[0] if symbol in _WORDLIKE else UNITS[symbol].many


def _symbol(written: str) -> str:
    return _WRITTEN[_SEPARATOR.sub("", written)]


def _say(sign: str, digits: str) -> str:
    """A number in words. What is no plain number (a leading zero, several points, 40 digits) goes digit by digit."""
    digits = digits.replace(",", "")
    whole, *fractions = digits.split(".")
    by_digits = len(fractions) > 1 or len(digits) > 40 or (whole[0] == "0" and len(whole) > 1)
    said = " point ".join(map(_each, digits.split("."))) if by_digits else say_number(digits)
    return f"minus {said}" if sign else said


def _each(digits: str) -> str:
    return " ".join(map(say_digits, digits))


def _tidy(text: str) -> str:
    text = re.sub(r"\s+", " ", text)
    text = re.sub(r" (?=[.,;:!?])", "", text)
    text = re.sub(r"[,;:]+(?=[.!?])|(?<=[.!?,;:])[,;:]+", "", text)
    return re.sub(r"\.(?:[. ]*\.)", ".", text).strip(" ,;:-")


def _cut(sentence: str) -> list[str]:
    words = sentence.split()
    if len(words) <= _MOST_WORDS:
        return [sentence]
    places = [i for i, word in enumerate(words[:-4], 1) if word[-1] in ",;:" and 4 <= i <= _MOST_WORDS]
    if not places:
        return [sentence]
    at = places[-1]
    return [" ".join(words[:at]), *_cut(" ".join(words[at:]))]
