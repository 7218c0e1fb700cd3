"""Raw answers of a vehicle's controllers (SAE J1979 services), typed or pasted, as codes, values and words.

Services and scalings as recomputed against a public library; service 0A (permanent codes), freeze frames (02) and the
reasons for a refusal are from memory. The standard itself was not seen. Trap: over CAN a list of codes begins with
their count; an older bus sends three pairs without one, filled up with zeros. "43 02 63 03 01 00 00" is two codes.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from companion.errors import BadInput
from companion.trade import vin
from companion.trade.codes import from_bytes
from companion.trade.obd_frames import Reply, replies

_LISTS = {0x43: "stored", 0x47: "pending", 0x4A: "permanent"}
_OLD_LIST = 7
_OLD_ROW = 7
_OLD_ROWS = 5
_REFUSALS = {0x10: "no reason given", 0x11: "service not supported", 0x12: "request not supported", 0x21: "busy",
             0x22: "conditions not right", 0x31: "request out of range", 0x78: "more time needed"}


@dataclass(frozen=True)
class Value:
    """One value that an answer gives."""

    name: str
    """What it is, in words ready to be spoken."""
    value: Decimal | str
    """A number exact to the scaling's last digit, or a word ("on", "compression") or vehicle number."""
    unit: str
    """A key of `units.UNITS`; "" for a count or a word."""


@dataclass(frozen=True)
class Answer:
    """One answer of one controller."""

    service: str
    """The answering service as two hexadecimal digits: "43" answers 03."""
    words: str
    """What it is, in short words ready to be spoken, numbers as digits."""
    codes: tuple[str, ...] = ()
    """Fault codes, in the order sent."""
    values: tuple[Value, ...] = ()
    """Values, in the order sent."""


@dataclass(frozen=True)
class _Scale:
    """How the bytes of one parameter make a number: raw × factor + offset."""

    name: str
    unit: str
    size: int
    factor: Decimal
    offset: int = 0


_SCALES = {
    0x05: _Scale("coolant temperature", "°C", 1, Decimal(1), -40),
    0x0C: _Scale("engine speed", "rpm", 2, Decimal("0.25")),
    0x22: _Scale("fuel rail pressure above intake", "kPa", 2, Decimal("0.079")),
    0x23: _Scale("fuel rail pressure, gauge", "kPa", 2, Decimal(10)),
    0x30: _Scale("warm-ups since clearing", "", 1, Decimal(1)),
    0x31: _Scale("distance since clearing", "km", 2, Decimal(1)),
    0x42: _Scale("controller voltage", "V", 2, Decimal("0.001")),
    0x4E: _Scale("time since clearing", "min", 2, Decimal(1)),
    0x59: _Scale("fuel rail pressure, absolute", "kPa", 2, Decimal(10)),
}
_MONITOR, _MONITOR_SIZE = 0x01, 4
_FREEZE_CODE = 0x02


def decode(text: str) -> tuple[Answer, ...]:
    """Every answer in `text` (see `obd_frames` for its forms).

    Raises BadInput, and nothing else, naming what is wrong: a line that is no reply, a reply that is cut short, a count
    that does not fit, a service or parameter not known here.
    """
    return tuple(_read(reply) for reply in _join_rows(replies(text)))


def _read(reply: Reply) -> Answer:
    read = _READERS.get(reply.data[0])
    if read is None:
        known = ", ".join(f"{service:02X}" for service in _READERS)
        raise BadInput("reply", f"must begin with one of {known}", f"{reply.data[0]:02X}")
    return read(reply)


def _code_list(reply: Reply) -> Answer:
    data = reply.data
    if reply.framed or len(data) % 2 == 0:
        if len(data) < 2 or len(data) != 2 + 2 * data[1]:
            raise BadInput("code list", "must hold as many codes as its second byte counts", data.hex(" "))
        found = _pairs(data[2:])
    elif len(data) == _OLD_LIST:
        found = _pairs(data[1:])
    else:
        raise BadInput("code list", "must be a count and its codes, or three pairs", data.hex(" "), "Copy all of it")
    number = f"{len(found) or 'no'} {_LISTS[data[0]]} code{'' if len(found) == 1 else 's'}"
    return Answer(f"{data[0]:02X}", number, codes=found)


def _pairs(data: bytes) -> tuple[str, ...]:
    """The codes in pairs of bytes; a pair of zeros is padding."""
    pairs = (data[i:i + 2] for i in range(0, len(data), 2))
    return tuple(from_bytes(pair) for pair in pairs if any(pair))


