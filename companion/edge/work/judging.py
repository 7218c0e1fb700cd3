"""Decisions at a limit, and readings of all cylinders side by side."""
from __future__ import annotations

import argparse
import re
from decimal import Decimal

from companion.core.saying import in_words
from companion.edge.work.answer import Answer, shown, typed
from companion.edge.work.asked import Command, joined, maybe, number
from companion.errors import BadInput
from companion.trade import leakoff, limits

_VERDICTS = {"accept": "Accept.", "reject": "Reject.", "too close": "Too close to call."}
_TESTS = {leakoff.LIMIT: "its limit", leakoff.RATIO: "the ratio to the smallest", leakoff.GRUBBS: "Grubbs' test",
          leakoff.MAD: "the median absolute deviation"}
_LABELLED = re.compile(r"(?:(\w{1,12})=)?([^=]+)")


def _decide_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("value", help="the reading, a plain number; all numbers in one unit")
    parser.add_argument("--low", help="least that is allowed")
    parser.add_argument("--high", help="most that is allowed")
    either = parser.add_mutually_exclusive_group()
    either.add_argument("--u", help="standard uncertainty of the reading (k = 1)")
    either.add_argument("--expanded", help="expanded uncertainty of the reading (k = 2)")
    parser.add_argument("--guard", default="0.82", metavar="SHARE",
                        help="guard band as a share of the expanded uncertainty (default: 0.82)")


def _decide(args: argparse.Namespace) -> Answer:
    value, low, high = number(args.value, "value"), maybe(args.low, "--low"), maybe(args.high, "--high")
    if low is None and high is None:
        raise BadInput("decide", "needs a limit: --low, --high or both")
    u, expanded = maybe(args.u, "--u"), maybe(args.expanded, "--expanded")
    expanded = 2 * u if u is not None else expanded
    found = limits.judge(value, low, high, expanded, number(args.guard, "--guard"))
    verdict = f"{_VERDICTS[found.verdict]} {_advice(found)}".rstrip()
    return Answer(
        found.verdict, "",
        f"accept inside by g = {args.guard.strip()}·U, reject outside by g; p = Φ((high − x)/u) − Φ((low − x)/u)"
        if expanded else "low ≤ x ≤ high",
        "ISO 14253-1:2017 (text from memory), JCGM 106:2012, clause 7 (recomputed; inputs from memory)" if expanded
        else "definition; no uncertainty was given",
        (f"{typed(value)} lies {found.side} the limits. {verdict}", *_decide_lines(found)),
        f"The reading is {found.side}. {verdict}",
        {"probability": found.probability, "side": found.side, "guard": found.guard, "accept_low": found.accept_low,
         "accept_high": found.accept_high, "expanded": expanded})


def _advice(found: limits.Judgement) -> str:
    if _accepts_nothing(found):
        return "Use a better tool. This one can accept nothing within these limits."
    return "Measure again, or use a better tool." if found.verdict == "too close" else ""


def _accepts_nothing(found: limits.Judgement) -> bool:
    return found.accept_low is not None and found.accept_high is not None and found.accept_low > found.accept_high


def _decide_lines(found: limits.Judgement) -> list[str]:
    if found.probability is None or found.guard is None:
        return []
    return [f"Probability that the true value conforms: {_probability(found.probability)}.",
            f"Guard band {shown(found.guard)}: accepted {_zone(found)}."]


def _probability(value: Decimal) -> str:
    """Four decimals, and never a certainty that nobody has."""
    if value > Decimal("0.9999"):
        return "above 0.9999"
    return "below 0.0001" if value < Decimal("0.0001") else f"{value:.4f}"


def _zone(found: limits.Judgement) -> str:
    if _accepts_nothing(found):
        return "nowhere"
    ends = (("from", found.accept_low), ("to", found.accept_high))
    return " ".join(f"{word} {shown(value)}" for word, value in ends if value is not None)


def _leakoff_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("readings", nargs="+", metavar="READING",
                        help="one a cylinder, in order, all in one unit; or named, as 1=22 2=24")
    parser.add_argument("--ratio", help="the maker's limit: at most so many times the smallest")
    parser.add_argument("--low", help="the maker's limit: least")
    parser.add_argument("--high", help="the maker's limit: most")
    parser.add_argument("--apart", help="the maker's limit: at most so far from the median")
    parser.add_argument("--resolution", help="the step that the instrument can show (default: the last place written)")


