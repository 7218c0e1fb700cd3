"""Structured changes: words no one expects, bytes moved about, lines and fields of YAML and JSON put in the wrong place."""
from __future__ import annotations

import json
import re
from random import Random
from typing import Any

STRANGE = (
    "", " ", "\n", "~", "null", "yes", "no", "NaN", ".nan", ".inf", "-0", "1e999999", "0x1F", "1_000", "٣", "９", "½",
    "9" * 400, "-" + "9" * 40, "0." + "1" * 400, "2026-02-30", "9999-12-31T23:59:60.999Z", "0001-01-01T00:00:00.000Z",
    "\x1b[2J\x1b[31mred", "\x1b]0;title\x07", "\x9b31m", "\x00", "\r", "\b\b", "\u202egnp.exe", "\u2066", "\u200b", "\ufeff",
    "\u2028", "\ufffe", "\U000e0001", "é", "e\u0301" * 40, "ß" * 50, "İ", "ﬃ", "🔧", "a" * 5000, "word " * 800,
    "<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "' onmouseover='x", "</style><b>", "&lt;",
    "javascript:alert(1)", "../../etc/passwd", "/etc/passwd", "..\\..\\x", "C:\\x", "con", "a/b", "%2e%2e/", "file:///etc/passwd",
    "!!python/object/apply:os.system [id]", "!!python/name:os.system", "{{7*7}}", "${7*7}", "{item}", "{", "}",
    "{0.__class__}", "%s%n", "#panic()", "$x$", "@a", "*a", "&a", "__import__('os').system('id')", "=1+1",
    "cylinder two", "done", "end", "affirm", "(erased)")
"""Words that break programs: numbers that are none, characters that steer, markup, paths, code."""
ODD: tuple[Any, ...] = (None, True, False, 0, -1, 2**53, 2**53 - 1, -(2**63), 2**64, 10**40, 0.5, 1e308, [], {}, [[]], [""],
                        {"": ""}, {"sha256": "0" * 64}, {"sha256": 1}, ["a"] * 300, "")


def word(chance: Random) -> str:
    """One of them, or two in one."""
    made = chance.choice(STRANGE)
    return made + chance.choice(STRANGE) if chance.random() < 0.1 else made


def bytewise(data: bytes, chance: Random) -> bytes:
    """A few bytes flipped, cut, doubled or put in."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at = chance.randint(0, len(made))
        to = min(len(made), at + chance.choice((1, 1, 2, 4, 16, 200)))
        what = chance.randint(0, 4)
        if what == 0 and made:
            made[min(at, len(made) - 1)] = chance.randint(0, 255)
        elif what == 1:
            del made[at:to]
        elif what == 2:
            made[at:at] = made[at:to] * chance.choice((1, 1, 30))
        elif what == 3:
            made[at:at] = word(chance).encode("utf-8", "surrogatepass")
        else:
            del made[at:]
    return bytes(made)


def linewise(data: bytes, chance: Random) -> bytes:
    """A line dropped, doubled, moved, or put deeper; of a text such as a card."""
    lines = data.split(b"\n")
    at, to = chance.randrange(len(lines)), chance.randrange(len(lines) + 1)
    what = chance.randint(0, 4)
    line = lines[at] if what in (1, 3) else lines.pop(at)
    if what in (1, 2):
        lines.insert(min(to, len(lines)), line)
    elif what == 3:
        lines[at:at + 1] = [line, b"  " * chance.choice((1, 2, 30)) + line.lstrip()]
    elif what == 4:
        lines.insert(at, line[chance.randint(0, len(line)):])
    return b"\n".join(lines)


_VALUE = re.compile(rb"(?<=[:\[,{])( ?)([^\n,:\[\]{}#]+)")


def yamlwise(data: bytes, chance: Random) -> bytes:
    """A value of a YAML text is another, of another kind, has an anchor or a tag; or a key stands twice."""
    places = list(_VALUE.finditer(data))
    if not places:
        return bytewise(data, chance)
    found, other = chance.choice(places), chance.choice(places)
    new = chance.choice((
        lambda: json.dumps(word(chance)).encode(), lambda: word(chance).encode("utf-8", "surrogatepass"), lambda: other[2],
        lambda: b"&a " + found[2], lambda: b"*a", lambda: b"!!python/object:os.system " + found[2], lambda: b"!x " + found[2],
        lambda: b"[" * chance.choice((1, 3, 5000)), lambda: b"{a: " * chance.choice((1, 3, 3000)),
        lambda: b"[" + b", ".join([found[2]] * chance.choice((2, 70, 400))) + b"]",
        lambda: b"{" + found[2] + b": " + other[2] + b"}",
        lambda: str(chance.choice(ODD)).encode(), lambda: b"|\n      " + found[2], lambda: b"",
        lambda: re.sub(rb"[a-z]", lambda m: b"z", found[2], count=1), lambda: found[2] + b" " + other[2]))()
    return data[:found.start(2)] + new + data[found.end(2):]


def cardwise(data: bytes, chance: Random) -> bytes:
    """Any change of a YAML text."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choice((yamlwise, yamlwise, yamlwise, linewise, bytewise))(data, chance)
    return data


def _odd(value: Any, chance: Random) -> Any:
    """Another value in the place of `value`."""
    if isinstance(value, str) and chance.random() < 0.6:
        return chance.choice((word(chance), value + word(chance), value[:-1], value.upper(), value * 3))
    if type(value) is int and chance.random() < 0.6:
        return value + chance.choice((-1, 1, 1000, -60_000, 2**53))
    if isinstance(value, list) and chance.random() < 0.6:
        return value + [word(chance)]
    return chance.choice((chance.choice(ODD), word(chance)))


def fieldwise(line: dict[str, Any], others: list[dict[str, Any]], chance: Random) -> dict[str, Any]:
    """One field of a JSON line, or of the data in it, is another, gone, new, or of another line."""
    inside = isinstance(line.get("data"), dict) and chance.random() < 0.75
    held = dict(line["data"] if inside else line)
    other = chance.choice(others)
    other = other["data"] if inside and isinstance(other.get("data"), dict) else other
    name = chance.choice(list(held) or [""])
    what = chance.randint(0, 9)
    if what < 5:
        held[name] = _odd(held.get(name), chance)
    elif what < 6:
        held.pop(name, None)
    elif what < 8 and other:
        name = chance.choice(list(other))
        held[name] = other[name]
    elif what < 9:
        held[word(chance)] = chance.choice(ODD)
    else:
        return {**line, "event": other.get("event", "")} if not inside else {**line, "data": other}
    return {**line, "data": held} if inside else held


def jsonwise(data: bytes, chance: Random) -> bytes:
    """Lines of JSON with fields, lines or bytes changed."""
    lines = data.split(b"\n")
    if chance.random() < 0.15:
        return chance.choice((bytewise, linewise))(data, chance)
    for _ in range(chance.choice((1, 1, 2, 5))):
        objects = [found for found in map(objects_of, lines) if found]
        at = chance.randrange(len(lines))
        line = objects_of(lines[at])
        if chance.random() < 0.2 or not line:
            lines = linewise(b"\n".join(lines), chance).split(b"\n")
        else:
            made = fieldwise(line, objects, chance)
            lines[at] = json.dumps(made, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode("utf-8", "replace")
    return b"\n".join(lines)


def objects_of(line: bytes) -> dict[str, Any]:
    """The object on a line, {} where there is none."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
