"""The kinds of words and figures that a job card's fields hold. Every scalar arrives as its text.

Each kind says in plain English what must hold, and describes itself to editors in the JSON Schema, where a figure may
be written as a number or in quotes.
"""
from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any, Callable, Optional, Union

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

MOST_WORDS = 2_000
"""Characters of one text."""
MOST_NAME = 80
"""Characters of a name, an answer or a figure."""
_PHRASE = r"[a-z]+(?:['-][a-z]+)*(?: [a-z]+(?:['-][a-z]+)*)*"
_ID = r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*"
_FIGURE = r"-?[0-9]{1,9}(?:\.[0-9]{1,6})?"
_SPAN = r"[0-9]{1,4}(?:\.[0-9]{1,3})? ?(?:h|min|s)"
_UNIT_MS = {"h": 3_600_000, "min": 60_000, "s": 1_000}


def _must(what: str, found: str) -> PydanticCustomError:
    """The error "must be WHAT, not FOUND"."""
    return PydanticCustomError("must", "must be {what}, not {found}", {"what": what, "found": found})


def shown(value: Any) -> str:
    """How a message shows what was found: in quotes, and not too much of it."""
    if isinstance(value, (dict, list)):
        return "a mapping" if isinstance(value, dict) else "a list"
    text = str(value)
    return "empty" if not text else f'"{text[:40]}…"' if len(text) > 40 else f'"{text}"'


def _read(pattern: str, what: str, make: Callable[[str], Any] = str, most: int = MOST_NAME) -> BeforeValidator:
    """Reads a scalar of at most `most` characters that matches `pattern` whole."""
    form = re.compile(pattern, re.DOTALL)

    def read(value: Any) -> Any:
        if isinstance(value, str) and len(value) > most:
            raise _must(f"at most {most:,} characters", f"{len(value):,}")
        if not isinstance(value, str) or not form.fullmatch(value):
            raise _must(what, shown(value))
        return make(value)
    return BeforeValidator(read)


def _schema(*kinds: str, pattern: str = "", **more: Any) -> WithJsonSchema:
    """The JSON Schema of a scalar: one type, or one of several."""
    text = {"pattern": f"^(?:{pattern})$"} if pattern else {}
    return WithJsonSchema({"type": list(kinds) if len(kinds) > 1 else kinds[0], **text, **more})


def milliseconds_of(text: str) -> Optional[int]:
    """Of a time such as "15 min", or None where `text` is none."""
    return _milliseconds(text.strip()) if re.fullmatch(_SPAN, text.strip(), re.ASCII) else None


def _milliseconds(text: str) -> int:
    number, unit = re.fullmatch(r"([0-9.]+) ?([a-z]+)", text).groups()  # type: ignore[union-attr]
    return int(Decimal(number) * _UNIT_MS[unit])


def _squash(text: str) -> str:
    """One line, single spaces."""
    return " ".join(text.split())


def _text(most: int, pattern: str = r".*\S.*", what: str = "words") -> Any:
    """A text of one line, and how it is described to editors."""
    shape = _schema("string", pattern="" if what == "words" else pattern, minLength=1, maxLength=most)
    return Annotated[str, _read(pattern, what, _squash, most), shape]


Words = _text(MOST_WORDS)
Name = _text(MOST_NAME)
Phrase = _text(MOST_NAME, _PHRASE, "an answer as it is said, in lower-case words without punctuation")
Id = _text(MOST_NAME, rf"(?!end$){_ID}", "lower-case words joined by hyphens, other than \"end\"")
Target = _text(MOST_NAME, _ID, "the id of a step, or \"end\"")
Flag = Annotated[bool, _read("true|false", "true or false", lambda text: text == "true"), _schema("boolean")]
Whole = Annotated[int, _read("[0-9]{1,9}", "a whole number", int),
                  _schema("integer", "string", pattern="[0-9]{1,9}", minimum=0)]
Count = Annotated[int, _read("-?[0-9]{1,6}", "a whole number", int),
                  _schema("integer", "string", pattern="[0-9]{1,6}", minimum=0)]
Figure = Annotated[Decimal, _read(_FIGURE, "a number such as 7.5", Decimal),
                   _schema("number", "string", pattern=_FIGURE)]
Span = Annotated[int, _read(_SPAN, "a time such as 20 s, 3 min or 1 h", _milliseconds),
                 _schema("string", pattern=_SPAN)]
Mark = Annotated[Union[str, int],
                 _read(f"half|{_SPAN}", "\"half\" or a time such as 1 min",
                       lambda text: text if text == "half" else _milliseconds(text)),
                 _schema("string", pattern=f"half|{_SPAN}")]
