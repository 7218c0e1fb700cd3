"""`companion office FOLDER`: how the office's own log stands, and answers to what is missing."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.edge.device import device_key, wall
from companion.errors import BadInput
from companion.office.review_log import DoubtAnswered, FindingAnswered, Reviewed, append, read_review, tidy
from companion.office.review_log.telling import warnings, whose_keys
from companion.terminal import clean

EXAMPLES = """examples:
  companion office jobs                                        lines, machines, whose keys count, what is wrong
  companion office jobs accept --by "R. Example" --reason "restored from the copy of Friday"
  companion office jobs gone van-12.jsonl --by "R. Example" --reason "made by mistake, never a job"

This machine remembers what it has seen of the log. Where it was shortened, replaced or deleted since, or the list of trusted
keys was changed, nothing is added until somebody says why ("accept"). A log that was here and is gone, or has lost
lines, stands in every review until somebody says why ("gone"), here or by a reply on the page. Both are signed lines of the
office's log.

exit code: 0 fine, 1 something is wrong with the office's log, 2 wrong use"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion office`."""
    parser.description = "How the office's own log stands; say why something of it, or a job's log, is missing."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder of job logs")
    acts = parser.add_subparsers(dest="act", metavar="accept|gone")
    for name, words in (("accept", "go on with the log, and the list of trusted keys, as they are now"),
                        ("gone", "a job's log, or lines of it, are rightly gone")):
        act = acts.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        if name == "gone":
            act.add_argument("log", metavar="LOG", help="its name, as the review gives it")
        act.add_argument("--by", required=True, metavar="NAME", help="who says so")
        act.add_argument("--reason", required=True, metavar="TEXT", help="why")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit code. Raises BadInput for wrong use, BadEvidence where the office's log takes nothing."""
    if not args.folder.is_dir():
        raise BadInput(str(args.folder), "must be the folder of job logs")
    if args.act == "accept":
        doubts = read_review(args.folder).doubts
        found = append(args.folder, DoubtAnswered(by=tidy(args.by), text=clean(". ".join(doubts))[:2000] or "nothing",
                                                  reason=tidy(args.reason)), device_key(), wall())
    elif args.act == "gone":
        found = append(args.folder, _gone(args), device_key(), wall())
    else:
        found = read_review(args.folder)
    return _tell(found)


def _gone(args: argparse.Namespace) -> FindingAnswered:
    from companion.office.review.opening import open_index  # late: DuckDB is only needed here
    from companion.office.review.overlay import ANSWERED
    from companion.office.review.store import Store
    index = open_index(Store(str(args.folder)))
    found = [one for one in index.findings_of(args.log) if one["name"] in ANSWERED]
    if not found:
        raise BadInput("LOG", "must be a log that was indexed and is gone, or has lost lines, and of which nobody has said why",
                       ascii(args.log)[:60], "companion review FOLDER --finding log-missing shows the first, --finding "
                       "log-shortened the others; review the folder first")
    return FindingAnswered(by=tidy(args.by), log=args.log, finding=found[0]["name"], lines=(), text=tidy(args.reason),
                           seal=found[0]["mark"])


def _tell(found: Reviewed) -> int:
    lines = len(found.entries)
    print(f"{lines} line{'' if lines == 1 else 's'}" + (f", the last on {found.entries[-1].at[:10]}" if lines else ""))
    for key, count in found.keys.items():
        stands = found.trusted.standing(key, found.entries[-1].at) if found.trusted else None
        print(clean(f"key {key[:12]}… signed {count}" + (f"; it is {stands.said}" if stands else "")))
    if whose_keys(found):
        print(whose_keys(found) + ".")
    wrong = list(warnings(found))
    for words in wrong:
        print(clean(f"companion: {words}"), file=sys.stderr)
    return 0 if found.sound and not wrong else 1
