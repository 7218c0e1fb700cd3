"""`companion work WHAT …`: the trade's arithmetic at the bench, without a job."""
from __future__ import annotations

import argparse

from companion.edge.work import bolting, codes, cylinders, judging, measures, times
from companion.edge.work.asked import Parser
from companion.edge.work.show import show

COMMANDS = (*measures.COMMANDS, *bolting.COMMANDS, *judging.COMMANDS, *codes.COMMANDS, *cylinders.COMMANDS,
            *times.COMMANDS)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The commands of `companion work`, each with help of its own."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = "examples:\n" + "\n".join(f"  {command.examples[0]}" for command in COMMANDS)
    whats = parser.add_subparsers(dest="what", required=True, metavar="WHAT", parser_class=Parser)
    for command in COMMANDS:
        examples = "examples:\n" + "\n".join(f"  {example}" for example in command.examples)
        described = f"{command.help[0].upper()}{command.help[1:]}."
        sub = whats.add_parser(command.name, help=command.help, description=described, epilog=examples,
                               formatter_class=argparse.RawDescriptionHelpFormatter)
        command.arguments(sub)
        sub.add_argument("--say", action="store_true", help="speak the answer too")
        sub.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def run(args: argparse.Namespace) -> int:
    """Answer one question. 0: fine; 1: what was checked does not hold; 2 (BadInput): wrong use."""
    answer = next(command for command in COMMANDS if command.name == args.what).work(args)
    show(answer, args.json, args.say)
    return 0 if answer.ok else 1
