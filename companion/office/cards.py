"""`companion cards FOLDER approve|withdraw|list`: the office's register of the cards that jobs may be worked on."""
from __future__ import annotations

import argparse
import hashlib
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any, Iterable, Iterator

from companion.core.card import load_card
from companion.edge.cards import read_text
from companion.edge.device import device_key, wall
from companion.errors import BadInput
from companion.office.review_log import (
    CardApproved, CardWithdrawn, Reviewed, append, read_review, review_path, standing, tidy)
from companion.office.review_log.telling import warnings, whose_keys
from companion.terminal import clean

EXAMPLES = """examples:
  companion cards logs approve wheels.yaml --by "R. Example" --reason "read against the maker's data"
  companion cards logs withdraw wheels.yaml --by "R. Example" --reason "the torque was wrong"
  companion cards logs withdraw wheels --version 1.2 --by "R. Example" --reason "…"   a text whose file is gone
  companion cards logs list

Each entry is signed with this machine's key and kept in FOLDER/office/review.jsonl. A job is judged by how the register
stood when it began.

exit code: 0 fine, 1 the office's log does not hold, 2 wrong use, or a card that cannot be used"""

COLUMNS = ("card", "version", "state", "since", "by", "reason", "sha256")
_WIDEST = 40


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion cards`."""
    parser.description = "Approve job cards, withdraw them, list how they stand. A changed card needs a new version."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder of job logs")
    acts = parser.add_subparsers(dest="act", required=True, metavar="approve|withdraw|list")
    for name, words in (("approve", "from now on jobs may be worked on this card, as it is written"),
                        ("withdraw", "from now on no job may be begun on this card")):
        act = acts.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        act.add_argument("card", metavar="CARD", help="the card's file, or a shipped card's name")
        act.add_argument("--by", required=True, metavar="NAME", help="who says so")
        act.add_argument("--reason", required=True, metavar="TEXT", help="why")
        if name == "withdraw":
            act.add_argument("--version", metavar="VERSION", help="CARD is a card's id, and this its version")
    listing = acts.add_parser("list", help="how each card stands", description="How each card stands.")
    listing.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit code. Raises BadInput for wrong use, BadEvidence where the office's log does not hold."""
    if not args.folder.is_dir():
        raise BadInput(ascii(str(args.folder))[1:-1], "must be the folder of job logs")
    if args.act == "list":
        return _list(read_review(args.folder), str(review_path(args.folder)), args.json)
    card = _known(args) if getattr(args, "version", None) else _written(args)
    kind = CardApproved if args.act == "approve" else CardWithdrawn
    fact = kind(by=tidy(args.by), reason=tidy(args.reason), **card)
    append(args.folder, fact, device_key(), wall())
    done = "approved" if args.act == "approve" else "withdrawn"
    print(f"{fact.card}, version {fact.version} (SHA-256 {fact.sha256[:12]}…): {done} by {fact.by}")
    return 0


def _written(args: argparse.Namespace) -> dict[str, str]:
    """Id, version and hash of a card's file. Only a faultless one is approved; any that can be read is withdrawn."""
    text, where = read_text(args.card)
    card = load_card(text, where, checked=args.act == "approve")
    return {"card": card.id, "version": card.version, "sha256": hashlib.sha256(text.encode("utf-8")).hexdigest()}


def _known(args: argparse.Namespace) -> dict[str, str]:
    """The approved text of a version in the register."""
    marks = standing(read_review(args.folder).register.get(args.card, ())).values()
    found = [mark.sha256 for mark in marks if mark.approved and mark.version == args.version]
    if not found:
        raise BadInput("--version", "must be an approved version of that card in the register", ascii(args.version),
                       "companion cards FOLDER list shows them")
    return {"card": args.card, "version": args.version, "sha256": found[-1]}


# -- the list ----------------------------------------------------------------------------------------------------------

def rows(found: Reviewed) -> Iterator[dict[str, str]]:
    """Each text of each card with its last mark: approved, out of date (a newer one is approved) or withdrawn."""
    for card, marks in sorted(found.register.items()):
        now = list(standing(marks).values())
        newest = next((mark for mark in reversed(now) if mark.approved), None)
        for mark in now:
            state = "withdrawn" if not mark.approved else "approved" if mark is newest else "out of date"
            yield {"card": card, "version": mark.version, "state": state, "since": mark.at, "by": mark.by,
                   "reason": mark.reason, "sha256": mark.sha256}


def _list(found: Reviewed, where: str, as_json: bool) -> int:
    wrong = f"{where}:{found.broken}: {found.why}. Neither this line nor what follows it counts" if found.broken else ""
    torn = f"{where}: the last line is unfinished, was never acknowledged and does not count" if found.torn else ""
    if as_json:
        told = {"cards": list(rows(found)), "keys": found.keys, "holds": not wrong, "wrong": wrong, "note": torn}
        print(json.dumps(told, indent=2))
        return 1 if wrong else 0
    print("\n".join(_table(rows(found))))
    for words in (*warnings(replace(found, broken=0)), *filter(None, [whose_keys(found)])):
        print(clean(words), file=sys.stderr)
    for key, count in found.keys.items():
        print(f"key {key[:12]}… signed {count} {'entry' if count == 1 else 'entries'} of the office's log")
    for words in filter(None, (wrong, torn)):
        print(clean(words), file=sys.stderr)
    return 1 if wrong else 0


def _table(told: Iterable[dict[str, str]]) -> list[str]:
    """Columns as wide as what stands in them; days for times, and the beginning of a hash."""
    lines = [COLUMNS, *(tuple(_cell(row, name) for name in COLUMNS) for row in told)]
    if not lines[1:]:
        return ["No card is in the register."]
    widths = [max(map(len, column)) for column in zip(*lines)]
    return ["  ".join(cell.ljust(width) for cell, width in zip(line, widths)).rstrip() for line in lines]


def _cell(row: dict[str, Any], name: str) -> str:
    text = row[name][:10] if name == "since" else row[name][:12] if name == "sha256" else row[name]
    return text if len(text) <= _WIDEST else text[:_WIDEST - 1] + "…"
