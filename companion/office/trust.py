"""`companion trust FOLDER add|revoke|list`: the supervisor's list of trusted keys, written by hand or by this.

The list stays a text that people keep notes in: an entry is put in at its end, a revocation under its key, and what then
stands there must read as what was meant; else nothing is written.
"""
from __future__ import annotations

import argparse
import json
import os
import re
import tempfile
from dataclasses import asdict, replace
from pathlib import Path
from typing import Optional

from companion.core.card.text import read_tree
from companion.edge.device import has_key, public_key, wall
from companion.edge.durable import settle_folder
from companion.errors import BadInput, BrokenMachine
from companion.office.place import OFFICE
from companion.office.review_log.file import read_review, remember
from companion.office.trusted import LIST, OWN_UNKNOWN, Trusted, TrustedKey, load_trusted, trusted_in
from companion.terminal import clean

EXAMPLES = """examples:
  companion trust jobs add 9d61b1… --name "van two"                        counts from today
  companion trust jobs add 9d61b1… --name "van two" --from 2026-01-05
  companion trust jobs revoke 9d61b1… --why "the van was broken into"      counts no more from today
  companion trust jobs list

The key is what `companion device` prints on that device; after `add` its first letters will do. Have it read out to you
or see it yourself: a key that came with the log vouches for nothing. Days are those of UTC.

The list is FOLDER/office/trusted-keys.yaml, and may be edited by hand. `verify`, `review`, `page` and `record` go by it.
A stolen device can still tell an earlier day: what it sealed before the revocation is proven by a receipt only.

exit code: 0 fine, 2 wrong use, or a list with faults"""

_HEAD = ("# Whose keys the logs of this folder may be sealed with. `companion trust --help` says more.\n"
         "trusted_keys: 1\nkeys:\n")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion trust`."""
    parser.description = "The list of devices whose logs count: add a key, revoke one, list them."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder of job logs")
    acts = parser.add_subparsers(dest="act", required=True, metavar="add|revoke|list")
    add = acts.add_parser("add", help="from a day on, logs sealed with this key count")
    add.add_argument("key", metavar="KEY", help="the device's public key, 64 hex digits")
    add.add_argument("--name", required=True, help="whose it is: the device, or who carries it")
    add.add_argument("--from", dest="since", metavar="DAY", help="the first day that counts (default: today)")
    revoke = acts.add_parser("revoke", help="from a day on, logs sealed with this key count no more")
    revoke.add_argument("key", metavar="KEY", help="the key on the list, or its first eight hex digits or more")
    revoke.add_argument("--why", required=True, help="what happened")
    revoke.add_argument("--from", dest="since", metavar="DAY", help="the day from which it does not count (default: today)")
    listing = acts.add_parser("list", help="whose each key is, and until when")
    listing.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit code. Raises BadInput, BrokenMachine."""
    if not args.folder.is_dir():
        raise BadInput(clean(str(args.folder)), "must be the folder of job logs")
    path = args.folder / OFFICE / LIST
    try:
        trusted = trusted_in(path.parent, clean(str(path)))
        if args.act == "list":
            return _list(trusted, args.json)
        text = path.read_text(encoding="utf-8") if trusted else _HEAD
        entry, written = (_added if args.act == "add" else _revoked)(args, trusted or Trusted(()), text)
        before = read_review(args.folder)
        _write(path, written)
        if not before.doubts:
            remember(args.folder)
    except OSError as error:
        raise BrokenMachine(clean(str(path)), f"cannot be read or written: {error.strerror}") from None
    print(_said(entry))
    if args.act == "add":
        _tell_own(trusted_in(path.parent))
    return 0


def _added(args: argparse.Namespace, trusted: Trusted, text: str) -> tuple[TrustedKey, str]:
    """The new entry, and the list with it."""
    key = args.key.strip().lower()
    if trusted.of(key):
        raise BadInput(f"key {key[:8]}…", f"is on the list already, as {trusted.of(key).name}")
    entry = TrustedKey(key, " ".join(args.name.split()), args.since or wall()[:10])
    before = re.search(r"^( *)- ", text, re.MULTILINE)
    lead = before[1] if before else "  "
    lines = f"{lead}- key: {key}\n{lead}  name: {_quoted(entry.name)}\n{lead}  from: {entry.since}\n"
    text = text if text.endswith("\n") else text + "\n"
    text = re.sub(r"^keys: *\[ *\]", "keys:", text, count=1, flags=re.MULTILINE)
    return entry, _as_meant(text + lines, (*trusted.keys, entry))


def _revoked(args: argparse.Namespace, trusted: Trusted, text: str) -> tuple[TrustedKey, str]:
    """The entry as it now stands, and the list with it."""
    before = _one(args.key.strip().lower(), trusted)
    if before.revoked:
        raise BadInput(f"key {before.key[:8]}…", f"is revoked already, since {before.revoked}")
    entry = replace(before, revoked=args.since or wall()[:10], why=" ".join(args.why.split()))
    lines = text.splitlines(keepends=True)
    place = read_tree(text).line(("keys", trusted.keys.index(before), "key"))
    indent = " " * lines[place - 1].find("key")
    lines[place:place] = [f"{indent}revoked: {entry.revoked}\n", f"{indent}why: {_quoted(entry.why)}\n"]
    return entry, _as_meant("".join(lines), tuple(entry if one is before else one for one in trusted.keys))


def _one(key: str, trusted: Trusted) -> TrustedKey:
    """The entry whose key begins so."""
    found = [one for one in trusted.keys if one.key.startswith(key)]
    if len(key) < 8 or len(found) != 1:
        raise BadInput("KEY", "must be one key of the list, or its first eight hex digits or more",
                       f"{ascii(key[:64])}: {len(found)} begin so" if found else ascii(key[:64]))
    return found[0]


def _as_meant(text: str, keys: tuple[TrustedKey, ...]) -> str:
    """The text, if it reads as those keys. Raises TrustErrors for a value that cannot stand there, BadInput."""
    if load_trusted(text, "the list as it would be").keys != keys:
        raise BadInput(LIST, "is written in a way that this command cannot add to", do="Add the entry by hand")
    return text


def _quoted(text: str) -> str:
    """As YAML reads it, whatever it holds."""
    return json.dumps(text, ensure_ascii=False)


def _write(path: Path, text: str) -> None:
    """In place of the old list, durably and whole. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fd, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{LIST}.")
    try:
        with open(fd, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(draft, 0o644)
        os.replace(draft, path)
        settle_folder(path.parent)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise


def _list(trusted: Optional[Trusted], as_json: bool) -> int:
    keys = trusted.keys if trusted else ()
    if as_json:
        print(json.dumps({"list": trusted is not None, "keys": [asdict(one) for one in keys]}, ensure_ascii=False, indent=2))
    elif trusted is None:
        print("There is no list of trusted keys, so the key of a log is checked by nobody.")
    else:
        print("\n".join(map(_said, keys)) or "No key is on the list, so no log counts.")
        _tell_own(trusted)
    return 0


def _tell_own(trusted: Optional[Trusted]) -> None:
    """Say it where this machine's own key, if it has one, is not on the list: else the office learns it at a sign-off."""
    if trusted and has_key() and not trusted.of(public_key()[0]):
        print("\n" + OWN_UNKNOWN.format(key=public_key()[0]))


def _said(entry: TrustedKey) -> str:
    gone = f", revoked since {entry.revoked}{f': {entry.why}' if entry.why else ''}" if entry.revoked else ""
    return f"{entry.key}  {entry.name}, from {entry.since}{gone}"
