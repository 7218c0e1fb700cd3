"""`companion check`: every fault of job cards and tool lists, each with its file and line."""
from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from companion.core.card import CardErrors, load_card
from companion.core.card.form import json_schema
from companion.core.toolbox import ToolErrors, is_tool_list
from companion.edge.cards import read_text, shipped
from companion.edge.opening import Tools, today_of
from companion.errors import BadInput
from companion.terminal import clean

EXAMPLES = """examples:
  companion check my-card.yaml          every fault, as FILE:LINE: what must hold
  companion check learning road-wheels  shipped cards, by name
  companion check tools my-tools.yaml   lists of measuring tools, known by their key tool_list
  companion check --json *.yaml         the same for a program
  companion check --schema > card.json  the JSON Schema, for editors that know YAML
exit codes: 0 all are fine, 1 one has faults, 2 one cannot be read at all"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Give `parser` the options of `companion check`."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description, parser.epilog = "Check job cards and lists of measuring tools.", EXAMPLES
    names = "the file of a card or a tool list, or a shipped one: " + ", ".join((*shipped(), "tools"))
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
        print(json.dumps({"cards": found}, indent=2))
    else:
        for report in found:
            _print(report)
    return max(2 if "error" in report else int(not report["fine"]) for report in found)


def _check(name: str) -> dict[str, Any]:
    """What is to be said about one card or tool list."""
    try:
        return {"card": name, "fine": True, "faults": [], **_loaded(*read_text(name))}
    except (CardErrors, ToolErrors) as error:
        faults = [{"file": error.where, "line": fault.line, "text": fault.text} for fault in error.faults]
        return {"card": name, "fine": False, "faults": faults}
    except BadInput as error:
        return {"card": name, "fine": False, "faults": [], "error": str(error)}


def _loaded(text: str, where: str) -> dict[str, Any]:
    """How much a faultless card or tool list holds, and whether it is for practice."""
    if is_tool_list(text):
        tools = today_of(Tools(where, text))
        return {"tools": len(tools.tools), "practice": tools.practice}
    card = load_card(text, where)
    return {"steps": len(card.steps), "practice": card.practice}


def _print(report: dict[str, Any]) -> None:
    if "error" in report:
        print(clean(report["error"]), file=sys.stderr)
    elif report["fine"]:
        practice = ", practice only" if report["practice"] else ""
        what = "tool" if "tools" in report else "step"
        count = report[f"{what}s"]
        print(f"{clean(report['card'])}: fine, {count} {what}{'s' if count != 1 else ''}{practice}")
    for fault in report["faults"]:
        print(clean(f"{fault['file']}:{fault['line']}: {fault['text']}"))
