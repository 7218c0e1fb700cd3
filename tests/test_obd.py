"""Raw answers of controllers: services, scalings, frames and pastes.

Values marked "recomputed" were checked against a public library; SAE J1979 itself was not seen.
"""
from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.codes import from_bytes, to_bytes
from companion.trade.obd import Answer, Value, decode
from companion.trade.units import UNITS

QUICK = settings(max_examples=100, deadline=None, derandomize=True)
CODES = st.lists(st.integers(1, 0xFFFF).map(lambda raw: from_bytes(raw.to_bytes(2, "big"))), max_size=40)
SAMPLE = "1M8GDM9AXKP042788"


def codes_of(text: str) -> tuple[str, ...]:
    (answer,) = decode(text)
    return answer.codes


def value_of(text: str) -> tuple[Decimal | str, str]:
    (answer,) = decode(text)
    (value,) = answer.values
    return value.value, value.unit


def frames(sender: str, data: bytes) -> list[str]:
    """`data` as ISO 15765-2 frames of eight bytes behind a sender (from memory)."""
    if len(data) < 8:
        return [f"{sender} {bytes([len(data), *data]).ljust(8, bytes(1)).hex(' ')}"]
    first = [f"{sender} {bytes([0x10 | len(data) >> 8, len(data) & 255, *data[:6]]).hex(' ')}"]
    rest = [data[i:i + 7] for i in range(6, len(data), 7)]
    return first + [f"{sender} {bytes([0x20 | (n & 15), *part]).ljust(8, bytes(1)).hex(' ')}"
                    for n, part in enumerate(rest, 1)]


@pytest.mark.parametrize("text, service, words", [
    ("43 02 02 63 03 01", "43", "2 stored codes"), ("47 01 02 63", "47", "1 pending code"),
    ("4A 00", "4A", "no permanent codes"), ("44", "44", "codes cleared"),
    ("7F 04 22", "7F", "refused, conditions not right")])
def test_services(text: str, service: str, words: str) -> None:
    """03→43 stored, 07→47 pending, 04→44 cleared (recomputed); 0A→4A permanent and the refusals: from memory."""
    (answer,) = decode(text)
    assert (answer.service, answer.words) == (service, words)


def test_trap_over_can_the_list_begins_with_a_count() -> None:
    """43 02 02 63 03 01 is P0263 and P0301 (recomputed), not P0202, C2303 …"""
    assert codes_of("43 02 02 63 03 01") == ("P0263", "P0301")


def test_trap_an_older_bus_sends_no_count_but_three_pairs() -> None:
    """43 02 63 03 01 00 00 is the same two codes, though 02 would fit as a count; zeros are padding."""
    assert codes_of("43 02 63 03 01 00 00") == ("P0263", "P0301")
    assert codes_of("43 00 00 00 00 00 00") == ()
    assert [answer.codes for answer in decode("43 01 33 02 63 03 01\n43 02 04 00 00 00 00")] == [
        ("P0133", "P0263", "P0301"), ("P0204",)]


def test_trap_behind_a_sender_seven_bytes_are_no_older_list() -> None:
    """With a sender it is CAN: without the right count it is refused and not read as three pairs."""
    with pytest.raises(BadInput, match="as its second byte counts"):
        decode("7E8 07 43 02 63 03 01 00 00")


def test_trap_codes_are_upper_case() -> None:
    """02 0A is P020A, which must compare equal to the code the mechanic spelled (recomputed)."""
    assert codes_of("43 01 02 0a") == ("P020A",)


@pytest.mark.parametrize("text, value, unit", [
    ("41 0C 1A F8", "1726", "rpm"), ("41 0C 0C 80", "800", "rpm"),
    ("41 05 7B", "83", "°C"), ("41 05 00", "-40", "°C"), ("41 05 FF", "215", "°C"),
    ("41 42 36 9C", "13.980", "V"), ("41 42 3A 98", "15.000", "V"),
    ("41 23 0B B8", "30000", "kPa"), ("41 59 3E 80", "160000", "kPa"), ("41 23 FF FF", "655350", "kPa"),
    ("41 59 FF FF", "655350", "kPa"), ("41 22 01 00", "20.224", "kPa"),
    ("41 30 03", "3", ""), ("41 31 00 10", "16", "km"), ("41 4E 00 3C", "60", "min")])
