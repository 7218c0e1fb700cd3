"""Units: the closed table against published factors, conversion, and every way a unit is said."""
from __future__ import annotations

import itertools
from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import BadInput
from companion.trade.units import (AMBIGUOUS, UNITS, convert, forms, key, meanings, resolve, same_quantity, say_unit,
                                   settle)

# NIST SP 811 Appendix B, and the exact definitions it rests on.
PUBLISHED = [
    ("1", "lbf·ft", "N·m", "1.3558179483314004"),
    ("1", "lbf·in", "N·m", "0.1129848290276167"),
    ("1", "kgf·m", "N·m", "9.80665"),
    ("1", "bar", "kPa", "100"),
    ("1", "bar", "MPa", "0.1"),
    ("1", "bar", "mbar", "1000"),
    ("1", "US fl oz", "ml", "29.5735295625"),
    ("1", "imp fl oz", "ml", "28.4130625"),
    ("1", "in", "mm", "25.4"),
    ("1", "mi", "km", "1.609344"),
    ("1", "mph", "km/h", "1.609344"),
    ("1", "lb", "g", "453.59237"),
    ("2.5", "kg", "g", "2500"),
    ("1600", "bar", "MPa", "160"),
    ("80", "°C", "°F", "176"),
    ("-40", "°C", "°F", "-40"),
    ("212", "°F", "°C", "100"),
    ("1.5", "h", "min", "90"),
    ("250", "mV", "V", "0.25"),
    ("4.7", "kΩ", "Ω", "4700"),
    ("320", "mg", "g", "0.32"),
    ("1.2", "l", "ml", "1200"),
    ("3", "m", "cm", "300"),
    ("1", "lbf", "N", "4.4482216152605"),
    ("1", "kgf", "N", "9.80665"),
    ("30.4", "kN", "N", "30400"),
    ("1013.25", "hPa", "mbar", "1013.25"),
    ("1", "l/min", "ml/min", "1000"),
    ("1.5", "l/min", "l/h", "90"),
    ("350", "mA", "A", "0.35"),
    ("800", "ms", "s", "0.8"),
]

# The same source, to the digits it prints: these conversions do not end.
PRINTED = [
    ("40", "N·m", "lbf·ft", "29.5025"),
    ("40", "N·m", "lbf·in", "354.030"),
    ("1600", "bar", "psi", "23206.04"),
    ("1", "psi", "kPa", "6.894757293168361"),
    ("2000", "bar", "psi", "29008"),
    ("1", "inHg", "kPa", "3.386389"),       # SP 811, from memory
]


@pytest.mark.parametrize("value, source, target, expected", PUBLISHED)
def test_conversions_that_end_are_exact(value: str, source: str, target: str, expected: str) -> None:
    """A published exact factor comes out digit for digit, and back again."""
    assert convert(Decimal(value), source, target) == Decimal(expected)
    assert convert(Decimal(expected), target, source) == Decimal(value)


@pytest.mark.parametrize("value, source, target, expected", PRINTED)
def test_conversions_that_do_not_end_agree_in_print(value: str, source: str, target: str, expected: str) -> None:
    """Rounding happens only in `resolve`, and then gives the figure in print."""
    decimals = -int(Decimal(expected).as_tuple().exponent)
    assert resolve(convert(Decimal(value), source, target), decimals) == Decimal(expected)


# Each unit as the library pint names it.
PINT_NAMES = {
    "N·m": "newton * meter", "lbf·ft": "force_pound * foot", "lbf·in": "force_pound * inch",
    "kgf·m": "force_kilogram * meter", "N": "newton", "kN": "kilonewton", "lbf": "force_pound", "kgf": "force_kilogram",
    "bar": "bar", "mbar": "millibar", "hPa": "hectopascal", "kPa": "kilopascal", "MPa": "megapascal", "psi": "psi",
    "inHg": "inch_Hg", "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "km": "kilometer",
    "mi": "mile", "ml": "milliliter", "l": "liter", "US fl oz": "US_fluid_ounce", "imp fl oz": "imperial_fluid_ounce",
    "mm3/stroke": "millimeter ** 3", "ml/min": "milliliter / minute", "l/min": "liter / minute", "l/h": "liter / hour",
    "kg": "kilogram", "g": "gram", "mg": "milligram", "lb": "pound", "°C": "degree_Celsius", "°F": "degree_Fahrenheit",
    "V": "volt", "mV": "millivolt", "A": "ampere", "mA": "milliampere", "Ω": "ohm", "kΩ": "kiloohm",
    "rpm": "revolution / minute", "km/h": "kilometer / hour", "mph": "mile / hour", "min": "minute", "s": "second",
    "ms": "millisecond", "h": "hour", "°": "degree", "%": "percent",
}
QUANTITIES = sorted({unit.quantity for unit in UNITS.values()})


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    """Made once: it reads its whole table of units."""
    return pint.UnitRegistry()


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_conversions_agree_with_pint(quantity: str, registry: pint.UnitRegistry) -> None:
    """Every pair of units of one quantity, over random values, to what pint's floats hold (pint 0.24 or later)."""
    symbols = [unit.symbol for unit in UNITS.values() if unit.quantity == quantity]

    @settings(max_examples=10, deadline=None, derandomize=True)
    @given(st.decimals(-100_000, 100_000, places=4))
    def agree(value: Decimal) -> None:
        for source, target in itertools.product(symbols, repeat=2):
            theirs = registry.Quantity(float(value), PINT_NAMES[source]).to(PINT_NAMES[target]).magnitude
            assert float(convert(value, source, target)) == pytest.approx(theirs, rel=1e-11, abs=1e-9)
    agree()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.decimals(-100_000, 100_000, places=4), st.sampled_from(sorted(UNITS)), st.data())
