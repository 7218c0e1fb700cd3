"""Units of measure: a closed table, exact conversion, and how each unit is spoken and heard.

Factors are exact by definition (NIST SP 811, Appendix B): 1 lbf = 4.4482216152605 N, 1 in = 0.0254 m,
1 lb = 0.45359237 kg, 1 kgf = 9.80665 N, 1 US fl oz = 29.5735295625 ml, 1 imperial fl oz = 28.4130625 ml; an inch of
mercury is the conventional one, of 13 595.1 kg/m³ under 9.80665 m/s² (SP 811 prints 3.386389 kPa; from memory).
A value in a unit is `value * factor + offset` in the base unit of its quantity.
"""
from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

from companion.errors import BadInput

_POUND_FORCE = Fraction("4.4482216152605")
_KILOGRAM_FORCE = Fraction("9.80665")
_INCH = Fraction("0.0254")
_FOOT = Fraction("0.3048")
_ZERO_CELSIUS = Fraction("273.15")

_MOST_DIGITS = 60
_LARGEST_POWER = 30
_EXACT = Context(prec=_MOST_DIGITS)
_LONG = Context(prec=28)


@dataclass(frozen=True)
class Unit:
    """One unit. `factor` and `offset` lead to the base unit of its quantity."""

    symbol: str
    """As written in cards and logs, e.g. "N·m"; the key of `UNITS`."""
    quantity: str
    """Only units of one quantity convert into each other."""
    factor: Fraction
    one: str
    """Spoken after exactly one, e.g. "newton metre"."""
    many: str
    """Spoken after anything else."""
    heard: tuple[str, ...]
    """Every spoken form, the usual one first, British and American; letters said singly are spaced ("n m")."""
    typed: tuple[str, ...] = ()
    """Further forms met only in writing ("lbf.ft"). Spaces, points and hyphens never matter."""
    offset: Fraction = Fraction(0)


def _unit(symbol: str, quantity: str, factor: Fraction | int | str, one: str, many: str,
          heard: str = "", typed: str = "", offset: Fraction = Fraction(0)) -> Unit:
    """A row of the table; `heard` and `typed` hold further forms, separated by bars."""
    forms = [many, one, *filter(None, heard.split("|"))]
    american = [form.replace("metre", "meter").replace("litre", "liter") for form in forms]
    written = tuple(filter(None, typed.split("|")))
    return Unit(symbol, quantity, Fraction(factor), one, many, tuple(dict.fromkeys(forms + american)), written, offset)


