"""Every way to tamper with a log that these tests know: each a change to the bytes, and where `verify` must find it.

`named`: the first bad line must be one of these (from 1). `held`: the change leaves a log that holds by itself, and only what
is held elsewhere (closing seal, receipt, key) shows it.
"""
from __future__ import annotations

import json
import random
import re
import unicodedata
from dataclasses import dataclass
from typing import Any, Callable, Iterator, Sequence

from companion.core.log.journal import canonical, digest, sign

from logmaker import OTHER_KEY, objects, rewritten

Lines = Sequence[bytes]


@dataclass(frozen=True)
class Tampering:
    """The lines before `at` as they were, then `new`, then the lines from `then` on."""

    at: int
    new: tuple[bytes, ...]
    then: int
    named: range
    """Lines, from 1, of which one must be named as the first bad; empty where only what is held shows it."""
    until: int = 0
    """Lines from here (from 1) on must not be said to be vouched for by a seal; 0: nor those that are named be said to hold."""

    @property
    def held(self) -> bool:
        """Whether only what is held elsewhere shows it."""
        return not len(self.named)

    def text(self, lines: Lines) -> bytes:
        """The whole log as it is now."""
        return b"".join((*lines[:self.at], *self.new, *lines[self.then:]))


def split(text: bytes) -> tuple[bytes, ...]:
    """A file's lines, newlines kept."""
    return tuple(re.findall(rb"[^\n]*\n|[^\n]+", text))


def just(line: int) -> range:
    """That line only."""
    return range(line, line + 1)


# -- without another thought: the bytes are changed and nothing is made to fit -----------------------------------------

def bits(lines: Lines, only: Callable[[int], bool] = lambda place: True) -> Iterator[Tampering]:
    """Every bit of every byte flipped, newlines too. `only`: which bytes, by their place in the file."""
    start = 0
    for n, line in enumerate(lines):
        for place in filter(lambda place: only(start + place), range(len(line))):
            for bit in range(8):
                changed = bytearray(line)
                changed[place] ^= 1 << bit
                joined = place == len(line) - 1 and n + 1 < len(lines)
                new = split(bytes(changed) + (lines[n + 1] if joined else b""))
                yield Tampering(n, new, n + 1 + joined, just(n + 1))
        start += len(line)


def dropped(lines: Lines) -> Iterator[Tampering]:
    """Each line taken out. Without its last line a log is unfinished, and holds as such."""
    for n in range(len(lines)):
        yield Tampering(n, (), n + 1, just(n + 1) if n + 1 < len(lines) else range(0))


def repeated(lines: Lines) -> Iterator[Tampering]:
    """Each line twice."""
    return (Tampering(n + 1, (line,), n + 1, just(n + 2)) for n, line in enumerate(lines))


def swapped(lines: Lines) -> Iterator[Tampering]:
    """Each two lines, each in the other's place."""
    for n in range(len(lines)):
        for other in range(n + 1, len(lines)):
            yield Tampering(n, (lines[other], *lines[n + 1:other], lines[n]), other + 1, just(n + 1))


def put_in(lines: Lines, strange: Lines) -> Iterator[Tampering]:
    """Each strange line at each place, and each line of the log at each place where it was not."""
    for n in range(len(lines) + 1):
        for line in (line for line in strange if line not in lines):
            yield Tampering(n, (line,), n, just(n + 1))
        for other, line in enumerate(lines):
            if other != n:  # before itself it stands twice, which is another matter
                yield Tampering(n, (line,), n, just(n + 1))


def cut(lines: Lines) -> Iterator[Tampering]:
    """The file ends at each byte but its own end. At a line's end it holds as an unfinished log."""
    for n, line in enumerate(lines):
        for place in range(len(line)):
            named = just(n + 1) if place or not n else range(0)
            yield Tampering(n, (line[:place],) if place else (), len(lines), named)


def spliced(lines: Lines, other: Lines) -> Iterator[Tampering]:
    """The front of one log and the back of another, at each line that is not the same in both."""
    for n in range(1, min(len(lines), len(other))):
        if other[n - 1] != lines[n - 1]:
            yield Tampering(n, tuple(other[n:]), len(lines), range(n, n + 2), until=n + 1)


# -- the same said otherwise: not a word is changed, but the bytes are ------------------------------------------------

def _value(change: Callable[[Any], str]) -> Callable[[bytes], bytes]:
    return lambda line: change(json.loads(line)).encode("utf-8") + b"\n"


