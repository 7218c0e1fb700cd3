"""Figures on a card: units out of the table, limits that something can lie between, times in a sensible order."""
from __future__ import annotations

from decimal import Decimal
from typing import Iterator

from companion.core.card import answer_form, form
from companion.core.card.acts import has_limits
from companion.core.card.build import items_of
from companion.core.card.build_answer import decimals_of, most_decimals
from companion.core.card.faults import meant
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.trade.units import UNITS

MOST_CYLINDERS = 16
MOST_STEPS = 1_000
"""Steps once groups are repeated."""
MOST_SPELLED = 40
_MOST_DECIMALS = 4
_LONGEST_MS = 24 * 3_600_000
_NEVER_NEGATIVE = ("torque", "resistance", "rotation", "speed", "time", "force", "flow", "volume per stroke")
"""Others may be differences, or lie below the air around."""
_ABSOLUTE_ZERO = {"°C": Decimal("-273.15"), "°F": Decimal("-459.67")}


def limit_faults(sheet: Sheet) -> Iterator[Fault]:
    """Every figure that cannot be meant."""
    yield from _head(sheet)
    for place in sheet.steps():
        answer = place.step.answer
        found: Iterator[tuple[str, str]] = iter(())
        if isinstance(answer, answer_form.ValueForm):
            found = _value(answer)
        elif isinstance(answer, answer_form.CountForm) and (answer.must_be or 0) < 0:
            found = iter([("must_be", f"must_be must be 0 or more, not {answer.must_be}")])
        elif isinstance(answer, answer_form.SpellingForm):
            found = _spelling(answer)
        for key, text in found:
            yield sheet.fault(text, *place.path, "answer", key)
        yield from (sheet.fault(text, *place.path, "run", key) for key, text in _run(place.step, sheet))


def size_faults(sheet: Sheet) -> Iterator[Fault]:
    """A card that would unfold to too many steps; it must not even be built."""
    cylinders = sheet.form.cylinders
    if cylinders and cylinders.count > MOST_CYLINDERS:
        text = f"count must be at most {MOST_CYLINDERS} cylinders, not {cylinders.count}"
        yield sheet.fault(text, "cylinders", "count")
        return
    count = sum(len(items_of(sheet.form, place.group)) if place.group else 1 for place in sheet.steps())
    if count > MOST_STEPS:
        yield sheet.fault(f"a job card must unfold to at most {MOST_STEPS:,} steps, not {count:,}", "stages")


def _head(sheet: Sheet) -> Iterator[Fault]:
    if sheet.form.cylinders and sheet.form.cylinders.count == 0:
        yield sheet.fault("count must be 1 cylinder or more, not 0", "cylinders", "count")
    for name, clock in sheet.form.clocks.items():
        for key, text in _clock(clock) if sheet.sound("clocks", name) else ():
            yield sheet.fault(text, "clocks", name, key)


def _clock(clock: form.ClockForm) -> Iterator[tuple[str, str]]:
    if not 0 < clock.lasts <= _LONGEST_MS:
        yield "lasts", "lasts must be above 0 s and at most 24 h"
    if clock.kind == "wait" and not clock.protects:
        yield "kind", "a wait must say whether it protects a person or the work"
    if clock.kind == "run" and clock.protects:
        yield "protects", "only a wait protects; a run must not say so"
    if clock.reasons is not None and clock.protects != "work":
        yield "reasons", "only a wait that protects the work may end early; another must not have reasons"
    if "marks" in clock.model_fields_set:
        for mark in clock.marks:
            if mark != "half" and not 0 < int(mark) < clock.lasts:
                yield "marks", f"marks must lie within the {_time(clock.lasts)} of the clock, not at {_time(int(mark))}"


def _run(step: form.StepForm, sheet: Sheet) -> Iterator[tuple[str, str]]:
    run = step.run
    clock = sheet.form.clocks.get(run.clock) if run else None
    if run and run.within == 0:
        yield "within", "within must be above 0 s"
    if run and run.within >= run.every:
        yield "within", f"within must be shorter than every ({_time(run.every)}), not {_time(run.within)}"
    if run and clock and run.every > clock.lasts:
        yield "every", f"every must be at most the {_time(clock.lasts)} of the clock, not {_time(run.every)}"


def _time(ms: int) -> str:
    return f"{Decimal(ms) / 60_000:f} min" if ms % 60_000 == 0 and ms else f"{Decimal(ms) / 1_000:f} s"


def _spelling(answer: answer_form.SpellingForm) -> Iterator[tuple[str, str]]:
    if answer.least < 1:
        yield "least", "least must be 1 or more, not 0"
    if answer.least > answer.most:
        yield "least", f"least must be at most the {answer.most} of most, not {answer.least}"
    if answer.most > MOST_SPELLED:
        yield "most", f"most must be at most {MOST_SPELLED}, not {answer.most}"


def _value(answer: answer_form.ValueForm) -> Iterator[tuple[str, str]]:
    """Units first: what a limit may be depends on what is measured."""
    if answer.unit not in UNITS:
        known = meant(answer.unit, UNITS) or "; the units are " + ", ".join(UNITS)
        yield "unit", f'unknown unit "{answer.unit}"' + known
    yield from _pairs(answer)
    yield from _signs(answer)
    decimals, least = decimals_of(answer), most_decimals(answer)
    if decimals < least:
        yield "decimals", f"decimals must be at least the {least} of the limits, not {decimals}"
    if decimals > _MOST_DECIMALS:
        yield "decimals", f"a reading must have at most {_MOST_DECIMALS} decimals, not {decimals}"
    if answer.reasons is not None and not has_limits(answer):
        yield "reasons", "reasons are for a value outside its limits, but this one has none"


def _pairs(answer: answer_form.ValueForm) -> Iterator[tuple[str, str]]:
    around = [key for key in ("nominal", "tolerance") if getattr(answer, key) is not None]
    sides = [key for key in ("low", "high") if getattr(answer, key) is not None]
    if len(around) == 1:
        yield around[0], f"nominal and tolerance must stand together, but only {around[0]} does"
    if around and sides:
        yield sides[0], "limits must be low and high, or nominal and tolerance, not both"
    if answer.tolerance is not None and answer.tolerance < 0:
        yield "tolerance", f"tolerance must be 0 or more, not {answer.tolerance}"
    if answer.low is not None and answer.high is not None and answer.low > answer.high:
        yield "low", f"low must be at most the {answer.high} of high, not {answer.low}"


def _signs(answer: answer_form.ValueForm) -> Iterator[tuple[str, str]]:
    """No limit lies where nothing can be measured."""
    if answer.unit not in UNITS:
        return
    floor = _ABSOLUTE_ZERO.get(answer.unit)
    if UNITS[answer.unit].quantity in _NEVER_NEGATIVE:
        floor = Decimal(0)
    for key in ("low", "high", "nominal"):
        limit = getattr(answer, key)
        if floor is None or limit is None:
            continue
        if limit < floor or (limit == floor and key != "low"):
            yield key, f"{answer.value} must be above {floor} {answer.unit}, not {limit}"
