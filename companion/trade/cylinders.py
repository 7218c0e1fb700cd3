"""Which cylinder is at fault, and which part of it: evidence must agree before anything is opened.

The proof by unplugging rests on a controller storing a circuit code for the cylinder whose injector it cannot reach
(common practice, no source). Any disagreement is a value here; the job stops on it.
"""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.errors import BadInput
from companion.trade.codes import CIRCUIT_FAMILIES, cylinder_of, explain, parse
from companion.trade.numbering import (check_cylinder, firing_order, from_other_end, paired, positions,
                                       read_position)

__all__ = ["Agreement", "Fault", "fault_lies", "firing_order", "from_other_end", "named_by", "paired", "point_to",
           "positions", "prove", "read_position"]

_SIGNS = {"wiring": ("sound", "damaged"), "driver": ("steady", "flat"), "resistance": ("inside", "outside"),
          "swap": ("moved", "stayed")}


@dataclass(frozen=True)
class Agreement:
    """Whether the evidence names one cylinder."""

    ok: bool
    """True only where nothing disagrees and one cylinder is named."""
    cylinder: int | None
    """That cylinder; None where not `ok`."""
    disagree: tuple[str, ...]
    """What disagrees, each one short sentence ready to be spoken, numbers as digits; () where `ok`."""


@dataclass(frozen=True)
class Fault:
    """Which part of a cylinder's injection is at fault."""

    part: str
    """"injector", "wiring", "controller" or "unclear"."""
    why: str
    """One or two short sentences ready to be spoken: the reason, or what to do next."""


def named_by(codes: Iterable[str]) -> frozenset[int]:
    """Every cylinder that these fault codes name. Raises BadInput for anything that is no code."""
    return frozenset(cylinder for cylinder in map(cylinder_of, codes) if cylinder is not None)


def point_to(codes: Iterable[str], readings_say: int | None) -> Agreement:
    """The cylinder that complaint codes and readings (balance, leak-off) point to together.

    The codes must name one cylinder; where they name none, the readings must. Where both name one it must be the same.
    Raises BadInput for anything that is no code, or a cylinder outside 1 to 16.
    """
    if readings_say is not None:
        check_cylinder(readings_say)
    named = sorted(named_by(codes))
    if len(named) > 1:
        return _disagree(f"The codes name {_list_cylinders(named)}.")
    if named and readings_say not in (None, named[0]):
        return _disagree(f"The codes name cylinder {named[0]}.", f"The readings point to cylinder {readings_say}.")
    cylinder = named[0] if named else readings_say
    if cylinder is None:
        return _disagree("The codes name no cylinder.", "The readings point to no cylinder.")
    return Agreement(True, cylinder, ())


def prove(suspect: int, unplugged: int, returned: Iterable[str], before: Iterable[str] = ()) -> Agreement:
    """Whether the plug taken off, and the code it brought, belong to the suspect.

    `returned` are the codes read after the run unplugged; `before` those stored when it began: () if cleared just
    before, as what was there already proves nothing. A circuit code of the suspect must be new, and none of another
    cylinder; new codes of other kinds neither prove nor disprove. Raises BadInput as `point_to` does.
    """
    check_cylinder(suspect)
    check_cylinder(unplugged)
    old = {parse(code) for code in before}
    circuit = [code for code in map(parse, returned) if _is_circuit(code)]
    fresh = named_by(code for code in circuit if code not in old)
    found = []
    if unplugged != suspect:
        found += [f"The suspect is cylinder {suspect}.", f"The plug off is on cylinder {unplugged}."]
    if fresh - {suspect}:
        found.append(f"The new codes name {_list_cylinders(sorted(fresh))}.")
    elif not fresh and suspect in named_by(circuit):
        found.append(f"The circuit code of cylinder {suspect} was stored before the test.")
    elif not fresh:
        found.append(f"No new circuit code names cylinder {suspect}.")
    return _disagree(*found) if found else Agreement(True, suspect, ())


def fault_lies(*, wiring: str = "", driver: str = "", resistance: str = "", swap: str = "") -> Fault:
    """Injector, wiring or controller, from what was found; "" for a test not made. Common practice, no source.

    `wiring` is "sound" or "damaged"; `driver`, the signal at the injector's plug, "steady" or "flat"; `resistance` of
    the injector "inside" or "outside" its limits; after a `swap` the fault "moved" with the injector or "stayed".
    Sound wiring and a steady signal leave the injector, unless a swap clears it. Raises BadInput for another word.
    """
    given = {"wiring": wiring, "driver": driver, "resistance": resistance, "swap": swap}
    for name, word in given.items():
        if word not in ("", *_SIGNS[name]):
            raise BadInput(name, f"must be {' or '.join(_SIGNS[name])}, or empty", repr(word))
    injector = swap == "moved" or resistance == "outside"
    if injector and (swap == "stayed" or wiring == "damaged" or driver == "flat"):
        return Fault("unclear", "The tests disagree. Do them again, the wiring first.")
    if injector:
        return Fault("injector", "The fault moved with the injector." if swap == "moved"
                     else "The injector's resistance is outside its limits.")
    return _outside_the_injector(wiring, driver, swap)


def _outside_the_injector(wiring: str, driver: str, swap: str) -> Fault:
    """What remains where nothing speaks against the injector itself."""
    if wiring == "damaged":
        return Fault("wiring", "The wiring is damaged.")
    if driver == "flat" and wiring == "sound":
        return Fault("controller", "The wiring is sound and the signal is flat.")
    if not wiring:
        return Fault("unclear", "Check the wiring.")
    if not driver:
        return Fault("unclear", "The wiring is sound. Check the signal.")
    if swap == "stayed":
        return Fault("unclear", "The fault stayed with the cylinder, and its circuit is sound. Check the compression.")
    return Fault("injector", "The wiring is sound and the signal is steady, so the injector is left.")


def _is_circuit(code: str) -> bool:
    return explain(code).family in CIRCUIT_FAMILIES


def _disagree(*sentences: str) -> Agreement:
    return Agreement(False, None, sentences)


def _list_cylinders(numbers: list[int]) -> str:
    """"cylinder 4", "cylinders 2 and 4", "cylinders 1, 2 and 4"."""
    words = [str(number) for number in numbers]
    if len(words) == 1:
        return f"cylinder {words[0]}"
    return f"cylinders {', '.join(words[:-1])} and {words[-1]}"
