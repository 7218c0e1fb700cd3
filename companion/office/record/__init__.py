"""`companion record LOG`: a log as a paper to read, print and hand over: record, customer's sheet, claim sheet."""
from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path

from companion.core.log.journal import beside_name
from companion.errors import BadInput
from companion.office.account import Account, read_account
from companion.office.record.gather import record_of, wrong_with
from companion.office.record.markup import clean
from companion.office.record.page import record_paper
from companion.office.record.paper.html import as_html
from companion.office.record.paper.typeset import as_pdf
from companion.office.record.plain import as_text
from companion.office.record.sheets.claim import claim_sheet
from companion.office.record.sheets.customer import customer_sheet
from companion.office.record.rows import Row
from companion.office.record.sheets.told import Told
from companion.office.review_log import read_review

EXAMPLES = """examples:
  companion record van-12.jsonl                     writes van-12.html beside the log
  companion record van-12.jsonl --pdf               writes van-12.pdf, on A4
  companion record van-12.jsonl --sheet customer    one page in plain words: van-12-customer.html
  companion record van-12.jsonl --sheet claim --pdf complaint, cause, correction, parts, tag: van-12-claim.pdf
  companion record van-12.jsonl --out sheet.html
  companion record van-12.jsonl --text              readable text instead of a page
  companion record van-12.jsonl --json              everything the page shows, as one JSON object

exit code: 0 fine, 1 the log does not hold (the record shows how far it does), 2 wrong use or an unreadable file"""
SHEETS = ("record", "customer", "claim")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion record`."""
    parser.description = "Make a record of a job, a customer's sheet or a claim sheet, from its log alone."
    parser.epilog = EXAMPLES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("log", metavar="LOG", type=Path, help="a job log (.jsonl); its sidecar is found beside it")
    parser.add_argument("--sheet", choices=SHEETS, default=SHEETS[0], help="which paper (default: record)")
    parser.add_argument("--pdf", action="store_true", help="a PDF to print and to send, instead of a page")
    parser.add_argument("--no-sound", dest="sound", action="store_false",
                        help="leave the sound of spoken memos out of the page; their drafts stay")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--out", metavar="FILE", help="where it goes (default: beside the log); - prints it")
    form.add_argument("--text", action="store_true", help="print a plain-text record instead")
    form.add_argument("--json", action="store_true", help="print the record's data as one JSON object instead")


def run(args: argparse.Namespace) -> int:
    """Make the record; the exit code. Raises BadInput for wrong use."""
    if (args.text or args.json) and (args.pdf or args.sheet != SHEETS[0]):
        raise BadInput("--text and --json", "must stand without --pdf and --sheet", do="They tell the whole record")
    account = read_account(args.log)
    if args.json:
        print(json.dumps(_data(account, args.log)))
    elif args.text:
        _print(as_text(_data(account, args.log)).encode(sys.stdout.encoding or "utf-8", "replace"))
    elif args.out == "-":
        _print(_made(account, args.log, args.sheet, args.pdf, args.sound))
    else:
        path = _write(account, args.log, args.out, args.sheet, args.pdf, args.sound)
        _print(f"{clean(str(path))}\n".encode(sys.stdout.encoding or "utf-8", "replace"))
    _say_what_is_wrong(account)
    return _code(account)


def write_record(log: Path) -> Path:
    """Write the page beside `log`; its path. Raises BadInput where there is no log to read."""
    return _write(read_account(log), log, None)


def _write(account: Account, log: Path, out: str | None, sheet: str = SHEETS[0], pdf: bool = False,
           sound: bool = True) -> Path:
    kind = "" if sheet == SHEETS[0] else f"-{sheet}"
    path = Path(out) if out else log.with_name(log.stem + kind + (".pdf" if pdf else ".html"))
    if not out and path.is_symlink():
        raise BadInput(ascii(str(path))[1:-1], "is a link, and nothing is written through it", do="Give another name with --out")
    try:
        made = _made(account, log, sheet, pdf, sound)
        if any(path.exists() and path.samefile(kept) for kept in _evidence(account, log)):
            raise BadInput(str(path), "the record must not take the log's place", do="Give another name with --out")
        with open(path, "wb", opener=_private) as file:
            file.write(made)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or error
        raise BadInput(ascii(str(path))[1:-1], f"must be a file that can be written: {why}") from None
    return path


def _made(account: Account, log: Path, sheet: str, pdf: bool, sound: bool) -> bytes:
    """The paper's bytes, with the memos' sound in a page where it is wanted; only those as recorded are asked for."""
    if pdf and sheet == SHEETS[0] and log.stat().st_size > _MOST_PDF:
        raise BadInput("--pdf", f"must be of a log of at most {_MOST_PDF:,} bytes", do="Make the page, and print it from a browser")
    data = _data(account, log)
    makers = {"record": lambda: record_paper(data), "customer": lambda: customer_sheet(Told(account, data)),
              "claim": lambda: claim_sheet(Told(account, data))}
    paper = makers[sheet]()
    held = (lambda name: _sound(log.with_name(name))) if sound else (lambda name: b"")
    return as_pdf(paper) if pdf else as_html(paper, held).encode("utf-8", "replace")


_MOST_PDF = 2**20
"""Bytes of a log that is typeset whole, four times an injector's job; a longer one takes minutes and all memory."""
_MOST_SOUND = 16 * 2**20
"""Bytes of a memo that a page takes in: a minute has at most some 6 million. A longer one is left out, as with --no-sound."""


def _sound(path: Path) -> bytes:
    with open(path, "rb") as file:
        held = file.read(_MOST_SOUND + 1)
    return held if len(held) <= _MOST_SOUND else b""


def _data(account: Account, log: Path) -> Row:
    """What the papers show; the office's own log is looked for where it belongs."""
    return record_of(account, read_review(log.parent))


def _evidence(account: Account, log: Path) -> list[Path]:
    """The files that nothing may be written over: the log, its sidecar, its memos."""
    names = [beside_name(log.name), *(memo["file"] for memo in account.found["memos"] if memo["file"])]
    return [path for path in (log, *map(log.with_name, names)) if path.exists()]


def _private(path: str, flags: int) -> int:
    """A new file is for its owner alone: the personal words in it are as private as the log's sidecar."""
    return os.open(path, flags, 0o600)


def _print(made: bytes) -> None:
    """To standard output."""
    sys.stdout.flush()
    sys.stdout.buffer.write(made)
    sys.stdout.buffer.flush()


def _say_what_is_wrong(account: Account) -> None:
    """To standard error, so that the exit code 1 is not all that is said."""
    for why in wrong_with(account):
        print(f"companion: {clean(account.name)} does not hold: {clean(why)}", file=sys.stderr)


def _code(account: Account) -> int:
    return 1 if wrong_with(account) or not account.found["holds"] else 0