_TABLE = (
    _unit("N·m", "torque", 1, "newton metre", "newton metres", "n m", "N.m|newton m"),
    _unit("lbf·ft", "torque", _POUND_FORCE * _FOOT, "pound foot", "pound feet",
          "foot pounds|foot pound|pounds feet|pounds foot|pound force feet|pound force foot",
          "ft lb|ft lbs|lb ft|lbs ft|lbf ft|ft lbf"),
    _unit("lbf·in", "torque", _POUND_FORCE * _INCH, "pound inch", "pound inches",
          "inch pounds|inch pound|pounds inches|pound force inches|pound force inch",
          "in lb|in lbs|lb in|lbs in|lbf in|in lbf"),
    _unit("kgf·m", "torque", _KILOGRAM_FORCE, "kilogram force metre", "kilogram force metres",
          "kilogram metres|kilogram metre", "kgf m|kg m|m kg|m kgf"),
    _unit("N", "force", 1, "newton", "newtons", "", "n"),
    _unit("kN", "force", 1_000, "kilonewton", "kilonewtons", "kilo newtons|kilo newton"),
    _unit("lbf", "force", _POUND_FORCE, "pound force", "pounds force", "pounds of force|pound of force", "lbs force"),
    _unit("kgf", "force", _KILOGRAM_FORCE, "kilogram force", "kilograms force", "kilograms of force|kilogram of force"),
    _unit("bar", "pressure", 100_000, "bar", "bar", "bars"),
    _unit("mbar", "pressure", 100, "millibar", "millibar", "millibars", "mbar"),
    _unit("hPa", "pressure", 100, "hectopascal", "hectopascals"),
    _unit("kPa", "pressure", 1_000, "kilopascal", "kilopascals", "k p a"),
    _unit("MPa", "pressure", 1_000_000, "megapascal", "megapascals", "m p a"),
    _unit("psi", "pressure", _POUND_FORCE / _INCH ** 2, "pound per square inch", "pounds per square inch",
          "p s i|pounds a square inch|pounds force per square inch", "lbf/in2|lb/in2"),
    _unit("inHg", "pressure", Fraction("13595.1") * _KILOGRAM_FORCE * _INCH, "inch of mercury", "inches of mercury",
          "inches mercury|inch mercury", "in hg"),
    _unit("mm", "length", "0.001", "millimetre", "millimetres", "m m"),
    _unit("cm", "length", "0.01", "centimetre", "centimetres", "c m"),
    _unit("m", "length", 1, "metre", "metres", "", "m"),
    _unit("in", "length", _INCH, "inch", "inches", "", "in"),
    _unit("km", "length", 1_000, "kilometre", "kilometres", "k m"),
    _unit("mi", "length", "1609.344", "mile", "miles", "", "mi"),
    _unit("ml", "volume", "0.000001", "millilitre", "millilitres", "m l|c c|cubic centimetres|cubic centimetre"),
    _unit("l", "volume", "0.001", "litre", "litres", "", "l|ltr"),
    _unit("US fl oz", "volume", "0.0000295735295625", "US fluid ounce", "US fluid ounces",
          "american fluid ounces|american fluid ounce|american ounces", "us oz"),
    _unit("imp fl oz", "volume", "0.0000284130625", "imperial fluid ounce", "imperial fluid ounces",
          "imperial ounces|imperial ounce|british fluid ounces", "imp oz|uk fl oz"),
    _unit("mm3/stroke", "volume per stroke", 1, "cubic millimetre per stroke", "cubic millimetres per stroke",
          "cubic millimetres a stroke|cubic millimetre a stroke", "mm³/stroke|mm3/str|mm3/st|mm3/hub"),
    _unit("ml/min", "flow", Fraction("0.000001") / 60, "millilitre per minute", "millilitres per minute",
          "millilitres a minute|millilitre a minute|c c per minute|c c a minute", "cc/min"),
    _unit("l/min", "flow", Fraction("0.001") / 60, "litre per minute", "litres per minute",
          "litres a minute|litre a minute", "lpm"),
    _unit("l/h", "flow", Fraction("0.001") / 3_600, "litre per hour", "litres per hour",
          "litres an hour|litre an hour", "l/hr|lph"),
    _unit("kg", "mass", 1, "kilogram", "kilograms", "kilos|kilo|k g", "kgs|kilogrammes"),
    _unit("g", "mass", "0.001", "gram", "grams", "", "g|grammes"),
    _unit("mg", "mass", "0.000001", "milligram", "milligrams",
          "milligrams per stroke|milligram per stroke|milligrams a stroke|m g", "mg/stroke|mg/str|mg/st|mg/hub"),
    _unit("lb", "mass", "0.45359237", "pound", "pounds", "", "lb|lbs|lbm"),
    _unit("°C", "temperature", 1, "degree Celsius", "degrees Celsius",
          "celsius|degrees centigrade|degree centigrade|centigrade|degrees c|degree c", "c|deg c", _ZERO_CELSIUS),
    _unit("°F", "temperature", Fraction(5, 9), "degree Fahrenheit", "degrees Fahrenheit",
          "fahrenheit|degrees f|degree f", "f|deg f", _ZERO_CELSIUS - 32 * Fraction(5, 9)),
    _unit("V", "voltage", 1, "volt", "volts", "", "v"),
    _unit("mV", "voltage", "0.001", "millivolt", "millivolts", "m v"),
    _unit("A", "current", 1, "amp", "amps", "ampere|amperes", "a"),
    _unit("mA", "current", "0.001", "milliamp", "milliamps", "milliampere|milliamperes"),
    _unit("Ω", "resistance", 1, "ohm", "ohms", "", "ω"),
    _unit("kΩ", "resistance", 1_000, "kilohm", "kilohms", "kilo ohms|kilo ohm|k ohms|k ohm", "kω"),
    _unit("rpm", "rotation", 1, "revolution per minute", "revolutions per minute",
          "r p m|revs per minute|revs a minute|revs|revolutions a minute", "rev/min|1/min"),
    _unit("km/h", "speed", Fraction(1_000, 3_600), "kilometre per hour", "kilometres per hour",
          "kilometres an hour|k p h|kilometre an hour", "kmh|km h|kph"),
    _unit("mph", "speed", Fraction("1609.344") / 3_600, "mile per hour", "miles per hour",
          "miles an hour|m p h|mile an hour"),
    _unit("min", "time", 60, "minute", "minutes", "", "min|mins"),
    _unit("s", "time", 1, "second", "seconds", "", "s|sec|secs"),
    _unit("ms", "time", "0.001", "millisecond", "milliseconds", "", "msec"),
    _unit("h", "time", 3_600, "hour", "hours", "", "h|hr|hrs"),
    _unit("°", "angle", 1, "degree", "degrees", "degrees of angle|degrees of turn|degrees angle", "deg"),
    _unit("%", "ratio", 1, "percent", "percent", "per cent"),
)

UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _TABLE}

_POUNDS = ("lbf·ft", "lbf·in", "psi", "lb", "lbf")

# What people say that could be several units, or only looks like one. Common practice, no source.
AMBIGUOUS: dict[str, tuple[str, ...]] = {
    "pounds": _POUNDS,
    "pound": _POUNDS,
    "lbs": _POUNDS,
    "lb": _POUNDS,
    "newtons": ("N·m", "N"),
    "kilos": ("kg", "kgf·m", "kPa", "kgf"),
    "degrees": ("°", "°C", "°F"),
    "degree": ("°", "°C", "°F"),
    "fluid ounces": ("US fl oz", "imp fl oz"),
    "ounces": ("US fl oz", "imp fl oz"),
    "mils": ("mm", "ml"),
    "mil": ("mm", "ml"),
    "k": ("kΩ", "kPa", "km", "km/h"),
}


def unit(symbol: str) -> Unit:
    """The unit written `symbol`. Raises BadInput for one outside the table."""
    if symbol not in UNITS:
        raise BadInput("unit", "must be one of " + ", ".join(UNITS), repr(symbol))
    return UNITS[symbol]


def same_quantity(symbol: str) -> tuple[str, ...]:
    """`symbol` first, then every other unit it converts to."""
    quantity = unit(symbol).quantity
    return (symbol, *(s for s, u in UNITS.items() if u.quantity == quantity and s != symbol))


def convert(value: Decimal, from_symbol: str, to_symbol: str) -> Decimal:
    """`value` in another unit: exact where the result ends within 60 digits, else right to 60 digits.

    Temperatures are readings, not differences. Raises BadInput across quantities, or for a number no tool could show.
    """
    source, target = unit(from_symbol), unit(to_symbol)
    if source.quantity != target.quantity:
        raise BadInput("unit", f"must measure {target.quantity} like {to_symbol}", f"{from_symbol} ({source.quantity})")
    check_number(value)
    exact = (Fraction(value) * source.factor + source.offset - target.offset) / target.factor
    return _EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def resolve(value: Decimal, decimals: int) -> Decimal:
    """`value` rounded to `decimals` digits after the point, half to even (ISO 80000-1 rule A, from memory).

    Raises BadInput for a number no tool could show.
    """
    check_number(value)
    return value.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN, context=_EXACT)


def rounded(exact: Fraction) -> Decimal:
    """`exact` as a number of at most 28 digits, for results that do not end or hold a root."""
    return _LONG.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def check_number(value: Decimal, where: str = "value") -> None:
    """Raises BadInput, naming `where`, for a number no tool could show: endless, or past 60 digits or 10 to the 30."""
    if not value.is_finite() or abs(value.adjusted()) > _LARGEST_POWER or len(value.as_tuple().digits) > _MOST_DIGITS:
        raise BadInput(where, f"must be a number of at most {_MOST_DIGITS} digits", str(value)[:40])


def say_unit(symbol: str, digits: str) -> str:
    """The unit's spoken name after the number `digits`: "1" takes the singular, "1.0" and all others the plural."""
    return unit(symbol).one if digits.lstrip("+-") == "1" else unit(symbol).many


def key(form: str) -> str:
    """A form without all that never matters: "Foot-Pounds" and "foot pounds" are "footpounds"."""
    return "".join(c for c in form.lower() if c.isalnum() or c in "°%")


def settle(form: str, like: str) -> str | None:
    """The unit that `form` ("degrees", also "?degrees") means for a value in `like`, or None where it must be asked."""
    symbol = forms(same_quantity(like)).get(key(form))
    return None if symbol is None or symbol.startswith("?") else symbol


def meanings(form: str, like: str) -> tuple[str, ...]:
    """What an ambiguous `form` ("pounds", also "?pounds") may mean for a value in `like`, to be asked."""
    return tuple(s for s in AMBIGUOUS.get(form.lstrip("?"), ()) if s in same_quantity(like))


def forms(symbols: tuple[str, ...]) -> dict[str, str]:
    """Every form (as `key`) of these units to its symbol, or to "?pounds" where the form does not settle the unit.

    An ambiguous form is settled only when one unit is listened for that it could mean, and it is that unit's own name.
    """
    table = {key(form): s for s in reversed(symbols) for form in (*unit(s).heard, *unit(s).typed, s)}
    for form, meant in AMBIGUOUS.items():
        live = [s for s in meant if s in symbols]
        settled = len(live) == 1 and table.get(key(form)) == live[0]
        if live and not settled:
            table[key(form)] = "?" + form
    return table