def test_there_and_back_is_the_same_reading(value: Decimal, source: str, data: st.DataObject) -> None:
    """No conversion loses a digit that a tool could show."""
    target = data.draw(st.sampled_from(same_quantity(source)))
    assert resolve(convert(convert(value, source, target), target, source), 4) == value


@pytest.mark.parametrize("source, target", [("bar", "N·m"), ("°C", "°"), ("V", "A"), ("lb", "lbf·ft"), ("mg", "ml")])
def test_quantities_do_not_mix(source: str, target: str) -> None:
    """A pressure is never a torque: the refusal names both."""
    with pytest.raises(BadInput, match=UNITS[source].quantity):
        convert(Decimal(1), source, target)


@pytest.mark.parametrize("value", ["NaN", "Infinity", "1E+99999", "1E-99999", "1" * 61])
def test_numbers_no_tool_shows_are_refused(value: str) -> None:
    """Hostile values end in one clear error, not in a long sum."""
    with pytest.raises(BadInput):
        convert(Decimal(value), "bar", "psi")


@pytest.mark.parametrize("symbol", ["", "furlong", "Nm", "BAR"])
def test_units_outside_the_table_are_refused(symbol: str) -> None:
    """Cards and logs write a symbol exactly."""
    with pytest.raises(BadInput, match="N·m"):
        convert(Decimal(1), symbol, "N·m")


@pytest.mark.parametrize("value, decimals, expected", [
    ("2.5", 0, "2"), ("3.5", 0, "4"), ("2.51", 0, "3"), ("-2.5", 0, "-2"), ("7.445", 2, "7.44"), ("7.455", 2, "7.46"),
    ("7.5", 2, "7.50"), ("160", 0, "160"), ("0.04", 1, "0.0")])
def test_rounding_goes_half_to_even_and_keeps_the_decimals(value: str, decimals: int, expected: str) -> None:
    """ISO 80000-1, rule A (from memory)."""
    assert str(resolve(Decimal(value), decimals)) == expected


@pytest.mark.parametrize("symbol, digits, expected", [
    ("N·m", "7.50", "newton metres"), ("N·m", "1", "newton metre"), ("N·m", "1.0", "newton metres"),
    ("N·m", "0", "newton metres"),
    ("°C", "-1", "degree Celsius"), ("psi", "32", "pounds per square inch"), ("lbf·ft", "30", "pound feet"),
    ("bar", "1600", "bar"),
    ("rpm", "850", "revolutions per minute"), ("%", "50", "percent"), ("in", "1", "inch"), ("kΩ", "2", "kilohms")])
def test_a_unit_is_spoken_in_words_singular_only_after_one(symbol: str, digits: str, expected: str) -> None:
    """"One newton metre", "seven point five zero newton metres"."""
    assert say_unit(symbol, digits) == expected


def test_every_spoken_name_is_words_a_voice_can_say() -> None:
    """No abbreviation and no symbol is left for the voice to stumble over ("US" is said as two letters)."""
    for unit in UNITS.values():
        for name in (unit.one, unit.many):
            assert name.replace("US ", "").replace(" ", "").isalpha() and len(name) > 2, name
            assert not any(word.isupper() for word in name.split() if word != "US"), name


