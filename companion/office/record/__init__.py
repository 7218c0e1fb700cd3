"""`companion record LOG`: a log as a page to read, to print and to hand over."""
from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from urllib.parse import quote

from companion.core.log.journal import beside_name
from companion.errors import BadInput
from companion.office.account import Account, read_account
from companion.office.record.gather import record_of
from companion.office.record.markup import clean
from companion.office.record.page import as_page
from companion.office.record.plain import as_text

EXAMPLES = """examples:
  companion record van-12.jsonl                   writes van-12.html beside the log
  companion record van-12.jsonl --out sheet.html
  companion record van-12.jsonl --text            readable text instead of a page
  companion record van-12.jsonl --json            everything the page shows, as one JSON object

exit code: 0 fine, 1 the log does not hold (the record shows how far it does), 2 wrong use or an unreadable file"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion record`."""
    parser.description = "Make a readable record of a job, from its log alone."
    parser.epilog = EXAMPLES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("log", metavar="LOG", type=Path, help="a job log (.jsonl); its sidecar is found beside it")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--out", metavar="FILE.html", help="where the page goes (default: beside the log); - prints it")
    form.add_argument("--text", action="store_true", help="print a plain-text record instead")
    form.add_argument("--json", action="store_true", help="print the record's data as one JSON object instead")


def run(args: argparse.Namespace) -> int:
    """Make the record; the exit code. Raises BadInput for wrong use."""
    account = read_account(args.log)
    if args.json:
        print(json.dumps(record_of(account)))
    elif args.text:
        _print(as_text(record_of(account)))
    elif args.out == "-":
        _print(as_page(record_of(account)), "utf-8")
    else:
        _print(f"{clean(str(_write(account, args.log, args.out)))}\n")
    return _code(account)


def write_record(log: Path) -> Path:
    """Write the page beside `log`; its path. Raises BadInput where there is no log to read."""
    return _write(read_account(log), log, None)


def _write(account: Account, log: Path, out: str | None) -> Path:
    path = Path(out) if out else log.with_suffix(".html")
    try:
        text = as_page(record_of(account), _way(path.parent, log.parent))
        if any(path.exists() and path.samefile(kept) for kept in _evidence(account, log)):
            raise BadInput(str(path), "the record must not take the log's place", do="Give another name with --out")
        with open(path, "w", encoding="utf-8", newline="\n", opener=_private) as file:
            file.write(text)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or error
        raise BadInput(ascii(str(path))[1:-1], f"must be a file that can be written: {why}") from None
    return path


def _way(page: Path, log: Path) -> str:
    """The way from the page's folder to the log's, as a URL ending in "/"; "" where they are the same."""
    try:
        way = os.path.relpath(log, page)
    except ValueError:  # another drive
        return log.absolute().as_uri() + "/"
    return "" if way == "." else quote(Path(way).as_posix()) + "/"


def _evidence(account: Account, log: Path) -> list[Path]:
    """The files that nothing may be written over: the log, its sidecar, its memos."""
    names = [beside_name(log.name), *(memo["file"] for memo in account.found["memos"] if memo["file"])]
    return [path for path in (log, *map(log.with_name, names)) if path.exists()]


def _private(path: str, flags: int) -> int:
    """A new file is for its owner alone: the personal words in it are as private as the log's sidecar."""
    return os.open(path, flags, 0o600)


def _print(text: str, encoding: str = "") -> None:
    """To standard output; what it cannot show becomes "?"."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode(encoding or sys.stdout.encoding or "utf-8", "replace"))
    sys.stdout.buffer.flush()


def _code(account: Account) -> int:
    return 0 if account.found["holds"] and not account.unread else 1
