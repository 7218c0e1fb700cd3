"""Fault codes, raw answers of controllers, and vehicle numbers."""
from __future__ import annotations

import argparse
import sys
from decimal import Decimal
from typing import Optional

from companion.core.saying import in_words
from companion.core.spelling import say_spelling
from companion.edge.work.answer import Answer, digits, sentence, shown, spoken
from companion.edge.work.asked import Command
from companion.errors import BadInput
from companion.trade import codes, obd, vin

_MOST_CHARACTERS = 100_000


def _code_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("codes", nargs="+", metavar="CODE", help="such as P0204")


def _code(args: argparse.Namespace) -> Answer:
    meanings = [codes.explain(codes.repair(code)) for code in args.codes]
    return Answer(
        "; ".join(meaning.words for meaning in meanings), "",
        "a letter (P, C, B, U), a digit 0 to 3, three hexadecimal digits; cylinder n: circuit P0200 + n, balance "
        "P0263 + 3·(n − 1), misfire P0300 + n, in decimal",
        "SAE J2012 as two public lists give it (recomputed); hexadecimal families from one list only; who controls a "
        "code: from memory",
        tuple(f"{m.code}: {m.words} ({m.system}, {m.control})" for m in meanings),
        " ".join(f"{say_spelling(m.code)}: {in_words(m.words)}." for m in meanings),
        {"codes": [{"code": m.code, "words": m.words, "system": m.system, "control": m.control, "family": m.family,
                    "cylinder": m.cylinder} for m in meanings]})


def _answers_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("bytes", nargs="+", metavar="BYTES",
                        help='what the reader shows, such as "43 02 02 63 03 01"; - reads standard input')


def _answers(args: argparse.Namespace) -> Answer:
    found = obd.decode(_standard_input() if args.bytes == ["-"] else " ".join(args.bytes))
    lines = [line for each in found for line in _answer_lines(each)]
    answer, unit = _one_number(found) or ("; ".join(_in_short(each) for each in found), "")
    return Answer(
        answer, unit,
        "service + 40 hexadecimal, then its data; over CAN a list of codes begins with their count",
        "SAE J1979 services and scalings (recomputed with a public library); permanent codes, freeze frames and "
        "refusals: from memory", tuple(lines), " ".join(_answer_words(each) for each in found),
        {"answers": [{"service": each.service, "words": each.words, "codes": each.codes,
                      "values": [{"name": v.name, "value": v.value, "unit": v.unit} for v in each.values]}
                     for each in found]})


def _standard_input() -> str:
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")
    text = sys.stdin.read(_MOST_CHARACTERS + 1)
    if len(text) > _MOST_CHARACTERS:
        raise BadInput("standard input", f"must be at most {_MOST_CHARACTERS} characters", "more")
    return text


def _one_number(found: tuple[obd.Answer, ...]) -> Optional[tuple[str, str]]:
    """The number and its unit, where one number is all that was answered."""
    values = [value for each in found for value in each.values]
    if len(found) != 1 or len(values) != 1 or found[0].codes or not isinstance(values[0].value, Decimal):
        return None
    return digits(values[0].value), values[0].unit


def _in_short(each: obd.Answer) -> str:
    values = [f"{value.name} {_value(value)}" for value in each.values]
    what = ", ".join(values) or each.words
    return f"{what}: {', '.join(each.codes)}" if each.codes else what


def _answer_lines(each: obd.Answer) -> list[str]:
    return [f"{each.service}: {each.words}",
            *(f"  {code}: {codes.explain(code).words}" for code in each.codes),
            *(f"  {value.name}: {_value(value)}" for value in each.values)]


def _value(value: obd.Value) -> str:
    return shown(value.value, value.unit) if isinstance(value.value, Decimal) else value.value


def _answer_words(each: obd.Answer) -> str:
    values = [f"{value.name} {_value_words(value)}" for value in each.values]
    said = [", ".join(values) or in_words(each.words), *(say_spelling(code) for code in each.codes)]
    return sentence(f"{'. '.join(said)}.")


