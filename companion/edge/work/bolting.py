"""Bolts: the order in which to tighten several, and what preload a torque leaves."""
from __future__ import annotations

import argparse
from decimal import Decimal

from companion.core.saying import in_words
from companion.edge.work.answer import Answer, digits, shown, spoken
from companion.edge.work.asked import Command, number, number_in, quantity, quantity_in, whole
from companion.errors import BadInput
from companion.trade import bolts, torque

_MOST_BOLTS = 100
_BEARING = Decimal("1.25")  # mean bearing diameter of a head in thread diameters: Shigley, from memory
_SOURCE = ("VDI 2230 (tables and scatter seen second-hand), ISO 898-1 (recomputed; 580 MPa from memory), K and the "
           "bearing diameter: Shigley (from memory); for information only")


def _bolts_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("count", help=f"how many, round one circle, 1 to {_MOST_BOLTS}")
    parser.add_argument("--torque", help='the torque at the end, such as "110 N.m"')
    parser.add_argument("--passes", nargs="+", metavar="PERCENT", default=("50", "100"),
                        help="each pass as a percentage of the torque, rising to 100 (default: 50 100)")


def _bolts(args: argparse.Namespace) -> Answer:
    order = torque.cross_order(whole(args.count, "count", 1, _MOST_BOLTS))
    text = " ".join(map(str, order))
    lines, turns, symbol = [f"Tighten in this order: {text}"], (), ""
    if args.torque is not None:
        target, symbol = quantity(args.torque, "--torque", "N·m")
        shares = [number(each, "--passes") / 100 for each in args.passes]
        turns = torque.passes(len(order), target, shares)
        lines += [f"  pass {place}: all to {shown(target * share, symbol)}" for place, share in enumerate(shares, 1)]
    return Answer(text, "", "opposite bolts in turn: n and n + count/2; an odd circle in stars",
                  "common practice, no source; the maker's own order comes first", tuple(lines),
                  in_words(f"Tighten in this order: {', '.join(map(str, order))}."),
                  {"order": order, "torque_unit": symbol,
                   "passes": [{"bolt": bolt, "torque": value} for bolt, value in turns]})


def _preload_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--thread", required=True, help="such as M8 (coarse) or M8x1")
    parser.add_argument("--class", required=True, dest="strength", help="property class: 8.8, 9.8, 10.9 or 12.9")
    parser.add_argument("--torque", help='such as "25 N.m"; without it, the preload at 90 %% of the yield')
    either = parser.add_mutually_exclusive_group(required=True)
    either.add_argument("--friction", help="friction of thread and head, such as 0.12")
    either.add_argument("--factor", help="or the nut factor K of T = K·F·d, near 0.2 for plain steel (from memory)")
    parser.add_argument("--head-friction", metavar="FRICTION", help="friction under the head, where it differs")
    parser.add_argument("--bearing", metavar="DIAMETER",
                        help='mean bearing diameter of the head, such as "10.3 mm" (default: 1.25 times the thread)')
    parser.add_argument("--method", default="guessed friction", choices=tuple(bolts.SCATTER),
                        help='what decides the scatter: "angle", "torque" (friction known by trial) or '
                             '"guessed friction" (default)')


def _preload(args: argparse.Namespace) -> Answer:
    thread = bolts.parse_thread(args.thread)
    strength = bolts.strength(args.strength, thread.diameter)
    force, newton_metres, formula = _force(args, thread, strength)
    found = bolts.preload(force, thread, args.strength, args.method)
    words = (f"About {spoken(_kilonewtons(force), 'kN')}, give or take {spoken(bolts.SCATTER[args.method][1], '%')}. "
             f"That is {spoken(_tenths(found.use), '%')} of the proof load.")
    return Answer(digits(force), "N", formula, _SOURCE, _preload_lines(found, newton_metres, args.method), words,
                  {"torque": newton_metres, "low": found.low, "high": found.high, "proof_load": found.proof_load,
                   "use_percent": found.use, "high_use_percent": found.high_use, "method": args.method,
                   "scatter_percent": {name: list(spread) for name, spread in bolts.SCATTER.items()},
                   "stress_area": bolts.stress_area(thread), "proof_stress": strength.proof})


def _preload_lines(found: bolts.Preload, newton_metres: Decimal, method: str) -> tuple[str, ...]:
    (least, most), proof = bolts.SCATTER[method], _kilonewtons(found.proof_load)
    return (f"{shown(_tenths(newton_metres), 'N·m')} leaves a preload of about {_kilonewtons(found.force)} kN.",
            f"Scatter ({method}): plus or minus {least} to {most} %, so {_kilonewtons(found.low)} to "
            f"{_kilonewtons(found.high)} kN.",
            f"That is {_tenths(found.use)} % of the proof load of {proof} kN, and may be {_tenths(found.high_use)} %.",
            *(["Above 100 % the bolt may stretch for good."] if found.high_use > 100 else []))


def _force(args: argparse.Namespace, thread: bolts.Thread, strength: bolts.Strength) -> tuple[Decimal, Decimal, str]:
    """Preload in N, torque in N·m and the formula that joined them."""
    if args.factor is not None:
        if args.torque is None:
            raise BadInput("--factor", "needs --torque")
        newton_metres = quantity_in(args.torque, "--torque", "N·m")
        force = bolts.preload_by_factor(newton_metres, thread.diameter, number(args.factor, "--factor"))
        return force, newton_metres, "F = T/(K·d)"
    friction = number(args.friction, "--friction")
    head = friction if args.head_friction is None else number(args.head_friction, "--head-friction")
    bearing = thread.diameter * _BEARING if args.bearing is None else number_in(args.bearing, "--bearing", "mm")
    if args.torque is not None:
        newton_metres = quantity_in(args.torque, "--torque", "N·m")
        force = bolts.preload_by_friction(newton_metres, thread, friction, head, bearing)
        return force, newton_metres, "FM = MA/(0.16·P + 0.58·d2·μG + DKm·μK/2)"
    force = bolts.assembly_preload(thread, strength.yield_stress, friction)
    return (force, bolts.torque_by_friction(force, thread, friction, head, bearing),
            "FM = 0.9·Rp·A0/√(1 + 3·(1.5·(d2/d0)·(P/(π·d2) + 1.155·μG))²), MA = FM·(0.16·P + 0.58·d2·μG + DKm·μK/2)")


def _kilonewtons(newtons: Decimal) -> Decimal:
    return _tenths(newtons / 1000)


def _tenths(value: Decimal) -> Decimal:
    return Decimal(f"{value:.1f}")


COMMANDS = (
    Command("bolts", "the cross order of several bolts, and the torque of each pass",
            ("companion work bolts 8", 'companion work bolts 5 --torque "110 N.m" --passes 30 60 100'),
            _bolts_arguments, _bolts),
    Command("preload", "the preload that a torque leaves in a metric bolt, and how little that is known",
            ('companion work preload --thread M8x1.25 --class 8.8 --torque "25 N.m" --friction 0.12',
             "companion work preload --thread M8x1 --class 8.8 --friction 0.12 --bearing 10.3",
             'companion work preload --thread M10 --class 10.9 --torque "60 N.m" --factor 0.2 --method torque'),
            _preload_arguments, _preload),
)
