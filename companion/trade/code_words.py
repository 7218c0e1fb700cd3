"""What the injection, misfire and rail codes say, in our own words: one table, built from families of codes.

Sources: decimal families and group codes from SAE J2012 as two public lists give them (recomputed, both agree; one web
list swaps P0261 and P0262, low and high); families counted in hexadecimal from one public list only. The standard
itself was not seen. The trap is that both countings share the same numbers: P0210 is the circuit of cylinder 10, in
decimal, while P020A is the timing of cylinder 1, in hexadecimal.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

MOST_CYLINDERS = 12
"""The families count cylinders 1 to 12."""
_OFFSETS_END = 10
_RUN_OF_TIMING = 6


@dataclass(frozen=True)
class Entry:
    """What one code says."""

    family: str
    """A short name shared by the codes that say the same of different cylinders or groups."""
    cylinder: int | None
    """1 to 12; None where the code names no cylinder."""
    words: str
    """Short English without the code itself, ready to be spoken; numbers are digits."""


def _in_decimal(first: int, step: int) -> Callable[[int], str]:
    """The code's three digits are counted as plain decimal figures."""
    return lambda cylinder: f"P{first + step * (cylinder - 1):04d}"


def _in_hexadecimal(first: int, step: int) -> Callable[[int], str]:
    """The code's digits are counted with A to F between 9 and 0."""
    return lambda cylinder: f"P{first + step * (cylinder - 1):04X}"


def _timing(cylinder: int) -> str:
    """P020A to P020F, then P021A to P021F: six a run, so that the decimal circuit codes fit between them."""
    run, place = divmod(cylinder - 1, _RUN_OF_TIMING)
    return f"P{0x020A + 0x10 * run + place:04X}"


# Family, words, how cylinder n is written, and the last cylinder of the family.
_FAMILIES = (
    ("circuit open", "injector circuit open", _in_decimal(201, 1), MOST_CYLINDERS),
    ("circuit low", "injector circuit low", _in_decimal(261, 3), MOST_CYLINDERS),
    ("circuit high", "injector circuit high", _in_decimal(262, 3), MOST_CYLINDERS),
    ("circuit range", "injector circuit out of range", _in_hexadecimal(0x02EE, 1), MOST_CYLINDERS),
    ("balance", "contribution or balance", _in_decimal(263, 3), MOST_CYLINDERS),
    ("misfire", "misfire", _in_decimal(301, 1), MOST_CYLINDERS),
    ("restricted", "injector restricted", _in_hexadecimal(0x029C, 4), MOST_CYLINDERS),
    ("leaking", "injector leaking", _in_hexadecimal(0x029D, 4), MOST_CYLINDERS),
    ("timing", "injection timing", _timing, MOST_CYLINDERS),
    ("offset at minimum", "injector offset learning at its lower limit", _in_hexadecimal(0x02CC, 2), _OFFSETS_END),
    ("offset at maximum", "injector offset learning at its upper limit", _in_hexadecimal(0x02CD, 2), _OFFSETS_END),
)

CIRCUIT_FAMILIES = ("circuit open", "circuit low", "circuit high", "circuit range")
"""What a controller may store when it finds an injector's plug off: open everywhere, the others on some engines."""

_GROUPS = tuple((f"P{2146 + 3 * place + fault}", f"supply {state}", f"injector supply {state}, group {group}")
                for place, group in enumerate("ABCD") for fault, state in enumerate(("open", "low", "high")))

_SINGLE = (
    ("P0200", "circuit open", "injector circuit open, no cylinder named"),
    ("P0300", "misfire", "misfire, random or several cylinders"),
    ("P0314", "misfire", "misfire, one cylinder, not named"),
    ("P0087", "rail pressure", "fuel rail pressure too low"),
    ("P0088", "rail pressure", "fuel rail pressure too high"),
    ("P0093", "fuel leak", "large fuel leak found"),
    ("P0190", "rail sensor", "fuel rail pressure sensor circuit"),
    ("P0191", "rail sensor", "fuel rail pressure sensor out of range"),
    ("P0192", "rail sensor", "fuel rail pressure sensor low"),
    ("P0193", "rail sensor", "fuel rail pressure sensor high"),
    # Where the offset family would go on past cylinder 10. Only that they are intake air is sure.
    *((f"P02E{place}", "intake air", "diesel intake air flow control") for place in range(4)),
    *_GROUPS,
)


def _entries() -> dict[str, Entry]:
    """Every code known here. No code may come from two families."""
    table: dict[str, Entry] = {}
    rows = [(write(n), Entry(family, n, f"{words}, cylinder {n}"))
            for family, words, write, last in _FAMILIES for n in range(1, last + 1)]
    rows += [(code, Entry(family, None, words)) for code, family, words in _SINGLE]
    for code, entry in rows:
        if code in table:
            raise ValueError(f"{code} is both {table[code].words} and {entry.words}")
        table[code] = entry
    return table


ENTRIES = _entries()
