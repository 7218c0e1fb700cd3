"""`companion keys`: names each key, pedal or button that is pressed, for `--talk-key` and `--next-key`."""
from __future__ import annotations

import argparse
import queue
import sys
from contextlib import closing

from companion.edge.keys.names import KEYS, writes
from companion.edge.keys.watch import Keys
from companion.terminal import clean

EXAMPLES = """examples:
  companion keys                                  press the pedal: it says f9, say
  companion job learning --talk-key f9            then hold it to talk
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `companion keys`."""
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("--seconds", type=float, default=20.0, metavar="S",
                        help="end when nothing was pressed for so long (default: 20)")


def run(args: argparse.Namespace) -> int:
    """0: a key was named; 1: none was pressed."""
    pressed: queue.Queue[str] = queue.Queue()
    named = 0
    with closing(Keys(pressed.put, notice=lambda text: print(f"companion: {clean(text)}", file=sys.stderr))):
        print(f"Press the key, pedal or button. This ends {args.seconds:g} seconds after the last.", file=sys.stderr)
        try:
            while True:
                print(_told(pressed.get(timeout=args.seconds)), flush=True)
                named += 1
        except (queue.Empty, KeyboardInterrupt):
            pass
    return 0 if named else 1


def _told(key: str) -> str:
    if key not in KEYS and not key.startswith("code-"):
        return f"{key}: a typed line needs this key; take another"
    return f"{key}: counts only while no line is being typed" if writes(key) else key
