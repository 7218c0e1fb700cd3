"""`companion bench`: hearing, speed and memory, measured on this machine and printed with its name."""
from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from dataclasses import asdict
from datetime import date
from pathlib import Path

PARTS = ("start", "answer", "write", "verify", "turns", "ear")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `companion bench`."""
    from companion.edge.bench.ear import add_options

    parser.epilog = "examples: companion bench start write; companion bench ear --manifest recordings.tsv --out figures"
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"what to measure, of {', '.join(PARTS)} (default: all)")
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    add_options(parser)


def run(args: argparse.Namespace) -> int:
    """0: every figure is reached; 1: one is not; 2: wrong use."""
    unknown = [part for part in args.parts if part not in PARTS]
    if unknown:
        print(f"companion: bench measures {', '.join(PARTS)}, not {', '.join(unknown)}", file=sys.stderr)
        return 2
    found = {"machine": machine(), "date": date.today().isoformat()}
    print(f"{found['machine']}, {found['date']}", file=sys.stderr if args.json else sys.stdout)
    good = True
    for part in args.parts or PARTS:
        figures, lines, reached = _ear(args) if part == "ear" else _MEASURES[part]()
        found[part] = {**figures, "good": reached}
        good = good and reached
        if not args.json:
            print(*(f"{part}: {line}" if line else "" for line in lines), sep="\n", flush=True)
    if args.json:
        print(json.dumps(found, indent=2, ensure_ascii=False))
    return 0 if good else 1


def machine() -> str:
    """Processor, cores, system and Python, in words."""
    return f"{_processor()}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    return next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), platform.machine())


# Each measure imports its own parts: whoever benches writing needs no ear.

def _start():
    from companion.edge.bench.starting import start
    found = start()
    line = (f"first spoken word after {found.first_word_s:.2f} s (at most 3), memory {found.memory_mb:.0f} MB (at most 500), "
            f"n = {found.count}")
    return asdict(found), [line], found.good


def _answer():
    from companion.edge.bench.starting import answer
    from companion.edge.ear.endpoint import EARLY_S, FULL_S
    found = answer()
    line = (f"from the endpoint decision: first sound {found.tone_ms:.0f} ms (at most 150), first word {found.word_ms:.0f} ms, "
            f"medians, n = {found.count}; the silence that ends an utterance is {EARLY_S} s, or {FULL_S} s where more could "
            f"follow")
    return asdict(found), [line], found.good


def _write():
    from companion.edge.bench.writing import KINDS, measure
    found = [measure(kind) for kind in KINDS]
    lines = [f"{each.what}: acknowledged in {each.entry_ms:.3f} ms, bare write and fsync {each.bare_ms:.3f} ms, ratio "
             f"{each.ratio:.2f} (at most 1.3, or 0.1 ms more), n = {each.count}" for each in found]
    return {each.what: asdict(each) for each in found}, lines, found[0].good


def _verify():
    from companion.edge.bench.verifying import measure
    found = measure()
    line = (f"{found.verify_us:.1f} µs a line, json.loads and sha256 alone {found.plain_us:.1f} µs, speed ratio "
            f"{found.ratio:.2f} (at least 0.4), {found.lines} lines, n = {found.rounds}")
    return asdict(found), [line], found.good


def _turns():
    from companion.edge.bench import own_voice
    minutes, count = own_voice.MINUTES, own_voice.COUNT
    alone = [own_voice.own_voice(minutes / 2, echo_db) for echo_db in own_voice.LEVELS]
    above = [own_voice.interruptions(count, echo_db) for echo_db in own_voice.LEVELS]
    lines = [f"own voice {each.echo_db:+.0f} dB beside a talker, {each.minutes:.0f} min: accepted {each.accepted} (at most 0), "
             f"paused for nobody {each.pauses}" for each in alone]
    lines += [f"interrupted at {-each.echo_db:+.0f} dB above its voice: obeyed {each.obeyed} of {each.count} (at least 95 %), silent "
              f"within {own_voice.WITHIN_S} s of the first sound {each.silent}, wrong and accepted {each.wrong}" for each in above]
    good = not any(each.accepted for each in alone) and all(each.obeyed >= 0.95 * each.count for each in above)
    return {"own_voice": [asdict(each) for each in alone], "interruptions": [asdict(each) for each in above]}, lines, good


def _ear(args: argparse.Namespace):
    from companion.edge.bench.ear import measure
    return measure(args, machine(), date.today().isoformat())


_MEASURES = {"start": _start, "answer": _answer, "write": _write, "verify": _verify, "turns": _turns}