_COMPACT = {"ensure_ascii": False, "separators": (",", ":"), "sort_keys": True}
FORMS: dict[str, Callable[[bytes], bytes]] = {
    "keys in another order": _value(lambda line: json.dumps(dict(reversed(line.items())), **{**_COMPACT, "sort_keys": False})),
    "white space": _value(lambda line: json.dumps(line, ensure_ascii=False, sort_keys=True)),
    "space at the end": lambda line: line[:-1] + b" \n",
    "carriage return": lambda line: line[:-1] + b"\r\n",
    "byte order mark": lambda line: b"\xef\xbb\xbf" + line,
    "empty line before": lambda line: b"\n" + line,
    "escapes": lambda line: line.replace(b'"up"', b'"\\u0075p"'),
    "all beyond ASCII escaped": _value(lambda line: json.dumps(line, **{**_COMPACT, "ensure_ascii": True})),
    "a key twice": lambda line: line.replace(b'"up":', b'"up":1,"up":'),
    "a key twice, the first alike": lambda line: re.sub(rb'("n":[0-9]+)', rb"\1,\1", line, count=1),
    "a whole number as a fraction": lambda line: re.sub(rb'"n":([0-9]+)', rb'"n":\1.0', line, count=1),
    "a whole number as a power": lambda line: re.sub(rb'"n":([0-9]+)', rb'"n":\1e0', line, count=1),
    "a whole number with a sign": lambda line: re.sub(rb'"n":([0-9]+)', rb'"n":-\1', line, count=1),
    "hex in capitals": lambda line: re.sub(rb'"prev":"[0-9a-f]+"', lambda hex: hex[0].upper().replace(b"PREV", b"prev"), line),
    "the time with an offset": lambda line: line.replace(b'Z","data"', b'+00:00","data"'),
    "composed characters": lambda line: unicodedata.normalize("NFC", line.decode()).encode(),
    "decomposed characters": lambda line: unicodedata.normalize("NFD", line.decode()).encode(),
    "compatible characters": lambda line: unicodedata.normalize("NFKC", line.decode()).encode(),
    "in a list": lambda line: b"[" + line[:-1] + b"]\n",
    "as UTF-16": lambda line: line[:-1].decode().encode("utf-16-le") + b"\n",
    "a null at the end": lambda line: line[:-1] + b"\0\n",
}


def said_otherwise(lines: Lines) -> Iterator[Tampering]:
    """Each line in each other form, where that is another."""
    for n, line in enumerate(lines):
        for change in FORMS.values():
            changed = change(line)
            if changed != line:
                yield Tampering(n, split(changed), n + 1, just(n + 1))


# -- what the log says is changed --------------------------------------------------------------------------------------

def _later(at: str) -> str:
    """A millisecond later."""
    return at[:-4] + f"{(int(at[-4:-1]) + 1) % 1000:03}Z"


def _data(**new: Any) -> Callable[[dict[str, Any]], dict[str, Any]]:
    return lambda line: {**line, "data": {**line["data"], **new}}


def _longer(line: dict[str, Any]) -> dict[str, Any]:
    """The first text of its data has a letter more."""
    name = next((name for name, value in line["data"].items() if type(value) is str), "")
    return {**line, "data": {**line["data"], name or "more": str(line["data"].get(name, "")) + "x"}}


CHANGES: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    "time of day, a millisecond": lambda line: {**line, "at": _later(line["at"])},
    "time of day, a year": lambda line: {**line, "at": f"{int(line['at'][:4]) - 1}{line['at'][4:]}"},
    "clock, a millisecond": lambda line: {**line, "up": line["up"] + 1},
    "clock, back": lambda line: {**line, "up": max(0, line["up"] - 60_000)},
    "step": lambda line: {**line, "step": line["step"] + "x"},
    "event": lambda line: {**line, "event": "step_left_out" if line["event"] != "step_left_out" else "step_begun"},
    "a text": _longer,
    "a new field": _data(more="x"),
    "a field gone": lambda line: {**line, "data": dict(list(line["data"].items())[1:])},
}
FIRST_LINE: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    "card": lambda line: _data(card_text=line["data"]["card_text"] + " ")(line),
    "card and its hash": lambda line: _data(**_card(line["data"]["card_text"].replace("bar", "kPa") + " "))(line),
    "key": _data(key=OTHER_KEY.public_key().public_bytes_raw().hex()),
    "boot": _data(boot="another start"), "format": _data(format=1), "mechanic": _data(mechanic={"sha256": "ab" * 32}),
}


