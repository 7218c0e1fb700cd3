"""`companion hear`: what the ear makes of sound files, through the same live path as the microphone."""
from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Optional

import numpy as np

from companion.core.commands import ALL_UNITS, RULES, all_commands
from companion.core.grammar import Choice, Expr, Listen, Maybe, Number, Phrase, Rule, Sequence, Spelling
from companion.core.card import ToolOf
from companion.core.job.listen import listen_for
from companion.core.understand import understand
from companion.edge.cards import read_card
from companion.edge.ear import EARS, NOTHING, Guess, LivePath, chosen_model, load_ear
from companion.edge.opening import today_of, tools_for
from companion.edge.sound import CHUNK, FileSource
from companion.errors import BadInput, BrokenMachine
from companion.terminal import clean

EXAMPLES = """examples:
  companion hear --phrases "next|repeat|x-ray" a.wav b.flac
  companion hear --answer number reading.wav        also: spelling, yes-no, commands
  companion hear --card common-rail-injector --step rail-pressure reading.wav
prints one JSON object a line and file: file, text, score, accepted, sure, ms, utterances (and value, unit)
exit codes: 0 all files were read, 1 a file could not be read, 2 wrong use"""

_BEFORE = 18 * CHUNK
"""Samples of silence before a file, as from a microphone that was open already: a file may begin with speech.
Whole chunks: where noise begins inside one, the pause detector missed up to a fifth of the digits
at 0 dB that it finds otherwise (n = 45)."""

