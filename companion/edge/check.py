"""`companion check`: every fault of job cards, each with its file and line."""
from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from companion.core.card import CardErrors
from companion.core.card.form import json_schema
from companion.edge.cards import read_card, shipped
from companion.errors import BadInput

EXAMPLES = """examples:
  companion check my-card.yaml          every fault, as FILE:LINE: what must hold
  companion check learning road-wheels  shipped cards, by name
  companion check --json *.yaml         the same for a program
  companion check --schema > card.json  the JSON Schema, for editors that know YAML
exit codes: 0 all are fine, 1 a card has faults, 2 a card cannot be read at all"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Give `parser` the options of `companion check`."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description, parser.epilog = "Check job cards.", EXAMPLES
    names = "a card's file, or a shipped card: " + ", ".join(shipped())
    parser.add_argument("cards", nargs="*", metavar="CARD", help=names)
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of a card and check nothing")


def run(args: argparse.Namespace) -> int:
    """Check the cards. 0: all are fine; 1: one has faults; 2: one cannot be read, or none is given."""
    if args.schema:
        print(json.dumps(json_schema(), ensure_ascii=False, indent=2))
        return 0
    if not args.cards:
        raise BadInput("check", "needs a card: a file, or one of " + ", ".join(shipped()))
    found = [_check(card) for card in args.cards]
    if args.json:
        print(json.dumps({"cards": found}, ensure_ascii=False, indent=2))
    else:
        for report in found:
            _print(report)
    return max(2 if "error" in report else int(not report["fine"]) for report in found)


def _check(name: str) -> dict[str, Any]:
    """What is to be said about one card."""
    try:
        card = read_card(name)
    except CardErrors as error:
        faults = [{"file": error.where, "line": fault.line, "text": fault.text} for fault in error.faults]
        return {"card": name, "fine": False, "faults": faults}
    except BadInput as error:
        return {"card": name, "fine": False, "faults": [], "error": str(error)}
    return {"card": name, "fine": True, "faults": [], "steps": len(card.steps), "practice": card.practice}


def _print(report: dict[str, Any]) -> None:
    if "error" in report:
        print(report["error"], file=sys.stderr)
    elif report["fine"]:
        practice = ", practice only" if report["practice"] else ""
        steps = "1 step" if report["steps"] == 1 else f"{report['steps']} steps"
        print(f"{report['card']}: fine, {steps}{practice}")
    for fault in report["faults"]:
        print(f"{fault['file']}:{fault['line']}: {fault['text']}")
