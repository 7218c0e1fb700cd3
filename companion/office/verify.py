"""`companion verify LOG…`: whether logs are as they were written, and if not, where the first bad line is."""
from __future__ import annotations

import argparse
import json
import re
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Callable, Iterator, NamedTuple, Optional

from companion.core.log.evidence import Report, examine
from companion.core.log.closing import read_closing_seal
from companion.core.log.journal import beside_name
from companion.core.log.sidecar import Sidecar, read_sidecar
from companion.errors import BadInput
from companion.office.held import Held, shown, standing
from companion.office.memos import MISSING, WRONG, is_clip, memo_found
from companion.office.place import OFFICE, Folder, Place, lines_in
from companion.office.receipts.forms import Later, Receipt, read_form
from companion.office.trusted import LIST, trusted_at, trusted_in
from companion.terminal import clean

EXAMPLES = """examples:
  companion verify van-12.jsonl
  companion verify van-12.jsonl --seal "ABCD EFGH IJKL MNOP QRST"
  companion verify van-12.jsonl --trusted trusted-keys.yaml
  companion verify van-12.jsonl --receipt kept/van-12.receipt
  companion verify --json logs/*.jsonl

Whose key sealed a log is looked up in the list of trusted keys: office/trusted-keys.yaml beside the log, or --trusted.
The closing seal is shown where one log is named: it takes a tenth of a second.

exit code: 0 every log holds, 1 something is bad, 2 wrong use or an unreadable file"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion verify`."""
    parser.description = "Check that job logs are as they were written. Names the first bad line and what is wrong."
    parser.epilog = EXAMPLES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("logs", nargs="+", metavar="LOG", help="a job log (.jsonl); its sidecar and memos are found beside it")
    parser.add_argument("--seal", metavar="TEXT", help="the closing seal on the customer's sheet, for one finished log")
    parser.add_argument("--key", metavar="HEX", help="the device's public key, as `companion device` prints it there")
    parser.add_argument("--trusted", metavar="FILE", type=Path, help="the supervisor's list of trusted keys, or the "
                        "folder of logs whose list it is")
    parser.add_argument("--receipt", metavar="FILE", type=Path, help="the log's receipt, held elsewhere (companion receipts)")
    parser.add_argument("--later", metavar="FILE", type=Path, help="with --receipt: a later head of the same list")
    parser.add_argument("--json", action="store_true", help="one line of JSON for each log, and nothing else")


def run(args: argparse.Namespace) -> int:
    """Print what was found; the exit code. Raises BadInput for wrong use."""
    held = _held(args)
    codes = []
    for log in args.logs:
        try:
            found = verify(Path(log), held, closing=len(args.logs) == 1)
        except (OSError, ValueError) as error:
            found = {"file": log, "holds": False, "error": f"cannot be read: {getattr(error, 'strerror', '') or error}"}
        print(json.dumps(found) if args.json else "\n".join(_said(found)))
        codes.append(2 if "error" in found else 0 if found["holds"] else 1)
    return 1 if 1 in codes else max(codes)


def _held(args: argparse.Namespace) -> Held:
    """What the command line gives. Raises BadInput."""
    for name in ("seal", "receipt"):
        if getattr(args, name) is not None and len(args.logs) != 1:
            raise BadInput(f"--{name}", "goes with one log", str(len(args.logs)))
    if args.later and not args.receipt:
        raise BadInput("--later", "goes with --receipt")
    key = (args.key or "").strip().lower()
    if args.key is not None and not re.fullmatch("[0-9a-f]{64}", key):
        raise BadInput("--key", "must be 64 lower-case hex digits", ascii(args.key[:80]))
    return Held(read_closing_seal(args.seal) if args.seal is not None else "", key,
                trusted_at(_list_of(args.trusted)) if args.trusted else None,
                read_form(Receipt, args.receipt) if args.receipt else None,
                read_form(Later, args.later) if args.later else None)


def _list_of(given: Path) -> Path:
    """The list itself, where the folder of logs was given, as `companion trust` takes it."""
    return given / OFFICE / LIST if given.is_dir() else given


def verify(path: Path, held: Held = Held(), closing: bool = True) -> dict[str, Any]:
    """What is found in one log, as `--json` prints it; without a list of trusted keys, the one beside the log counts.

    `closing`: tell the closing seal too. Raises OSError, TrustErrors."""
    log = read_log(Folder(path.parent), path.name)
    if held.trusted is None:
        held = replace(held, trusted=trusted_in(path.parent / OFFICE))
    found = {**found_in(log, held), "file": str(path)}
    return {**found, "closing_seal": log.report.closing_seal} if closing else found


