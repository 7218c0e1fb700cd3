"""What `companion receipts` does: give, check, tell the head."""
from __future__ import annotations

import sys
from pathlib import Path
from typing import Iterator, Optional, Sequence, Union

from companion.core.log.closing import is_short, read_closing_seal
from companion.edge.device import device_key, wall
from companion.errors import BadEvidence, BadInput, BrokenMachine
from companion.office.place import OFFICE, Folder
from companion.office.receipts.forms import Entry, Head, Later, Receipt, letters, read_form, why_not
from companion.office.receipts.ledger import Ledger, extend, read_ledger, receipts_folder
from companion.office.trusted import trusted_in
from companion.office.verify import read_log
from companion.terminal import clean

ENDING = ".receipt"


def give(folder: Path, out: Optional[Path], every: bool = False) -> int:
    """Receipts for the finished logs that have none, or for all under the present head; the exit code."""
    at, left = wall(), []
    ledger, new = extend(folder, lambda before: tuple(_new(folder, before, at, left)), device_key(), at)
    out = out or receipts_folder(folder)
    for index in range(0 if every else len(ledger.entries) - new, len(ledger.entries)):
        _write(out, ledger.receipt(index))
    for words in left:
        print(f"companion: {clean(words)}", file=sys.stderr)
    print(f"{new} new {'job' if new == 1 else 'jobs'} on the list; receipts: {clean(str(out))}")
    for words in _keys(folder, ledger.heads[-1:]):
        print(f"companion: {clean(words)}: whoever goes by that list will not take these receipts", file=sys.stderr)
    if ledger.heads:
        print(_said(ledger.heads[-1]))
    return 1 if left else 0


def _new(folder: Path, before: Ledger, at: str, left: list[str]) -> Iterator[Entry]:
    """The finished logs that are not on the list; `left` is told of those that cannot be put there."""
    listed = {entry.log for entry in before.entries}
    for name in sorted(path.name for path in folder.iterdir() if path.name.endswith(".jsonl")):
        if name in listed:
            continue
        try:
            report = read_log(Folder(folder), name).report
            if report.finished:
                yield Entry(at=at, last=report.last, log=name)
            elif not report.holds:
                left.append(f"{name}: does not hold, and gets no receipt. companion verify says where")
        except (OSError, ValueError) as error:
            left.append(f"{name}: gets no receipt: {getattr(error, 'strerror', None) or why_not(error)}")


def _write(out: Path, receipt: Receipt) -> None:
    path = out / (receipt.entry.log.removesuffix(".jsonl") + ENDING)
    try:
        out.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)  # a link that came with the folder does not say where it is written
        with open(path, "x", encoding="utf-8") as file:
            file.write(receipt.model_dump_json(indent=1) + "\n")
    except OSError as error:
        raise BrokenMachine(clean(str(path)), f"cannot be written: {error.strerror}", do="The log is on the "
                            "list. Make room, then write the receipts again with give --all") from None


def head(folder: Path, since: Optional[Path]) -> int:
    """Print the last head, with the path that shows that it continues the one in the file `since`; the exit code."""
    ledger = read_ledger(folder)
    if not ledger.heads:
        raise BadInput(clean(str(receipts_folder(folder))), "must hold a list of finished logs", do="companion receipts "
                       "FOLDER give makes it")
    before = _held_head(since) if since else None
    if before and not ledger.agrees(before):
        raise BadEvidence(clean(str(since)), "must be a head of this list, and is not", do="Jobs were taken out or rewritten "
                          "since it was given, or it is another depot's")
    print(ledger.later(before.size if before else 0).model_dump_json(indent=1))
    print(_said(ledger.heads[-1]), file=sys.stderr)
    return 0


def check(folder: Path, held: list[Path], jobs: Optional[int], said: Optional[str]) -> int:
    """Compare the logs with the list, and the list with what was handed out; the exit code."""
    ledger = read_ledger(folder)
    wrong = [*_logs(folder, ledger), *_keys(folder, ledger.heads),
             *(words for path in held for words in _disagrees(ledger, path))]
    if jobs is not None and said is not None:
        wrong += _letters(ledger, jobs, said)
    for words in wrong:
        print(f"bad: {clean(words)}")
    print(f"{len(ledger.entries)} jobs on the list, {len(wrong)} bad, {len(held)} held elsewhere compared")
    if ledger.heads:
        print(_said(ledger.heads[-1]))
    return 1 if wrong else 0


def _logs(folder: Path, ledger: Ledger) -> Iterator[str]:
    """Logs that are gone, or not what they were when they were put on the list."""
    for number, entry in enumerate(ledger.entries, 1):
        try:
            report = read_log(Folder(folder), entry.log).report
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", "") or error
            yield f"{entry.log}: is gone or cannot be read ({why}); job {number} of the list"
            continue
        if report.bad:
            yield f"{entry.log}: line {report.bad.line}: {report.bad.why}"
        elif report.last != entry.last:
            yield (f"{entry.log}: is not the log that was put on the list on {entry.at[:10]}: it was written anew, or its end "
                   "was cut off")


def _keys(folder: Path, heads: Sequence[Head]) -> Iterator[str]:
    """Heads that a machine signed which is not on the list of trusted keys, where the office keeps one."""
    trusted = trusted_in(folder / OFFICE)
    for one in heads:
        stands = trusted.standing(one.key, one.at) if trusted else None
        if stands and not stands.fine:
            yield f"head of {one.size} jobs: the key that signed it is {stands.said}"


def _disagrees(ledger: Ledger, path: Path) -> Iterator[str]:
    """What a receipt or head that was held elsewhere has against the list."""
    one = _held(path)
    if not one.head.holds() or isinstance(one, Receipt) and not one.holds():
        yield f"{path}: does not hold by itself: it is not as it was given"
    elif not ledger.agrees(one.head):
        yield (f"{path}: the list does not begin with the {one.head.size} jobs of this head of {one.head.at[:10]}: one was "
               "taken out or rewritten since")
    elif isinstance(one, Receipt) and ledger.entries[one.index] != one.entry:
        yield f"{path}: job {one.index + 1} of the list is not the one of this receipt"


def _letters(ledger: Ledger, jobs: int, said: str) -> Iterator[str]:
    given = read_closing_seal(said)
    if is_short(given):
        raise BadInput("--letters", "must be the twenty letters of a head")
    if not 0 <= jobs <= len(ledger.entries):
        yield f"the list must have the {jobs} jobs of that head, not {len(ledger.entries)}"
    elif letters(jobs, ledger.tree.root(jobs).hex()) != given:
        yield f"the first {jobs} jobs must have the head {given}, not {letters(jobs, ledger.tree.root(jobs).hex())}"


def _held(path: Path) -> Union[Receipt, Later]:
    """A receipt, or a head. Raises BadInput."""
    return read_form(Receipt if path.name.endswith(ENDING) else Later, path)


def _held_head(path: Path) -> Head:
    return _held(path).head


def _said(head: Head) -> str:
    """The head in a line, to be kept elsewhere."""
    return f"head of {head.size} {'job' if head.size == 1 else 'jobs'}, {head.at[:10]}: {letters(head.size, head.root)}"