def _value_words(value: obd.Value) -> str:
    if isinstance(value.value, Decimal):
        return spoken(value.value, value.unit)
    return say_spelling(value.value) if value.value.isupper() or value.value.isdigit() else value.value


_VIN_FORMULA = ("the sum of letter value · weight (8 7 6 5 4 3 2 10 0 9 8 7 6 5 4 3 2), modulo 11, 10 written X, must "
                "stand in place 9")
_VIN_SOURCE = ("49 CFR 565.15, Tables III to VI (text seen); regions of ISO 3780 and the 30-year cycle of model years: "
               "from memory")


def _vin_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("number", help="17 characters; spaces, dashes and letter case do not matter")


def _vin(args: argparse.Namespace) -> Answer:
    try:
        found = vin.read(args.number)
    except BadInput as error:
        return _no_vin(args.number, error)
    verdict = ("fits" if found.check_ok else "does not fit") if found.check_applies else "does not apply"
    years = " or ".join(map(str, found.years))
    lines = [f"{found.text}: the check digit {verdict}.", *found.notes,
             *([f"Region: {found.region}."] if found.region else []), *([f"Model year: {years}."] if years else [])]
    said = " ".join((f"The check digit {verdict}.", *found.notes, f"It ends in {say_spelling(vin.tail(found))}."))
    return Answer(verdict, "", _VIN_FORMULA, _VIN_SOURCE, tuple(lines), said,
                  {"number": found.text, "check_digit": found.check_digit, "expected": found.expected,
                   "check_applies": found.check_applies, "region": found.region, "years": found.years,
                   "notes": found.notes, "tail": vin.tail(found)}, ok=verdict != "does not fit")


def _no_vin(text: str, error: BadInput) -> Answer:
    """A bad structure is a finding, not wrong use; a slip of letters is pointed out but never mended in silence."""
    lines, repaired = [error.sentence() + "."], vin.repair(text)
    try:
        lines.append(f"Is it {vin.read(repaired).text}?")
    except BadInput:
        repaired = ""
    return Answer("bad structure", "", _VIN_FORMULA, _VIN_SOURCE, tuple(lines),
                  "This is no vehicle number. Read it again.", {"fault": error.sentence(), "perhaps": repaired},
                  ok=False)


def _compare_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--before", nargs="+", required=True, metavar="CODE", help="the codes before the work")
    parser.add_argument("--after", nargs="*", required=True, metavar="CODE", help="the codes after it; none is fine")
    parser.add_argument("--cleared", nargs="*", metavar="CODE", help="the codes read right after clearing")


def _compare(args: argparse.Namespace) -> Answer:
    found = codes.compare(args.before, args.after, args.cleared)
    groups = {"gone": found.gone, "still there": found.still_there, "new": found.new, "came back": found.came_back}
    lines = [f"{name.capitalize()}: {', '.join(group)}" for name, group in groups.items() if group]
    said = [f"{name.capitalize()}: {', '.join(map(say_spelling, group))}." for name, group in groups.items() if group]
    clean = not (found.still_there or found.new or found.came_back)
    verdict = "all gone" if clean else "codes remain"
    return Answer(verdict, "", "gone: before, not after; came back: before and after, but not right after clearing",
                  "definition", tuple(lines), " ".join(said) or "No codes.",
                  {name.replace(" ", "_"): group for name, group in groups.items()}, ok=clean)


COMMANDS = (
    Command("code", "what fault codes say", ("companion work code P0204", "companion work code P0263 U0101"),
            _code_arguments, _code),
    Command("answers", "a controller's raw answers as codes and values",
            ('companion work answers "43 02 02 63 03 01"', "companion work answers 41 0C 1A F8"),
            _answers_arguments, _answers),
    Command("vin", "whether a vehicle number is well formed and its check digit fits",
            ("companion work vin 11111111111111111",), _vin_arguments, _vin),
    Command("compare", "fault codes before the work against those after it",
            ("companion work compare --before P0204 P0263 --after --cleared",
             "companion work compare --before P0204 --after"), _compare_arguments, _compare),
)