def _leakoff(args: argparse.Namespace) -> Answer:
    given = {name: maybe(getattr(args, name), f"--{name}") for name in ("low", "high", "ratio", "apart", "resolution")}
    readings = _readings(args.readings)
    step = Decimal(1).scaleb(min(int(value.as_tuple().exponent) for value in readings.values()))
    found = leakoff.compare(readings, low=given["low"], high=given["high"], most_ratio=given["ratio"],
                            most_apart=given["apart"], resolution=given["resolution"] or min(step, Decimal(1)))
    by_limit = any(given[name] is not None for name in ("low", "high", "ratio", "apart"))
    sentences = _stands_out(found, by_limit)
    return Answer(
        f"cylinder {found.outlier}" if found.outlier else "none", "",
        "the limits given decide; without any, both must name it alone: G = max|x − mean|/s above its critical value, "
        "and |M| = 0.6745·|x − median|/MAD above 3.5",
        "the maker's limits come first, no standard sets any (common practice, no source); Grubbs' test, 5 %, "
        "two-sided (recomputed; a published table agrees); M: Iglewicz and Hoaglin, in the NIST e-Handbook, "
        "1.3.5.17 (text seen)",
        (" ".join(sentences), *_leakoff_lines(found)), in_words(" ".join(sentences)),
        {"outlier": found.outlier, "by": found.by, "over_limit": found.over_limit, "unusual": found.unusual,
         "median": found.median, "mean": found.mean, "ratios": found.ratios, "scores": found.scores,
         "grubbs": found.grubbs, "grubbs_critical": found.grubbs_critical, "ceiling": found.ceiling})


def _readings(texts: list[str]) -> dict[str, Decimal]:
    readings: dict[str, Decimal] = {}
    for place, text in enumerate(texts, start=1):
        match = _LABELLED.fullmatch(text)
        name = (match and match[1]) or str(place)
        if match is None or name in readings:
            raise BadInput(f"reading {place}", 'must be a number, or named once, such as "4=61"', repr(text[:40]))
        readings[name] = number(match[2], f"reading {place}")
    return readings


def _stands_out(found: leakoff.Comparison, by_limit: bool) -> list[str]:
    if found.outlier:
        return [f"Cylinder {found.outlier} stands out, by {joined([_TESTS[test] for test in found.by])}."]
    if found.over_limit:
        return [f"Cylinders {joined(found.over_limit)} are past a limit. No one alone stands out."]
    if not by_limit:
        return ["None stands out."]
    unusual = [f"Cylinder {found.unusual} is unusual beside the others all the same."] if found.unusual else []
    return ["All keep the limits given.", *unusual]


def _leakoff_lines(found: leakoff.Comparison) -> list[str]:
    lines = [f"  {name}: {typed(value)}{_beside(found, name)}" for name, value in found.readings.items()]
    lines.append(f"Median {shown(found.median)}.")
    if found.grubbs is not None and found.grubbs_critical is not None:
        lines.append(f"Grubbs' G is {shown(found.grubbs)}: it must pass {found.grubbs_critical}, and with so many "
                     f"readings cannot pass {shown(found.ceiling)}.")
    return lines


def _beside(found: leakoff.Comparison, name: str) -> str:
    ratio, score = found.ratios[name], found.scores[name]
    parts = ([f"{ratio:.2f} times the smallest"] if ratio is not None else [])
    parts += [f"M {score:.2f}"] if score is not None else []
    return f" ({', '.join(parts)})" if parts else ""


COMMANDS = (
    Command("decide", "whether a reading is inside its limits, given how far it can be trusted",
            ("companion work decide 13.6 --low 12.5 --high 16.3 --u 1.8",
             "companion work decide 8.0 --low 7.2 --high 8.8 --expanded 0.24", "companion work decide 8.9 --high 8.8"),
            _decide_arguments, _decide),
    Command("leakoff", "which cylinder stands out in leak-off volumes or balance corrections",
            ("companion work leakoff 22 24 23 61", "companion work leakoff 22 24 23 61 --ratio 2.5",
             "companion work leakoff -0.4 0.2 0.1 -3.9 --low -3 --high 3"), _leakoff_arguments, _leakoff),
)