def _cleared(reply: Reply) -> Answer:
    if len(reply.data) > 1:
        raise BadInput("reply", "must be 44 alone", reply.data.hex(" "))
    return Answer("44", "codes cleared")


def _parameters(reply: Reply) -> Answer:
    """Current values (41), or those of a freeze frame (42), where each parameter is followed by the frame's number."""
    frozen, rest = reply.data[0] == 0x42, reply.data[1:]
    values: list[Value] = []
    codes: tuple[str, ...] = ()
    while rest:
        parameter, rest = rest[0], rest[2 if frozen else 1:]
        if frozen and parameter == _FREEZE_CODE:
            codes += _pairs(_take(parameter, rest, 2))
            rest = rest[2:]
            continue
        found, size = _values(parameter, rest)
        values += found
        rest = rest[size:]
    if not values and not codes:
        raise BadInput("reply", "must hold a parameter after its service", reply.data.hex(" "))
    names = ", ".join([value.name for value in values] or ["the code that froze it"])
    return Answer(f"{reply.data[0]:02X}", f"freeze frame: {names}" if frozen else names, codes, tuple(values))


def _values(parameter: int, rest: bytes) -> tuple[tuple[Value, ...], int]:
    """The values of one parameter, and how many bytes they took."""
    if parameter == _MONITOR:
        first, second = _take(parameter, rest, _MONITOR_SIZE)[:2]
        return (Value("fault lamp", "on" if first & 0x80 else "off", ""),
                Value("stored codes", Decimal(first & 0x7F), ""),
                Value("ignition", "compression" if second & 0x08 else "spark", "")), _MONITOR_SIZE
    scale = _SCALES.get(parameter)
    if scale is None:
        known = ", ".join(f"{number:02X}" for number in sorted((_MONITOR, *_SCALES)))
        raise BadInput("parameter", f"must be one of {known}", f"{parameter:02X}")
    raw = int.from_bytes(_take(parameter, rest, scale.size), "big")
    return (Value(scale.name, raw * scale.factor + scale.offset, scale.unit),), scale.size


def _take(parameter: int, rest: bytes, size: int) -> bytes:
    if len(rest) < size:
        raise BadInput(f"parameter {parameter:02X}", f"must have {size} bytes", f"{len(rest)}", "Copy all of it")
    return rest[:size]


def _vehicle(reply: Reply) -> Answer:
    """49 02 01 and 17 characters, which zeros may precede."""
    if reply.data[1:3] != b"\x02\x01":
        raise BadInput("reply", "must be the vehicle number, 49 02 01", reply.data[:3].hex(" "))
    number = vin.read(reply.data[3:].lstrip(b"\0").decode("ascii", "replace")).text
    return Answer("49", "vehicle number", values=(Value("vehicle number", number, ""),))


def _join_rows(found: tuple[Reply, ...]) -> tuple[Reply, ...]:
    """An older bus sends the vehicle number in five rows of four bytes: 49 02, the row's number, the bytes."""
    rows = [reply.data for reply in found if _is_row(reply)]
    if not rows:
        return found
    if [row[2] for row in rows] != list(range(1, _OLD_ROWS + 1)):
        raise BadInput("vehicle number", f"must have rows 1 to {_OLD_ROWS} in order",
                       ", ".join(str(row[2]) for row in rows), "Copy every line")
    whole = Reply(b"\x49\x02\x01" + b"".join(row[3:] for row in rows), False)
    return (*(reply for reply in found if not _is_row(reply)), whole)


def _is_row(reply: Reply) -> bool:
    return not reply.framed and reply.data[:2] == b"\x49\x02" and len(reply.data) == _OLD_ROW


def _refused(reply: Reply) -> Answer:
    if len(reply.data) != 3:
        raise BadInput("refusal", "must be 7F, a service and a reason", reply.data.hex(" "))
    reason = _REFUSALS.get(reply.data[2], f"reason {reply.data[2]}")
    return Answer("7F", f"refused, {reason}", values=(Value("service refused", f"{reply.data[1]:02X}", ""),))


_READERS: dict[int, Callable[[Reply], Answer]] = {
    **dict.fromkeys(_LISTS, _code_list), 0x44: _cleared, 0x41: _parameters, 0x42: _parameters, 0x49: _vehicle,
    0x7F: _refused}
