"""Units, wrenches with an adaptor, and whether a tool will do."""
from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import datetime, timezone
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from companion.core.saying import in_words
from companion.edge.work.answer import Answer, digits, sentence, shown, spoken, typed
from companion.edge.work.asked import Command, number_in, quantity, quantity_in
from companion.errors import BadInput
from companion.terminal import clean
from companion.trade import tools, torque
from companion.trade.reading import parse_quantity, parse_unit
from companion.trade.units import convert, rounded, unit

if TYPE_CHECKING:
    from companion.core.toolbox import ToolList


def _convert_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("value", help='a number and its unit, such as "1600 bar"')
    parser.add_argument("unit", help='the unit wanted, such as psi, N.m, "ft-lb"')


def _convert(args: argparse.Namespace) -> Answer:
    value, source, target = _value_and_units(args.value, args.unit)
    result, formula = convert(value, source, target), _conversion(source, target)
    memory = "; the inch of mercury from memory" if "inHg" in (source, target) else ""
    return Answer(digits(result), target, formula,
                  f"exact factors of NIST SP 811, Appendix B (recomputed){memory}",
                  (f"{typed(value, source)} is {shown(result, target)}.",),
                  sentence(f"{spoken(value, source)} is {spoken(result, target)}."),
                  {"value": value, "from": source})


def _value_and_units(value: str, wanted: str) -> tuple[Decimal, str, str]:
    """What is ambiguous alone ("pounds") may be settled by the other unit ("kg")."""
    try:
        number, source = parse_quantity(value)
    except BadInput:
        number, source = quantity(value, "value", parse_unit(wanted))
    return number, source, parse_unit(wanted, source)


def _conversion(source: str, target: str) -> str:
    factor = unit(source).factor / unit(target).factor
    offset = (unit(source).offset - unit(target).offset) / unit(target).factor
    sign = "+" if offset > 0 else "−"
    more = f" {sign} {shown(abs(rounded(offset)))}" if offset else ""
    return f"{target} = {source} · {_factor(factor)}{more}"


def _factor(factor: Fraction) -> str:
    text = digits(rounded(factor))
    return text.rstrip("0").rstrip(".") if "." in text else text


def _torque_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("torque", help='the torque wanted at the bolt, such as "135 lbf·in"')
    parser.add_argument("--arm", required=True, help='from the middle of the grip to the square drive, such as "10 in"')
    parser.add_argument("--adaptor", required=True,
                        help="from the square drive to the bolt; below zero where it points back to the hand")
    parser.add_argument("--at", default="0", metavar="DEGREES",
                        help="angle between wrench and adaptor: 0 straight on (default), 90 across, 180 folded back")
    parser.add_argument("--applied", action="store_true",
                        help="the other way round: TORQUE is what the wrench shows, the answer is at the bolt")


def _torque(args: argparse.Namespace) -> Answer:
    value, symbol = quantity(args.torque, "torque", "N·m")
    arm, length = quantity(args.arm, "--arm", "mm")
    adaptor = quantity_in(args.adaptor, "--adaptor", length)
    angle = number_in(args.at, "--at", "°")
    result = (torque.applied if args.applied else torque.setting)(value, arm, adaptor, angle)
    reach = f"{typed(arm)} + {shown(adaptor)}·cos {typed(angle)}°".replace("+ -", "− ")
    if args.applied:
        formula = f"Ta = Tw·(L + A·cos θ)/L = {typed(value)}·({reach})/{typed(arm)}"
        text, said = "The bolt gets", f"The bolt gets {spoken(result, symbol)}."
    else:
        formula = f"Tw = Ta·L/(L + A·cos θ) = {typed(value)}·{typed(arm)}/({reach})"
        text, said = "Set the wrench to", f"Set the wrench to {spoken(result, symbol)}."
    return Answer(digits(result), symbol, formula,
                  "statics (recomputed); the worked examples of TM 1-1500-204-23-9 and TM 9-254 agree (text seen)",
                  (f"{text} {shown(result, symbol)}.",), said,
                  {"torque": value, "arm": arm, "adaptor": adaptor, "length_unit": length, "angle": angle})


