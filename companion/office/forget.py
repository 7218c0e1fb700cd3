"""`companion forget LOG…`: erases what a log keeps about people. The log itself stays as it was, and still verifies.

Its chain holds only salted hashes. Text and salt go together: without the salt not even a short text, such as a phone
number, can be found again by trying. What the index of the folder held goes too.
"""
from __future__ import annotations

import argparse
import sys
from contextlib import closing
from pathlib import Path

from companion.edge.device import device_key, wall
from companion.edge.durable import DurableFile
from companion.edge.erasing import draft_of, erase, keep_only
from companion.errors import BadInput, BrokenMachine, CompanionError
from companion.office.kept import Kept, kept_beside, without
from companion.office.review_log import PersonalErased, append, review_path, tidy
from companion.terminal import clean

EXAMPLES = """examples:
  companion forget van-12.jsonl                       what is kept, by name and number; erases nothing
  companion forget van-12.jsonl --name customer       the customer's reference
  companion forget jobs/*.jsonl --all --sound --by "R. Example" --reason "asked for by letter"

Erased: the texts and their salts, from the sidecar beside each log; with --sound the sound of memos and clips. The log is
not touched: it still verifies, and shows "(erased)". The index of the folder forgets it too.

Not reached: records and sheets made earlier (they are named), copies, backups, and the old blocks that a flash disk or a
file system with snapshots keeps for a while.

exit code: 0 done, 1 the disk or the office's log failed, 2 wrong use, or a log in use"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion forget`."""
    parser.description = "Erase what job logs keep about people, without breaking the logs. Names no texts."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("logs", nargs="+", type=Path, metavar="LOG", help="a job log (.jsonl) that no program is at")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--all", action="store_true", help="every text")
    which.add_argument("--name", action="append", default=[], metavar="NAME", help="the texts of that name; may be repeated")
    parser.add_argument("--sound", action="store_true", help="the sound of memos and clips")
    parser.add_argument("--index", default="", metavar="FOLDER", help="where the index is kept, as for companion review")
    parser.add_argument("--by", default="", metavar="WHO", help="who erases; needed where the office keeps a log")
    parser.add_argument("--reason", default="on request", metavar="TEXT", help="why, for the office's log (default: on request)")


def run(args: argparse.Namespace) -> int:
    """List or erase; the exit code. One log that cannot be done does not keep the others from it."""
    codes, known = [0], set()
    for log in args.logs:
        try:
            known |= _one(args, log)
        except CompanionError as error:
            print(f"companion: {clean(str(error))}", file=sys.stderr)
            codes.append(error.exit_code)
    for name in sorted(set(args.name) - known) if len(args.logs) > 1 else ():
        print(f'companion: --name: nothing is kept under "{clean(name)}" in any of these logs', file=sys.stderr)
        codes.append(BadInput.exit_code)
    if _chosen(args):
        for folder in sorted({log.parent for log in args.logs}):
            _forget_in_index(folder, args.index)
    return max(codes)


def _chosen(args: argparse.Namespace) -> bool:
    """Whether anything is to be erased."""
    return bool(args.all or args.name or args.sound)


def _one(args: argparse.Namespace, log: Path) -> frozenset[str]:
    """List or erase; the names that something was kept under."""
    if not log.name.endswith(".jsonl") or not log.is_file():
        raise BadInput(clean(str(log)), "must be a job log, ending in .jsonl")
    with closing(DurableFile(log, new=False)):  # nobody else is at it, and nobody begins to be
        try:
            kept = kept_beside(log)
            _look_or_erase(args, kept)
            return frozenset(kept.texts)
        except OSError as error:
            raise BrokenMachine(clean(str(log)), f"what lies beside it cannot be read or written: {error.strerror}",
                                do="Run it again when that is mended: what is erased stays erased") from None


def _look_or_erase(args: argparse.Namespace, kept: Kept) -> None:
    where = clean(str(kept.log))
    if not _chosen(args):
        more = "; damaged lines of the sidecar, which only --all erases" if kept.damaged else ""
        print(f"{where}: {_told(kept, frozenset(kept.texts), sound=True) or 'nothing'}{more}")
        return
    names, copies = _names(args, kept), [path.name for path in _touched(args, kept) if path.stat().st_nlink > 1]
    told = _told(kept, names, args.sound) or ("a damaged sidecar" if args.all and kept.damaged else "")
    if told:
        _record(args, kept.log, told)
        _erase(kept, names, args.all, args.sound)
    print(f"{where}: {f'erased: {told}' if told else 'nothing to erase'}")
    for copy in copies:
        print(f"  not erased: {clean(copy)} has another name elsewhere, which a program cannot find: a copy, or a backup")
    for paper in kept.papers:
        print(f"  not erased: {clean(paper.name)}, made of this log, may hold what it held then")


def _touched(args: argparse.Namespace, kept: Kept) -> list[Path]:
    """The files that hold what is to go."""
    texts = [kept.sidecar] if (args.all or args.name) and kept.sidecar.exists() else []
    return texts + list(kept.sounds if args.sound else ())


def _names(args: argparse.Namespace, kept: Kept) -> frozenset[str]:
    """The names whose texts are to go."""
    unknown = [name for name in args.name if name not in kept.texts]
    if args.name and kept.damaged:
        raise BadInput(clean(str(kept.sidecar)), "has damaged lines, of which nobody can tell whose they are", do="Use --all")
    if unknown and len(args.logs) == 1:
        known = ", ".join(map(clean, sorted(kept.texts))) or "none"
        raise BadInput("--name", f"must be a name that something is kept under: {known}", clean(unknown[0]))
    return frozenset(kept.texts) if args.all else frozenset(args.name)


def _told(kept: Kept, names: frozenset[str], sound: bool) -> str:
    """What is kept of those names, by number; "" for nothing."""
    parts = [f"{clean(name)} ({_counted(len(kept.texts[name]), 'text')})" for name in sorted(names & kept.texts.keys())]
    return ", ".join(parts + [_counted(len(kept.sounds), "sound file")] * bool(sound and kept.sounds))


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _record(args: argparse.Namespace, log: Path, what: str) -> None:
    """In the office's log, where there is one, before it is done: so it cannot be done quietly."""
    if not review_path(log.parent).exists():
        return
    if not args.by.strip():
        raise BadInput("--by", "must say who erases: this folder has an office's log, and it is recorded there")
    fact = PersonalErased(by=tidy(args.by), log=log.name, what=what, reason=tidy(args.reason))
    append(log.parent, fact, device_key(), wall())


def _erase(kept: Kept, names: frozenset[str], everything: bool, sound: bool) -> None:
    if everything:
        for path in (kept.sidecar, draft_of(kept.sidecar)):
            if path.exists():
                erase(path)
    elif any(name in kept.texts for name in names):
        keep_only(kept.sidecar, without(kept, names))
    if sound:
        for path in kept.sounds:
            erase(path)


def _forget_in_index(folder: Path, apart: str) -> None:
    """What the index of the folder held of these logs goes too."""
    from companion.office.review.indexing import forget_old_rows  # late: DuckDB is not needed to list
    from companion.office.review.store import Store

    forget_old_rows(Store(str(folder)), apart)