_VALUE = Rule("value", Sequence((Number(), Maybe(ALL_UNITS))))
ANSWERS = {
    "number": Listen((_VALUE,)),
    "spelling": Listen((Rule("spelled", Spelling()),)),
    "yes-no": Listen((RULES["affirm"], RULES["negative"])),
    "commands": all_commands(),
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Give `parser` the options of `companion hear`."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description, parser.epilog = "Hear sound files as the microphone would be heard.", EXAMPLES
    parser.add_argument("files", nargs="+", metavar="WAV", help="sound files (WAV, FLAC) of any rate and channels")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--phrases", help="listen for these, separated by |")
    what.add_argument("--answer", choices=ANSWERS, help="listen for one kind of answer")
    what.add_argument("--card", help="listen for what a step of this card expects (with --step)")
    parser.add_argument("--step", help="the step of --card")
    parser.add_argument("--ear", choices=EARS, default="auto", help="who listens; auto: a Vosk model where one lies in "
                        "the models folder, else the embedded ear")
    parser.add_argument("--model", type=Path, metavar="FOLDER", help="a Vosk model (models/README.md)")


def run(args: argparse.Namespace) -> int:
    """Hear the files in the order given. 0: all were read; 1: one could not be."""
    failed = False
    model = chosen_model(args.ear, args.model, _notice)
    for report in _reports(args.files, wanted(args), model):
        failed = failed or "error" in report
        print(json.dumps(report), flush=True)
    return int(failed)


def _notice(text: str) -> None:
    print(f"companion: {clean(text)}", file=sys.stderr)


def _reports(files: list[str], listen: Listen, model: Optional[Path]) -> Iterator[dict[str, Any]]:
    """In the order given. Many files are shared out to one process a core: a single utterance keeps only one busy.
    A Vosk model is too large to be loaded more than once."""
    workers = min(os.cpu_count() or 1, 4) if len(files) >= _MANY and model is None else 1
    if workers == 1:
        _begin(listen, model=model)
        yield from map(_report, files)
        return
    with ProcessPoolExecutor(workers, get_context("spawn"), _begin, (listen, 1)) as pool:
        try:
            yield from pool.map(_report, files, chunksize=4)
        except BrokenProcessPool:
            raise BrokenMachine("hear", "the processes that listen must live", "one was ended", "Give fewer files") from None


_MANY = 16
_at_work: tuple[LivePath, Listen] | None = None


def _begin(listen: Listen, threads: int = 2, model: Optional[Path] = None) -> None:
    """Load the ear once in each process."""
    global _at_work
    _at_work = LivePath(load_ear("vosk" if model else "embedded", threads, model, _notice)), listen


def wanted(args: argparse.Namespace) -> Listen:
    """What the options say to listen for. Raises BadInput where they make no sense."""
    if (args.card is None) != (args.step is None):
        raise BadInput("hear", "--card and --step must come together")
    if args.card is not None:
        card = read_card(args.card)
        steps = [step.id for step in card.steps]
        if args.step not in steps:
            raise BadInput("hear", "--step must be a step of the card: " + ", ".join(steps), args.step)
        asks_for_tool = isinstance(card.step(args.step).answer, ToolOf)
        return listen_for(card, args.step, today_of(tools_for(card, args.card)) if asks_for_tool else None)
    return ANSWERS[args.answer] if args.answer else phrases(args.phrases)


def phrases(text: str) -> Listen:
    """One rule a phrase, named by it. Raises BadInput if there is none."""
    wanted = dict.fromkeys(" ".join(part.lower().split()) for part in text.split("|"))
    wanted.pop("", None)
    if not wanted:
        raise BadInput("hear", "--phrases must name at least one phrase", repr(text))
    return Listen(tuple(Rule(phrase, Phrase(phrase), shown=phrase) for phrase in wanted))


def _report(name: str) -> dict[str, Any]:
    path, listen = _at_work
    try:
        heard = hear_file(path, listen, name)
    except BadInput as error:
        return {"file": name, "error": str(error), **_kept(_utterance(listen, NOTHING)), "utterances": []}
    utterances = [_utterance(listen, guess) for guess in heard]
    accepted = [utterance for utterance in utterances if utterance["accepted"]]
    first = (accepted or utterances or [_utterance(listen, NOTHING)])[0]
    return {"file": name, **_kept(first), "utterances": utterances}


def _kept(utterance: dict[str, Any]) -> dict[str, Any]:
    """What is told of the file as a whole."""
    return {key: value for key, value in utterance.items() if key not in ("start", "end", "alternatives")}


def hear_file(path: LivePath, listen: Listen, name: str) -> list[Guess]:
    """Every utterance of one file. Raises BadInput if it is no sound file."""
    source = FileSource(name)
    path.reset()
    path.listen(listen)
    try:
        guesses = path.feed(np.zeros(_BEFORE, np.float32))
        for chunk in source.chunks():
            guesses += path.feed(chunk)
        return guesses + path.finish()
    finally:
        source.close()


def _utterance(listen: Listen, guess: Guess) -> dict[str, Any]:
    found = {"text": said(listen, guess), "score": guess.score, "accepted": guess.accepted, "sure": guess.sure,
             "ms": guess.ms, "start": guess.start_s, "end": guess.end_s, "alternatives": guess.alternatives}
    if guess.reading is not None and guess.reading.get("number"):
        found |= {"value": guess.reading.get("number"), "unit": guess.reading.get("unit") or None}
    return found


def said(listen: Listen, guess: Guess) -> str:
    """What was heard in its plainest form: "log value 7.5 N·m", "P0204", or a phrase as it was given."""
    if guess.reading is None:
        return ""
    rule = next(rule for rule in listen.rules if rule.name == guess.reading.rule)
    slots = [text for _, text in guess.reading.slots if text]
    fixed = [phrase for phrase in _fixed(rule.expr) if not slots or guess.text.lower().startswith(phrase)]
    if slots:
        return " ".join([*fixed[:1], *slots])
    meant = (phrase for phrase in fixed if understand(Listen((Rule("", Phrase(phrase)),)), guess.text))
    return next(meant, guess.text.lower())


def _fixed(expr: Expr) -> list[str]:
    """The phrases of a rule that fill no slot."""
    if isinstance(expr, Phrase):
        return [expr.text]
    parts = {Sequence: "parts", Choice: "options"}.get(type(expr))
    inner = [expr.part] if isinstance(expr, Maybe) else getattr(expr, parts) if parts else []
    return [text for part in inner for text in _fixed(part)]
