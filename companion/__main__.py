"""`companion COMMAND …`: subcommands only; each lives in a module of its own."""
from __future__ import annotations

import argparse
import importlib
import sys
from typing import NoReturn, Optional, Sequence

from companion import VERSION
from companion.errors import CompanionError
from companion.terminal import clean, clean_lines

#: command, module with `add_arguments` and `run`, one line of help
COMMANDS = (
    ("job", "companion.edge.job", "work a job card, spoken or typed; goes on with an unfinished job"),
    ("demo", "companion.office.demo", "hear a whole job: a synthetic mechanic works the injector card"),
    ("work", "companion.edge.work", "the trade's arithmetic at the bench: torque, units, codes, limits, leak-off"),
    ("check", "companion.edge.check", "check job cards: every error with its line"),
    ("verify", "companion.office.verify", "check that logs are whole and unchanged"),
    ("forget", "companion.office.forget", "erase what a log keeps about people; the log still verifies"),
    ("record", "companion.office.record", "a log as a readable page"),
    ("review", "companion.office.review", "check a whole folder of logs, and say what a supervisor should see"),
    ("cards", "companion.office.cards", "approve and withdraw job cards for a folder of logs, and list them"),
    ("trust", "companion.office.trust", "the list of devices whose logs count: add a key, revoke one, list them"),
    ("receipts", "companion.office.receipts", "receipts that show later that finished logs were there and are unchanged"),
    ("office", "companion.office.ledger", "how the office's own log stands; say why something is missing"),
    ("page", "companion.office.page", "the supervisor's page over a folder of logs, for a browser of this machine"),
    ("device", "companion.edge.identity", "this device's public key, and the passphrase that locks its key"),
    ("keys", "companion.edge.keys.show", "name the key, pedal or button that is pressed"),
    ("ready", "companion.edge.ready", "look whether this machine is ready for a spoken job, and what to do"),
    ("hear", "companion.edge.hear", "what the ear makes of sound files, one JSON line a file"),
    ("bench", "companion.edge.bench", "measure hearing, speed and memory on this machine"),
)


class _Parser(argparse.ArgumentParser):
    """What was typed stands in its messages, and may come from a file's name."""

    def error(self, message: str) -> NoReturn:
        super().error(clean(message))


def main(argv: Optional[Sequence[str]] = None) -> int:
    """Run one command. Exit codes: 0 fine, 1 the finding is bad, 2 wrong use."""
    argv = list(sys.argv[1:] if argv is None else argv)
    parser = _Parser(prog="companion", description="A spoken second person for a mechanic who works alone.")
    parser.add_argument("--version", action="version", version=f"companion {VERSION}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, module, words in COMMANDS:
        command = commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        if name in argv:  # the others are not even imported: a command starts fast and needs only its own parts
            importlib.import_module(module).add_arguments(command)
    args = parser.parse_args(argv)
    module = next(module for name, module, _ in COMMANDS if name == args.command)
    return _run(importlib.import_module(module).run, args)


def _run(run, args: argparse.Namespace) -> int:
    try:
        return run(args)
    except CompanionError as error:
        print(f"companion: {clean_lines(str(error)) if hasattr(error, 'faults') else clean(str(error))}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except OSError as error:  # a name that is too long, a folder in a file's place, a disk that is gone
        print(f"companion: {ascii(str(error.filename or ''))[1:-1]}: must be what the command can use, but the system says: "
              f"{error.strerror or error}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
