"""Events to log data and back."""
from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Optional, Union, get_type_hints

import pytest
from hypothesis import given, settings, strategies as st

from companion.core.log.codec import ERASED, decode, encode, name_of, vocabulary
from companion.core.events import Event, Hearing, Personal
from companion.errors import BadInput


@dataclass(frozen=True, kw_only=True)
class EveryKindProbed(Event):
    text: str
    count: int = 0
    flag: bool = False
    number: Decimal = Decimal("1.50")
    maybe: Optional[Decimal] = None
    who: Optional[Personal] = None
    words: Union[str, Personal] = ""
    items: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FloatProbed(Event):
    value: float = 0.0


def salt() -> bytes:
    return b"0123456789abcdef"


def there_and_back(event: Event) -> Event:
    data, beside = encode(event, salt)
    return decode(type(event), event.step, data, {entry["sha256"]: entry["text"] for entry in beside})


st.register_type_strategy(Decimal, st.decimals(-10**6, 10**6, allow_nan=False, places=3))
KNOWN = sorted((kind for kind in vocabulary().values() if kind is not FloatProbed), key=name_of)


NEVER_HEARD = {"job_opened", "job_resumed"}
"""Made at the opening, before anything can be heard."""


def test_no_event_that_may_be_heard_shares_a_name_with_the_hearing():
    """Else it could not be written, and "check on me every ten minutes" would fail on a real log."""
    shared = {name_of(kind) for kind in KNOWN if not kind.follows and kind is not EveryKindProbed
              and {field.name for field in fields(kind)} & {field.name for field in fields(Hearing)}}
    assert shared == NEVER_HEARD


@pytest.mark.parametrize("kind", KNOWN, ids=name_of)
@settings(max_examples=5, deadline=None)
@given(st.data())
def test_every_event_there_is_comes_back_as_it_was(kind, data):
    """Whatever events the program has, with any values, a log gives them back as they were, hearing and all."""
    hints = get_type_hints(kind)
    own = {field.name for field in fields(kind)}
    event = data.draw(st.builds(kind, **{name: st.from_type(hints[name]) for name in own}))
    if event.heard is not None and own & {"words", "score", "ear", "by"}:
        with pytest.raises(TypeError, match="belongs to the hearing"):
            encode(event, salt)
    else:
        assert there_and_back(event) == event


def test_the_data_of_a_line():
    """Digits keep their zeros, what is None is left out, a hearing is spread, what is personal is only hashed."""
    event = EveryKindProbed(step="s.1", text="a", number=Decimal("7.50"), who=Personal("Ann"), items=("x", "y"))
    data, beside = encode(event, salt)
    hidden = hashlib.sha256(b"0123456789abcdefAnn").hexdigest()
    assert data == {"text": "a", "count": 0, "flag": False, "number": "7.50", "who": {"sha256": hidden}, "words": "",
                    "items": ["x", "y"]}
    assert beside == [{"sha256": hidden, "salt": b"0123456789abcdef".hex(), "text": "Ann"}]


def test_what_was_heard_is_spread_in_data():
    """Words, score and ear stand in `data`; a personal answer's words are hashed too, under a salt of their own."""
    salts = iter([bytes(16), bytes([1] * 16)])
    event = vocabulary()["spelling_logged"](
        name="who", text=Personal("AB"), heard=Hearing(Personal("alfa bravo"), Decimal("0.90"), "embedded"))
    data, beside = encode(event, lambda: next(salts))
    assert (data["score"], data["ear"], len({entry["sha256"] for entry in beside})) == ("0.90", "embedded", 2)
    assert data["words"] == {"sha256": hashlib.sha256(bytes([1] * 16) + b"alfa bravo").hexdigest()}


def test_an_erased_text_still_reads():
    """Without its sidecar entry a personal text reads as erased, and everything else as before."""
    event = EveryKindProbed(text="a", who=Personal("Ann"), words=Personal("I am Ann"))
    data, _ = encode(event, salt)
    assert decode(EveryKindProbed, "", data, {}) == EveryKindProbed(
        text="a", who=Personal(ERASED), words=Personal(ERASED))


@pytest.mark.parametrize("number, text", [
    ("7.50", "7.50"), ("1E+3", "1000"), ("-0.0", "-0.0"), ("1E-7", "0.0000001"),
    ("123456789012345678901234567890",) * 2])
def test_decimals_are_written_in_plain_digits(number, text):
    """Every Decimal has one plain form, trailing zeros kept."""
    assert encode(EveryKindProbed(text="", number=Decimal(number)), salt)[0]["number"] == text


@pytest.mark.parametrize("changes, error", [
    ({"number": Decimal("NaN")}, BadInput), ({"number": Decimal("Infinity")}, BadInput),
    ({"number": Decimal("1E+999999")}, BadInput), ({"who": Personal("\udc80")}, BadInput), ({"number": 1.5}, TypeError),
    ({"count": True}, TypeError), ({"text": None}, TypeError), ({"items": ["x"]}, TypeError),
    ({"items": (1,)}, TypeError)])
def test_what_a_log_cannot_hold_is_refused(changes, error):
    """Nothing is bent to fit: no float, no NaN, no broken text, no value of the wrong type."""
    with pytest.raises(error):
        encode(EveryKindProbed(**{"text": "", **changes}), salt)


def test_a_field_of_an_unknown_kind_is_a_programming_error():
    """An event with a float cannot be defined and used by mistake."""
    with pytest.raises(TypeError, match="FloatProbed.value"):
        encode(FloatProbed(), salt)


@pytest.mark.parametrize("data, words", [
    ({}, "lacks a field"), ({"text": 1}, "text is no str"), ({"text": "a", "count": True}, "count is no int"),
    ({"text": "a", "number": "1e3"}, "number is no decimal"), ({"text": "a", "number": "٣"}, "number is no decimal"),
    ({"text": "a", "items": "xy"}, "items is no tuple"), ({"text": "a", "who": "Ann"}, "who is no personal"),
    ({"text": "a", "extra": "b"}, "no field 'extra'"), ({"text": "a", "who": {"sha256": "xyz"}}, "who is no personal")])
def test_data_that_does_not_fit_its_event_is_refused(data, words):
    """Data of another shape is never taken for the event."""
    with pytest.raises(ValueError, match=words):
        decode(EveryKindProbed, "", data, {})


def test_older_data_reads_with_defaults():
    """A field that came later takes its default, so that old logs read for ever."""
    assert decode(EveryKindProbed, "", {"text": "a"}, {}) == EveryKindProbed(text="a")


@pytest.mark.parametrize("by", ["", "attention word", "key held", "pressed"])
def test_a_hearing_of_an_older_log_is_written_again_as_it_was(by):
    """How the companion came to listen stands in the data only where there is something to say, so that data written
    before there was such a field is given again byte for byte."""
    older = {"word": "stop", "words": "stop", "score": "0.91", "ear": "embedded"}
    data = {**older, "by": by} if by else older
    event = decode(vocabulary()["paused"], "s.1", data, {})
    assert event.heard.by == by
    assert encode(event, salt) == (data, [])