def _card(text: str) -> dict[str, str]:
    return {"card_text": text, "card_sha256": digest(text.encode() + b"\n")}


def changed(lines: Lines) -> Iterator[Tampering]:
    """Each line says something else, and nothing is made to fit."""
    for n, one in enumerate(objects(lines)):
        for change in (*CHANGES.values(), *(FIRST_LINE.values() if not n else ())):
            written = canonical(change(one)) + b"\n"
            if written != lines[n]:
                yield Tampering(n, (written,), n + 1, just(n + 1))


# -- the chain is made to fit ------------------------------------------------------------------------------------------

def chained(lines: Lines, at: int, new: Sequence[dict[str, Any]], key: Any = None) -> tuple[bytes, ...]:
    """Objects as lines from place `at` on, numbered and linked to what stands before; sealed anew with a key."""
    written: list[bytes] = []
    prev = digest(lines[at - 1]) if at else "0" * 64
    for n, one in enumerate(new, at):
        one = {**one, "n": n, "prev": prev}
        if one["event"] == "sealed" and key is not None:
            one["data"] = {"sig": sign({**one, "data": {}}, key)}
        written.append(canonical(one) + b"\n")
        prev = digest(written[-1])
    return tuple(written)


def without_the_key(lines: Lines, every: int = 1) -> Iterator[Tampering]:
    """Each line changed, dropped, repeated or swapped with the next, and every number and hash after it made to fit. The seals
    cannot be: the next one is named, or a line before it that breaks a rule of its own."""
    told = objects(lines)
    for n in range(0, len(lines), every):
        acts = [[change(told[n])] for change in (*CHANGES.values(), *(FIRST_LINE.values() if not n else ()))]
        acts += [[]] * (n + 1 < len(lines)) + [[told[n], told[n]]]
        then = [n + 1] * len(acts)
        if n + 1 < len(lines):
            acts.append([told[n + 1], told[n]])
            then.append(n + 2)
        for act, on in zip(acts, then):
            new = chained(lines, n, [*act, *told[on:]])
            if new != tuple(lines[n:]):
                other = next(n for n, line in enumerate(new, n) if n >= len(lines) or line != lines[n])
                yield Tampering(n, new, len(lines), range(n + 1, _other_seal(new, lines, n) + 1), until=other + 1)


def _other_seal(new: Lines, lines: Lines, at: int) -> int:
    """The first seal, from place `at` on, that is not the one that stood there, or the end; counted from 1."""
    seals = (n + 1 for n, line in enumerate(new, at)
             if b'"event":"sealed"' in line and (n >= len(lines) or line != lines[n]))
    return next(seals, at + len(new))


def tail_written_anew(lines: Lines) -> Iterator[Tampering]:
    """After each seal the rest is replaced by an unsealed line that fits: an unfinished log, which holds as such."""
    told = objects(lines)
    for n, one in enumerate(told[:-1]):
        if one["event"] == "sealed":
            new = chained(lines, n + 1, [{**told[n + 1], "event": "step_begun", "data": {}}])
            yield Tampering(n + 1, new, len(lines), range(0))


def with_the_key(lines: Lines, key: Any, every: int = 1) -> Iterator[Tampering]:
    """Each line changed and all that follows made to fit, seals too: only what is held elsewhere shows it."""
    told = objects(lines)
    for n in range(0, len(lines), every):
        for change in (CHANGES["time of day, a millisecond"], CHANGES["a text"]):
            one = change(told[n])
            if one["event"] != "sealed" and _still_fits(n, one, told[n]):
                yield Tampering(n, chained(lines, n, [one, *told[n + 1:]], key), len(lines), range(0))


def _still_fits(n: int, new: dict[str, Any], old: dict[str, Any]) -> bool:
    """Whether the change breaks no rule of the first line by itself."""
    return bool(n) or new["data"] == old["data"]


def by_another_device(lines: Lines) -> Iterator[Tampering]:
    """The whole log with another device's key and seals."""
    told = objects(lines)
    told[0] = FIRST_LINE["key"](told[0])
    yield Tampering(0, tuple(rewritten(told, OTHER_KEY)), len(lines), range(0))


def strange_lines(other: Lines, seed: int = 1) -> tuple[bytes, ...]:
    """Lines that are none of the log's: those of another, and junk."""
    dice = random.Random(seed)
    junk = tuple(bytes(dice.randrange(256) for _ in range(40)).replace(b"\n", b"") + b"\n" for _ in range(3))
    return (*other, b"\n", b"{}\n", b"null\n", b"[]\n", b'""\n', b"junk\n", *junk)
