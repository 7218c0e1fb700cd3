"""What the answers so far point to: one cylinder, a part of it, codes that are gone or not.

Pure working out, without a word of what was made of it: the live job logs what it finds here, and the office finds it
again from the log.
"""
from __future__ import annotations

from decimal import Decimal
from typing import Iterable, Mapping, Optional, Protocol

from companion.core import events as ev
from companion.core.card import Card, CodesOf, CylinderOf, FaultOf
from companion.core.card.answers import Sound, Spread
from companion.core.numbers import say_number
from companion.errors import BadInput
from companion.trade import codes, cylinders, leakoff

THEY_DISAGREE = "they disagree"
"""Said where codes and readings point to no one cylinder."""
CANNOT_TELL = "cannot tell"
"""Said where what was found points to no one part."""


class Answered(Protocol):
    """What was answered so far; a live job is one. See `Job` for what each holds."""

    @property
    def card(self) -> Card: ...

    @property
    def answers(self) -> Mapping[str, str]: ...

    @property
    def readings(self) -> Mapping[str, Mapping[str, str]]: ...

    @property
    def values(self) -> Mapping[str, ev.ValueLogged]: ...

    @property
    def ours(self) -> tuple[str, ...]: ...


# -- the cylinder ------------------------------------------------------------------------------------------------------

def cylinder_words(number: int) -> str:
    """"cylinder three"."""
    return f"cylinder {say_number(str(number))}"


def number_of(card: Card, said: str) -> Optional[int]:
    """The number of a cylinder that was named by number or by place; None for anything else."""
    around = card.cylinders
    by_name = {cylinder_words(number): number for number in range(1, (around.count if around else 0) + 1)}
    by_place = cylinders.positions(around.count, around.counted_from) if around else ()
    return by_name.get(said) or (by_place.index(said) + 1 if said in by_place else None)


def compared(known: Answered, spread: Spread) -> Optional[leakoff.Comparison]:
    """The readings of all cylinders side by side; None before there are two."""
    readings = {item: Decimal(text) for item, text in known.readings.get(spread.name, {}).items()}
    if len(readings) < 2:
        return None
    logged = known.values[spread.name]
    low, high = _limits_passed(readings, logged)
    return leakoff.compare(readings, low=low, high=high, most_ratio=spread.most_ratio, most_apart=spread.most_apart,
                           resolution=Decimal(1).scaleb(-known.card.step(logged.step).answer.decimals))


def _limits_passed(readings: Mapping[str, Decimal],
                   logged: ev.ValueLogged) -> tuple[Optional[Decimal], Optional[Decimal]]:
    """A limit that every reading keeps says nothing about which one stands out, so it does not silence the others."""
    low = logged.low if logged.low is not None and min(readings.values()) < logged.low else None
    high = logged.high if logged.high is not None and max(readings.values()) > logged.high else None
    return low, high


def pointed_to(known: Answered, answer: CylinderOf,
               found: Iterable[Optional[leakoff.Comparison]]) -> tuple[Optional[int], tuple[str, ...]]:
    """The one cylinder that the codes and the comparisons `found` point to, or what disagrees."""
    named = [int(one.outlier.split()[-1]) for one in found if one is not None and one.outlier]
    if len(set(named)) > 1:
        return None, ("The readings point to " + " and to ".join(cylinder_words(number) for number in named) + ".",)
    heard = tuple(code for name in answer.codes for code in known.answers.get(name, "").split())
    agreed = cylinders.point_to(heard, named[0] if named else None)
    return (agreed.cylinder, ()) if agreed.ok else (None, agreed.disagree)


# -- codes -------------------------------------------------------------------------------------------------------------

def lists_of_codes(known: Answered) -> dict[str, list[str]]:
    """Every list of codes logged so far, by the card's name for it."""
    names = dict.fromkeys(step.answer.name for step in known.card.steps if isinstance(step.answer, CodesOf))
    return {name: known.answers[name].split() for name in names if name in known.answers}


def codes_before(known: Answered, answer: CodesOf) -> tuple[str, ...]:
    """The codes of every list logged before this one, without our own."""
    lists = (found for name, found in lists_of_codes(known).items() if name != answer.name)
    return tuple(dict.fromkeys(code for found in lists for code in found if code not in known.ours))


def made_by_us(known: Answered, heard: Iterable[str]) -> tuple[str, ...]:
    """Those of our own test's codes that are new. A code that stood there before is not ours, though the test may have
    made it again."""
    before = {code for found in lists_of_codes(known).values() for code in found}
    return tuple(code for code in heard if code not in before and code not in known.ours)


def proof(known: Answered, answer: CodesOf, heard: tuple[str, ...]) -> tuple[cylinders.Agreement, cylinders.Agreement]:
    """Whether the code that our own test made names the cylinder whose plug is off, and no new one names another: as
    the codes stand, and with those forgiven that the complaint itself had left.

    Where the complaint itself was a circuit code of that cylinder, it is not new and proves less: that is said, too.
    Raises BadInput where no plug was named."""
    before, unplugged = codes_before(known, answer), known.answers.get(answer.proves, "")
    step = next(step for step in known.card.steps if getattr(step.answer, "name", "") == answer.proves)
    off = number_of(known.card, unplugged)
    suspect = number_of(known.card, known.answers.get(step.answer.same_as, unplugged))
    if suspect is None or off is None:
        raise BadInput(answer.proves, "must name a cylinder before our own codes can prove it", repr(unplugged[:40]))
    found = cylinders.prove(suspect, off, heard, before)
    if found.ok:
        return found, found
    own = codes.circuit_codes(suspect)
    return found, cylinders.prove(suspect, off, heard, tuple(code for code in before if code not in own))


def codes_compared(known: Answered, answer: CodesOf, heard: tuple[str, ...]) -> tuple[codes.Compared, tuple[str, ...]]:
    """Before against after, and what our own test made that is still there; a code of ours counts there only."""
    before = tuple(code for name in answer.against for code in known.answers.get(name, "").split()
                   if code not in known.ours)
    cleared = tuple(known.answers[answer.cleared].split()) if answer.cleared in known.answers else None
    ours = tuple(code for code in heard if code in known.ours)
    return codes.compare(before, tuple(code for code in heard if code not in ours), cleared), ours


# -- the fault ---------------------------------------------------------------------------------------------------------

def part_at_fault(known: Answered, answer: FaultOf, resistance: str) -> str:
    """Injector, wiring or controller, or that nobody can tell; `resistance` is inside, outside or "" (not measured)."""
    found = cylinders.fault_lies(
        wiring=_word(known, answer.wiring, "sound", "damaged"), driver=_word(known, answer.driver, "steady", "flat"),
        swap=_word(known, answer.swap, "stayed", "moved"), resistance=resistance)
    return CANNOT_TELL if found.part == "unclear" else found.part


def _word(known: Answered, given: Optional[Sound], sound: str, other: str) -> str:
    if given is None or given.answer not in known.answers:
        return ""
    return sound if known.answers[given.answer] == given.sound else other