_WHY = {
    "below range": "{target} is below its range, which starts at {limit}.",
    "above range": "{target} is above its range, which ends at {limit}.",
    "other quantity": "It does not measure that.",
    "out of date": "Its calibration is out of date.",
    "used up": "It has been used more often than its calibration lasts.",
    "never calibrated": "It has never been calibrated.",
    "dated ahead": "Its calibration is dated ahead.",
}
_TOOL_FORMULA = "lowest mark ≤ value ≤ top of range; calibration not past its months or uses"
_TOOL_SOURCE = ("ISO 6789-1:2017, 5.1.3, and ISO 6789:2003 for 20 % of the top and 12 months or 5000 uses (seen "
                "second-hand); the user's own procedure may override")


def _tool_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("tool", help="the tool's name in the list")
    parser.add_argument("values", nargs="+", metavar="VALUE", help='what it must measure, such as "4 N.m"')
    parser.add_argument("--tools", type=Path, metavar="FILE", help="your tool list (default: the invented one)")


def _tool(args: argparse.Namespace) -> Answer:
    listed, today = _tool_list(args.tools), datetime.now(timezone.utc).date()
    tool = listed.get(args.tool)
    if tool is None:
        raise BadInput("tool", "must be one of " + ", ".join(each.name for each in listed.tools), repr(args.tool[:40]))
    targets = [quantity(value, "value") for value in args.values]
    faults = tools.judge_tool(tool, targets, today)
    others = [each.name for each in tools.would_do(listed.of_kind(tool.kind), targets, today)] if faults else []
    trust = [] if faults else [tools.expanded_at(tool, *target) for target in targets]
    verdict = f"will{' not' if faults else ''} do"
    lines = [f"The {tool.name} {verdict}.", *(_reason(fault, tool.unit, shown) for fault in faults)]
    lines += [f"At {typed(*target)} it is right to plus or minus {shown(expanded, target[1])} (k = 2)."
              for target, expanded in zip(targets, trust) if expanded is not None]
    lines += [f"This will do: {', '.join(others)}."] if others else []
    lines += ["These tools are invented, for practice."] if listed.practice else []
    return Answer(verdict, "", _TOOL_FORMULA, _TOOL_SOURCE, tuple(lines), _tool_words(tool, verdict, faults, others),
                  {"why": [fault.why for fault in faults], "low": tools.lowest_usable(tool), "high": tool.high,
                   "tool_unit": tool.unit, "due": tools.in_calibration(tool, today).due, "would_do": others,
                   "expanded": trust, "practice": listed.practice}, ok=not faults)


def _tool_words(tool: tools.Tool, verdict: str, faults: Sequence[tools.Fit], others: Sequence[str]) -> str:
    reasons = (sentence(_reason(fault, tool.unit, spoken)) for fault in faults)
    instead = [f"Use the {others[0]}."] if others else []
    return in_words(" ".join((f"The {tool.name} {verdict}.", *reasons, *instead)))


def _reason(fault: tools.Fit, symbol: str, say: Callable[[Decimal, str], str]) -> str:
    target, limit = ("" if value is None else say(value, symbol) for value in (fault.target, fault.limit))
    return _WHY[fault.why].format(target=target, limit=limit)


def _tool_list(path: Path | None) -> ToolList:
    from companion.core.toolbox import load_tools  # the schema library is only loaded where it is used
    from companion.edge.cards import TOOLS, card_text, shipped_folder
    found = path or shipped_folder() / TOOLS
    where = clean(str(path)) if path else TOOLS
    return load_tools(card_text(found, where, "a tool list"), where, datetime.now(timezone.utc).date())


COMMANDS = (
    Command("torque", "what to set a wrench to when an adaptor makes it longer",
            ('companion work torque "135 lbf·in" --arm "10 in" --adaptor "1.5 in"',
             'companion work torque "40 N.m" --arm "340 mm" --adaptor "-45 mm" --at 45',
             'companion work torque "60 ft-lb" --arm "12 in" --adaptor "2 in" --applied'),
            _torque_arguments, _torque),
    Command("convert", "a value in another unit",
            ('companion work convert "1600 bar" psi', 'companion work convert "-40degC" degF',
             'companion work convert "40 N.m" ft-lb'), _convert_arguments, _convert),
    Command("tool", "whether a tool of the tool list can measure a value",
            ('companion work tool "short wrench" "8 N.m"', 'companion work tool "middle wrench" "25 N.m" "60 N.m"'),
            _tool_arguments, _tool),
)
