"""Cylinders: where one stands, and whether the evidence names one."""
from __future__ import annotations

import argparse

from companion.core.saying import in_words
from companion.edge.work.answer import Answer
from companion.edge.work.asked import Command, whole
from companion.errors import BadInput
from companion.terminal import clean
from companion.trade import cylinders, numbering


def _agree_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("codes", nargs="*", metavar="CODE", help="the codes of the complaint")
    parser.add_argument("--readings", metavar="CYLINDER", help="the cylinder that leak-off or balance point to")
    parser.add_argument("--unplugged", metavar="CYLINDER", help="the cylinder whose plug was taken off for the proof")
    parser.add_argument("--returned", nargs="+", default=(), metavar="CODE",
                        help="the codes read after the run unplugged")
    parser.add_argument("--before", nargs="+", default=(), metavar="CODE",
                        help="the codes stored when that run began (none if they had just been cleared)")


def _agree(args: argparse.Namespace) -> Answer:
    if args.unplugged is None and (args.returned or args.before):
        raise BadInput("--returned and --before", "need --unplugged")
    readings = None if args.readings is None else whole(args.readings, "--readings", 1, numbering.MOST)
    found = cylinders.point_to(args.codes, readings)
    if found.cylinder is not None and args.unplugged is not None:
        unplugged = whole(args.unplugged, "--unplugged", 1, numbering.MOST)
        found = cylinders.prove(found.cylinder, unplugged, args.returned, args.before)
    sentences = found.disagree or (f"All of it names cylinder {found.cylinder}.",)
    keep = () if found.ok else ("Keep the fuel system closed until they agree.",)
    text = " ".join((*sentences, *keep))
    return Answer("agree" if found.ok else "disagree", "",
                  "codes, or else readings, name one cylinder; the plug off and its new circuit code belong to it",
                  "common practice, no source; cylinders of codes from SAE J2012 as public lists give it (recomputed)",
                  (text,), in_words(text), {"cylinder": found.cylinder, "disagree": found.disagree}, ok=found.ok)


def _cylinder_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("number", help="the cylinder, counted from the end where the maker begins")
    parser.add_argument("--of", required=True, metavar="COUNT", help=f"how many in line, 1 to {numbering.MOST}")
    parser.add_argument("--end", required=True, help='the end where the maker begins, such as "belt end"')
    parser.add_argument("--order", help="the firing order, such as 1-3-4-2")


def _cylinder(args: argparse.Namespace) -> Answer:
    count = whole(args.of, "--of", 1, numbering.MOST)
    cylinder = whole(args.number, "number", 1, count)
    position = cylinders.positions(count, args.end)[cylinder - 1]
    other = cylinders.from_other_end(cylinder, count)
    paired = None if args.order is None else cylinders.paired(cylinders.firing_order(args.order, count), cylinder)
    lines = [f"Cylinder {cylinder} is the {clean(position)}.", f"From the other end it would be number {other}."]
    lines += [f"Its piston moves with that of cylinder {paired}, one turn apart."] if paired else []
    return Answer(position, "", "from the other end: count + 1 − n; moves together: half the firing order later",
                  "common practice, no source; a four-stroke engine in line that fires at equal intervals",
                  tuple(lines), in_words(" ".join(lines)), {"from_other_end": other, "paired": paired})


COMMANDS = (
    Command("agree", "whether codes, readings and the unplugging name one cylinder",
            ("companion work agree P0204 --unplugged 4 --returned P0204", "companion work agree P0087 --readings 3"),
            _agree_arguments, _agree),
    Command("cylinder", "where a cylinder stands, and which one moves with it",
            ('companion work cylinder 2 --of 4 --end "belt end" --order 1-3-4-2',), _cylinder_arguments, _cylinder),
)