@pytest.mark.parametrize("form, symbol", [
    ("newton metres", "N·m"), ("newton-meters", "N·m"), ("newton meter", "N·m"), ("n m", "N·m"), ("Nm", "N·m"),
    ("N.m", "N·m"), ("N·m", "N·m"),
    ("foot pounds", "lbf·ft"), ("pound feet", "lbf·ft"), ("ft-lb", "lbf·ft"), ("lbf.ft", "lbf·ft"),
    ("lbf·ft", "lbf·ft"), ("ft lbs", "lbf·ft"),
    ("inch pounds", "lbf·in"), ("in-lb", "lbf·in"), ("kilogram metres", "kgf·m"), ("k p a", "kPa"), ("kPa", "kPa"),
    ("kilopascal", "kPa"),
    ("p s i", "psi"), ("psi", "psi"), ("pounds per square inch", "psi"), ("bars", "bar"), ("millilitres", "ml"),
    ("milliliters", "ml"),
    ("c c", "ml"), ("degrees centigrade", "°C"), ("°C", "°C"), ("degrees Fahrenheit", "°F"), ("volts", "V"),
    ("mV", "mV"), ("amperes", "A"),
    ("ohms", "Ω"), ("kΩ", "kΩ"), ("k ohms", "kΩ"), ("revs", "rpm"), ("r p m", "rpm"), ("km/h", "km/h"),
    ("k p h", "km/h"), ("m p h", "mph"),
    ("minutes", "min"), ("second", "s"), ("hrs", "h"), ("per cent", "%"), ("%", "%"), ("milligrams per stroke", "mg"),
    ("kgs", "kg"),
    ("kilonewtons", "kN"), ("pounds force", "lbf"), ("lbf", "lbf"), ("kgf", "kgf"),
    ("kilograms force", "kgf"), ("c c per minute", "ml/min"), ("millilitres a minute", "ml/min"), ("l/min", "l/min"),
    ("liters per hour", "l/h"), ("mm³/stroke", "mm3/stroke"), ("cubic millimetres per stroke", "mm3/stroke"),
    ("inches of mercury", "inHg"), ("hectopascals", "hPa"), ("milliamps", "mA"), ("ms", "ms"), ("degC", "°C"),
    ("US fluid ounces", "US fl oz"), ("imperial fluid ounces", "imp fl oz"), ("inches", "in"), ("miles", "mi")])
def test_heard_and_typed_forms_find_their_unit(form: str, symbol: str) -> None:
    """Spaces, points, hyphens, number and British or American spelling never matter."""
    assert forms(tuple(UNITS))[key(form)] == symbol


def test_no_form_belongs_to_two_units() -> None:
    """A form that could be two units is in `AMBIGUOUS` and asked; none is settled by the order of the table."""
    owners: dict[str, set[str]] = {}
    for unit in UNITS.values():
        for form in (unit.symbol, *unit.heard, *unit.typed):
            owners.setdefault(key(form), set()).add(unit.symbol)
    shared = {form for form, symbols in owners.items() if len(symbols) > 1}
    assert shared <= {key(form) for form in AMBIGUOUS}


@pytest.mark.parametrize("form", sorted(AMBIGUOUS))
def test_ambiguous_forms_are_never_guessed(form: str) -> None:
    """Among all units an ambiguous form stays a question (common practice, no source)."""
    assert forms(tuple(UNITS))[key(form)] == "?" + form
    assert all(symbol in UNITS for symbol in AMBIGUOUS[form])


@pytest.mark.parametrize("form, like, settled, asked", [
    ("?pounds", "N·m", None, ("lbf·ft", "lbf·in")), ("?pounds", "bar", None, ("psi",)), ("pounds", "kg", "lb", ("lb",)),
    ("?degrees", "°", "°", ("°",)), ("?degrees", "°C", None, ("°C", "°F")), ("?kilos", "g", "kg", ("kg",)),
    ("?newtons", "N·m", None, ("N·m",)), ("newtons", "kN", "N", ("N",)), ("?lb", "N·m", None, ("lbf·ft", "lbf·in")),
    ("lb", "kg", "lb", ("lb",)), ("?pounds", "N", None, ("lbf",)), ("?kilos", "N", None, ("kgf",)),
    ("?pounds", "V", None, ()), ("?ounces", "ml", None, ("US fl oz", "imp fl oz"))])
def test_only_a_units_own_name_settles_it(form: str, like: str, settled: str | None, asked: tuple[str, ...]) -> None:
    """"Degrees" of turn are degrees; "pounds" for a pressure are still asked, and what may be meant can be offered."""
    assert settle(form, like) == settled
    assert meanings(form, like) == asked


def test_factors_are_exact_fractions() -> None:
    """1 psi is a pound-force on a square inch: 4.4482216152605 N on (0.0254 m)² (exact definitions)."""
    assert UNITS["psi"].factor == Fraction("4.4482216152605") / Fraction("0.0254") ** 2
    assert all(isinstance(unit.factor, Fraction) and isinstance(unit.offset, Fraction) for unit in UNITS.values())
