"""`companion device`: this device's public key, for the supervisor's list, and the passphrase that locks its key."""
from __future__ import annotations

import argparse
import json

from companion.edge import passphrase
from companion.edge.device import KEY_FILE, device_key, home, lock_key, public_key
from companion.errors import BadInput
from companion.terminal import clean

EXAMPLES = f"""examples:
  companion device                                this device's public key
  companion device lock                           ask for a new passphrase, and keep the key locked with it
  companion device unlock                         keep the key without a passphrase again

A locked key's passphrase is asked for at the start of a job, never in it; or it comes from {passphrase.VARIABLE}. Whoever
forgets it must move the key away: a new one is made, and the supervisor must be told.

exit code: 0 fine, 1 the key cannot be used, 2 wrong use or a wrong passphrase"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion device`."""
    parser.description = "This device's public key, for the supervisor's list of trusted keys; lock its key, or unlock it."
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("act", nargs="?", choices=("show", "lock", "unlock"), default="show",
                        help="show the public key (default); lock the key with a passphrase; take the passphrase away")
    parser.add_argument("--json", action="store_true", help="with show: one JSON object and nothing else")


def run(args: argparse.Namespace) -> int:
    """Do it; the exit code. Raises BadInput, BrokenMachine."""
    if args.act != "show":
        if args.json:
            raise BadInput("--json", f"goes with show, not with {args.act}")
        device_key()  # the old passphrase is asked for first
        lock_key(passphrase.new() if args.act == "lock" else "")
    public, locked = public_key()
    if args.json:
        print(json.dumps({"key": public, "locked": locked}))
        return 0
    state = "locked with a passphrase" if locked else "not locked: whoever can read the file can sign as this device"
    print(f"public key: {public}\nits secret: {clean(str(home() / KEY_FILE))}, {state}")
    return 0