class Log(NamedTuple):
    """A log as it lies at its place."""

    name: str
    report: Report
    sidecar: Sidecar
    memos: list[dict[str, Any]]


_MOST_BESIDE = 32 * 2**20
"""Bytes of a sidecar, whose texts are held in memory: a day's job has some thousands."""
Keep = Callable[[dict[str, Any], Sidecar], Any]


def read_log(place: Place, name: str, keep: Optional[Keep] = None) -> Log:
    """One log with what lies beside it, and what `keep` makes of each line and the sidecar. Raises OSError."""
    beside = beside_name(name)
    sidecar = read_sidecar(lines_in(place, beside, _MOST_BESIDE)) if place.has(beside) else Sidecar()
    kept = partial(keep, sidecar=sidecar) if keep else None
    report = examine(partial(lines_in, place, name), name, sidecar.texts, kept)
    return Log(name, report, sidecar, [memo_found(place, memo) for memo in report.memos])


def found_in(log: Log, held: Held = Held()) -> dict[str, Any]:
    """What is found in one log, as `--json` prints it; its file is the bare name."""
    report, memos, apart = log.report, log.memos, shown(log.report, held)
    first = _first_bad(report)
    wrong = [f"line {first['line']}: {first['why']}"] if first else []
    wrong += _beside_wrong(beside_name(log.name), log.sidecar) + _memos(memos, WRONG) + apart.wrong
    stands = standing(report, held)
    return {"file": log.name, "holds": not wrong, "finished": report.finished, "entries": report.entries,
            "seals": report.seals, "format": report.format, "last": report.last, "key": report.key,
            "key_of": stands.name if stands else "", "key_stands": stands.state if stands else "", "first_bad": first,
            "wrong": wrong, "notes": _notes(report) + apart.notes, "memos": memos,
            "not_checked": _not_checked(report) + apart.not_checked + _missing(memos)}


def _first_bad(report: Report) -> dict[str, Any] | None:
    """The first bad line, counted from 1 as an editor does, with the `n` that belongs there."""
    if report.bad:
        return {"line": report.bad.line, "n": report.bad.line - 1, "why": report.bad.why}
    if report.torn:
        why = f"unfinished: {report.torn} bytes without a newline, never acknowledged. Resuming the job cuts them off"
        return {"line": report.entries + 1, "n": report.entries, "why": why}
    return None


def _beside_wrong(name: str, sidecar: Sidecar) -> list[str]:
    wrong = [f"{name}, line {line}: {why}" for line, why in sidecar.bad]
    return wrong + ([f"{name}: the last line is unfinished"] if sidecar.torn else [])


def _missing(memos: list[dict[str, Any]]) -> list[str]:
    """Memos one by one; of clips there are many."""
    clips = sum(memo["state"] == MISSING and is_clip(memo["file"]) for memo in memos)
    told = _memos([memo for memo in memos if not is_clip(memo["file"])], MISSING)
    return told + [f"clips that are erased or kept elsewhere: {clips}"] * bool(clips)


def _memos(memos: list[dict[str, Any]], state: str) -> list[str]:
    return [f"line {memo['line']}: {memo['why']}" for memo in memos if memo["state"] == state]


def _notes(report: Report) -> list[str]:
    """What is no fault, but worth knowing."""
    notes = [] if report.finished or not report.holds else ["the job is unfinished"]
    return notes + [f"line {line}: the time of day had stepped back" for line in report.clock_steps]


def _not_checked(report: Report) -> list[str]:
    """What the log alone cannot show."""
    missing = []
    if report.entries > report.vouched:
        missing.append(f"lines {report.vouched + 1} to {report.entries} have no seal after them"
                       f"{' yet' if report.holds else ' that holds: they may have been changed and made to fit'}")
    if report.personal[1]:
        missing.append(f"personal texts that are erased or kept elsewhere: {report.personal[1]}")
    return missing


def _said(found: dict[str, Any]) -> Iterator[str]:
    """The finding in words, fit for a terminal."""
    name = clean(found["file"])
    if "error" in found:
        yield f"{name}: {found['error']}"
        return
    state = f"{found['seals']} {'seal' if found['seals'] == 1 else 'seals'}, {'finished' if found['finished'] else 'unfinished'}"
    yield (f"{name}: holds. {found['entries']} entries, {state}" if found["holds"] else
           f"{name}: DOES NOT HOLD. Lines that hold, from the first: {found['entries']}")
    if found.get("closing_seal"):
        yield f"  closing seal: {found['closing_seal']}"
    for title, key in (("bad", "wrong"), ("note", "notes"), ("not checked", "not_checked")):
        for text in found[key]:
            yield f"  {title}: {text}"