def test_scalings(text: str, value: str, unit: str) -> None:
    """SAE J1979 (recomputed against a public library)."""
    assert value_of(text) == (Decimal(value), unit)
    assert unit in UNITS or not unit


@pytest.mark.parametrize("text, lamp, count, ignition", [("41 01 81 07 65 04", "on", 1, "spark"),
                                                         ("41 01 83 0F 65 04", "on", 3, "compression"),
                                                         ("41 01 00 08 00 00", "off", 0, "compression")])
def test_the_monitor_gives_lamp_count_and_ignition(text: str, lamp: str, count: int, ignition: str) -> None:
    """The first two: recomputed; the third by the same bits."""
    (answer,) = decode(text)
    assert [value.value for value in answer.values] == [lamp, count, ignition]


def test_several_parameters_in_one_answer() -> None:
    """A controller may answer several at once (from memory)."""
    assert decode("41 0C 1A F8 05 7B") == (Answer("41", "engine speed, coolant temperature", (), (
        Value("engine speed", Decimal("1726.00"), "rpm"), Value("coolant temperature", Decimal(83), "°C"))),)


def test_a_freeze_frame_gives_its_code_and_values() -> None:
    """Each parameter is followed by the frame's number (from memory)."""
    (answer,) = decode("42 02 00 02 63 0C 00 1A F8")
    assert (answer.codes, answer.words) == (("P0263",), "freeze frame: engine speed")
    assert answer.values == (Value("engine speed", Decimal("1726.00"), "rpm"),)


VIN_PASTES = {
    "one line": "49 02 01" + SAMPLE.encode().hex(),
    "frames behind a sender": "\n".join(frames("7E8", b"\x49\x02\x01" + SAMPLE.encode())),
    "frames behind a long sender": "\r".join(frames("18 DA F1 10", b"\x49\x02\x01" + SAMPLE.encode())),
    "numbered rows": "0902\r014\r0: 49 02 01 31 4D 38\r1: 47 44 4D 39 41 58 4B\r2: 50 30 34 32 37 38 38\r\r>",
    "rows of an older bus": "49 02 01 00 00 00 31\n49 02 02 4D 38 47 44\n49 02 03 4D 39 41 58\n"
                            "49 02 04 4B 50 30 34\n49 02 05 32 37 38 38",
}


@pytest.mark.parametrize("form", VIN_PASTES)
def test_the_vehicle_number_in_every_form(form: str) -> None:
    """09 02→49 02 01 and 17 characters (recomputed); the number is a published sample (text seen)."""
    assert decode(VIN_PASTES[form]) == (Answer("49", "vehicle number", (), (Value("vehicle number", SAMPLE, ""),)),)


@pytest.mark.parametrize("text", [
    "7E8 06 43 02 02 63 03 01", "7E8 06 43 02 02 63 03 01 00", "7E80643020263030100", "7e8 0643 0202 6303 01 aa",
    "18DAF110 06 43 02 02 63 03 01", "18DAF1100643020263030100", "18 DA F1 10 06 43 02 02 63 03 01 55",
    "430202630301", ">03\r43 02 02 63 03 01\r\r>", "03\nSEARCHING...\n43 02 02 63 03 01\n>",
    "SEARCHING...43 02 02 63 03 01",
    "ATH1\nOK\n>03\n7DF 01 03 00 00 00 00 00 00\n7E8 06 43 02 02 63 03 01 00", "BUS INIT: ...OK\n43 02 02 63 03 01>"])
def test_one_answer_in_many_pastes(text: str) -> None:
    """Senders, padding, spaces, prompts, echoes, settings and line ends do not change what was answered."""
    assert decode(text) == (Answer("43", "2 stored codes", ("P0263", "P0301")),)


def test_two_controllers_interleaved() -> None:
    """Frames are put together by sender, and a flow control between them is no answer."""
    one, two = (b"\x43\x04" + b"".join(to_bytes(code) for code in codes) for codes in (
        ("P0201", "P0202", "P0203", "P0204"), ("U0001", "U0002", "U0003", "U0004")))
    mixed = [line for pair in zip(frames("7E8", one), frames("7E9", two)) for line in pair]
    mixed.insert(2, "7E8 30 00 00 00 00 00 00 00")
    assert [answer.codes for answer in decode("\n".join(mixed))] == [
        ("P0201", "P0202", "P0203", "P0204"), ("U0001", "U0002", "U0003", "U0004")]


