"""`companion receipts FOLDER give|check|head`: proof, held elsewhere, that finished logs were there and are unchanged."""
from __future__ import annotations

import argparse
from pathlib import Path

from companion.errors import BadInput
from companion.terminal import clean

EXAMPLES = """examples:
  companion receipts jobs give                     every finished log that has none gets a receipt
  companion receipts jobs give --out sent          … in a folder to be sent away
  companion receipts jobs check                    is every log on the list there, and as it was?
  companion receipts jobs check --held kept/*      … and does the list still agree with what was handed out?
  companion receipts jobs check --jobs 12 --letters "ABCD EFGH IJKL MNOP QRST"
  companion receipts jobs head --since kept/van-12.receipt > later.head
  companion verify van-12.jsonl --receipt kept/van-12.receipt --later later.head

The list lies in FOLDER/office/receipts, only ever grows, and is signed with this machine's key. A receipt proves nothing
while it lies beside its log: hand it to the customer, or keep it where the depot cannot change it. So too the head, which
stands for the whole list: twenty letters, read out on the telephone, will do.

exit code: 0 fine, 1 something is missing or not as it was, 2 wrong use"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion receipts`."""
    parser.description = "Give receipts for finished logs, and check later that nothing was taken out or rewritten."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder of job logs")
    acts = parser.add_subparsers(dest="act", required=True, metavar="give|check|head")
    give = acts.add_parser("give", help="put finished logs on the list, sign it, and write their receipts")
    give.add_argument("--out", type=Path, metavar="FOLDER", help="where the receipts go (default: FOLDER/office/receipts)")
    give.add_argument("--all", action="store_true", help="write the receipts of all logs on the list again, under its head now")
    check = acts.add_parser("check", help="is every log of the list there and unchanged, and the list the one that was signed?")
    check.add_argument("--held", type=Path, nargs="+", default=[], metavar="FILE", help="receipts and heads kept elsewhere")
    check.add_argument("--jobs", type=int, metavar="N", help="with --letters: how many jobs that head had")
    check.add_argument("--letters", metavar="TEXT", help="a head as it was written down")
    head = acts.add_parser("head", help="print the head, as JSON for whoever holds an earlier one")
    head.add_argument("--since", type=Path, metavar="FILE", help="a receipt or head held elsewhere, which it must continue")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit code. Raises CompanionError."""
    from companion.office.receipts import acts  # late: none of it is needed for --help
    if not args.folder.is_dir():
        raise BadInput(clean(str(args.folder)), "must be the folder of job logs")
    if args.act == "give":
        return acts.give(args.folder, args.out, args.all)
    if args.act == "head":
        return acts.head(args.folder, args.since)
    if (args.jobs is None) != (args.letters is None):
        raise BadInput("--letters", "goes with --jobs")
    return acts.check(args.folder, args.held, args.jobs, args.letters)
