"""Speaks, mixes, hears, trains and writes the file."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.edge.bench.ear.manifest import read_manifest
from companion.edge.bench.letters.heard import examples
from companion.edge.bench.letters.said import texts
from companion.edge.bench.letters.spoken import recorded, silent, spoken
from companion.edge.sound import read_sound
from companion.errors import CompanionError

_SPOKEN, _RECORDED, _SILENT = 2, 28, 20
"""How often a sentence is heard, each time in another noise, and a recording; and one noise alone for so many of them."""


def main() -> int:
    """0, or 1 with a message."""
    parser = argparse.ArgumentParser(prog="python -m companion.edge.bench.letters", description="train the letters heard")
    parser.add_argument("--words", type=Path, required=True, metavar="FILE", help="ordinary words, one a line")
    parser.add_argument("--manifest", type=Path, metavar="FILE", help="recordings: tab-separated file, set, said")
    parser.add_argument("--set", metavar="SET", help="which of the manifest's sets to train on")
    parser.add_argument("--count", type=int, default=29_000, metavar="N", help="sentences to speak (default: %(default)s)")
    parser.add_argument("--epochs", type=int, default=11, metavar="N", help="times through everything (default: %(default)s)")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="the network's file to write")
    args = parser.parse_args()
    try:
        from companion.edge.bench.letters.training import train  # here, since it takes torch

        words = [word for word in args.words.read_text(encoding="utf-8").split() if word.isalpha() and word.islower()]
        sounds = _SPOKEN * spoken(texts(words, args.count))
        if args.manifest:
            rows = [row for row in read_manifest(args.manifest) if row.set == args.set]
            sounds += recorded([(read_sound(row.file), row.said) for row in rows], _RECORDED)
        train(examples(sounds + silent(len(sounds) // _SILENT)), args.epochs, args.out)
    except (CompanionError, OSError, ImportError) as fault:
        print(f"companion: {fault}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