@QUICK
@given(CODES, st.sampled_from(["7E8", "18DAF110", "18 DA F1 3D"]))
def test_codes_sent_are_codes_read(codes: list[str], sender: str) -> None:
    """Any list survives framing, however many frames it takes, and also as one bare line."""
    data = bytes([0x43, len(codes)]) + b"".join(to_bytes(code) for code in codes)
    assert codes_of("\r\n".join(frames(sender, data))) == tuple(codes) == codes_of(data.hex())


def test_frame_numbers_go_round_after_fifteen() -> None:
    """Sixty codes take eighteen frames: a first one, 1 to F, then 0 and 1 (ISO 15765-2, from memory)."""
    codes = tuple(f"P{n:04d}" for n in range(100, 160))
    lines = frames("7E8", bytes([0x43, 60]) + b"".join(map(to_bytes, codes)))
    assert len(lines) == 18 and codes_of("\n".join(lines)) == codes


@QUICK
@given(CODES.filter(lambda codes: len(codes) > 2), st.data())
def test_a_lost_frame_is_always_noticed(codes: list[str], data: st.DataObject) -> None:
    """No frame of a long answer can be missing in silence."""
    lines = frames("7E8", bytes([0x43, len(codes)]) + b"".join(to_bytes(code) for code in codes))
    lines.pop(data.draw(st.integers(0, len(lines) - 1)))
    with pytest.raises(BadInput):
        decode("\n".join(lines))


@pytest.mark.parametrize("text, must", [
    ("", "at least one line"), (">", "at least one line"), ("03", "at least one line"),
    ("NO DATA", "Turn the key on"), ("P0204", "line 1: must be pairs"), ("43 02 02 63 03 01\nhello", "line 2"),
    ("43 0", "pairs"), ("43 02 02 63", "second byte counts"), ("43", "three pairs"), ("43 02 63", "three pairs"),
    ("44 00", "44 alone"), ("06 43 02 02 63 03 01", "must begin with one of"), ("FF", "must begin with one of"),
    ("41", "a parameter"), ("41 0C 1A", "must have 2 bytes, not 1"), ("41 FE 00", "parameter: must be one of 01"),
    ("42 0C", "must have 2 bytes, not 0"), ("42 02 00", "must have 2 bytes"), ("7F 04", "a reason"),
    ("7E8", "a length"), ("7E8 43 02 02 63 03 01", "a length"), ("7E8 07 43 02 02 63 03 01", "a length"),
    ("7E8 00", "a length"), ("7A8 02 43 00", "come from a controller"), ("18DAF210 02 43 00", "come from a controller"),
    ("7E8 21 01 02", "a first frame"), ("7E8 10 08 43 03 02 63 03 01", "must have 8 bytes"),
    ("7E8 10 08 43 03 02 63 03 01\n7E8 22 02 04", "must be frame 1, not frame 2"),
    ("7E8 10 08 43 03 02 63 03 01\n7E8 10 08 43 03 02 63 03 01", "the end of the reply before"),
    ("7E8 10 00 43", "length of the reply"), ("0: 49 02 01 31 4D 38", "a line with its length"),
    ("014\n1: 47 44", "a first frame"), ("49 04 01 31", "49 02 01"), ("49 02 01 31 32", "17 characters"),
    ("49 02 01" + "FF" * 17, "place 1"), ("49 02 01 00 00 00 31\n49 02 03 4D 39 41 58", "rows 1 to 5"),
    ("00" * 20_000, "at most")])
def test_what_is_wrong_is_named(text: str, must: str) -> None:
    """Cut short, out of order, not from a controller, not known here: each has its own words."""
    with pytest.raises(BadInput, match=must):
        decode(text)


NEARLY = st.lists(st.one_of(
    st.sampled_from(["7E8", "18DAF110", "0:", "1:", "014", "10 14", "21", "43", "49 02 01", "41 0C", "42", "7F", ">",
                     "\n", "\r", "OK", "AT"]),
    st.text(alphabet="0123456789ABCDEF :\n>", max_size=6)), max_size=14).map(" ".join)


@settings(max_examples=300, deadline=None, derandomize=True)
@example("١٢")
@example("ſſ ß \x85 43 00")
@given(st.text(max_size=60) | NEARLY)
def test_random_text_is_decoded_or_refused(text: str) -> None:
    """Whatever is pasted ends in answers or in BadInput, never in another error."""
    try:
        answers = decode(text)
    except BadInput:
        return
    assert answers and all(answer.words for answer in answers)
