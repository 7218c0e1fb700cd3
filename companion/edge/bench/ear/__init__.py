"""`companion bench ear`: how well ears hear, side by side, in noise; recordings from a manifest or synthetic voices."""
from __future__ import annotations

import argparse
import json
import shutil
import sys
from pathlib import Path
from typing import Any

from companion.errors import BadInput, BrokenMachine

SNRS = "clean,20,10,5,0,-5"
COUNT = 20
_SOUNDS = (".wav", ".flac")
_TYPES = {"FILE": Path, "FOLDER": Path, "N": int}
_OPTIONS = {
    "--manifest": ("FILE", None, "recordings, tab-separated: file, set, said; without it, synthetic voices"),
    "--noise": ("FOLDER", None, "sound files to mix in; without it, the manifest's noises, else generated ones"),
    "--sets": ("SETS", None, "only these, parted by commas; \"noise\" stands for noise alone"),
    "--count": ("N", COUNT, f"utterances a set and ratio, and pieces of noise; 0: all (default: {COUNT})"),
    "--snr": ("LIST", SNRS, f"speech above noise in dB (default: --snr={SNRS})"),
    "--ears": ("LIST", "embedded,free,pocketsphinx,vosk", "the first is judged (default: %(default)s)"),
    "--out": ("FOLDER", None, "write ear.json, accuracy.png and errors.png there"),
    "--processes": ("N", None, "share the hearing out to so many (default: one a core)"),
}
"""Option to how its value is called, its default, and what it is for."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options of the part "ear"."""
    group = parser.add_argument_group("ear", "which ears hear what, in which noise")
    for name, (shown, default, text) in _OPTIONS.items():
        group.add_argument(name, metavar=shown, default=default, help=text, type=_TYPES.get(shown, str))
    group.add_argument("--live", action="append", default=[], metavar="SET=PHRASES",
                       help="what is live for a set: phrases parted by |, or number, spelling, yes-no, commands; what "
                       "else the set says must not be accepted")
    group.add_argument("--foreign", action="append", metavar="SET", help="speech that is not for the program, heard at "
                       "steps of the shipped cards (default: chatter)")


def measure(args: argparse.Namespace, machine: str, date: str) -> tuple[dict[str, Any], list[str], bool]:
    """The figures, the table, and whether every goal is reached.

    Raises BadInput for wrong use, BrokenMachine where a part is missing.
    """
    from companion.edge.bench.ear import trials
    from companion.edge.bench.ear.ears import available
    from companion.edge.bench.ear.timing import as_json, timed

    snrs = ratios(args.snr)
    if args.count < 0 or (args.processes is not None and args.processes < 1):
        raise BadInput("bench ear", "--count must be at least 0 and --processes at least 1")
    ears = available([name.strip() for name in args.ears.split(",") if name.strip()], notice)
    if not ears:
        raise BadInput("--ears", "must name an ear that is installed here", args.ears)
    utterances, noises = material(args)
    pieces = 0 if args.sets and "noise" not in _names(args.sets) else args.count or len(noises)
    plan = trials.planned(utterances, noises, snrs, pieces)
    outcomes = trials.run(plan, ears, args.processes or trials.cores(), notice)
    timing = {ear: as_json(cell) for ear, cell in timed(plan, ears).items()}
    found = {"machine": machine, "date": date, **_figures(outcomes, timing, utterances, ears, snrs)}
    return _written(found, outcomes, args.out)


def _figures(outcomes: list, timing: dict, utterances: list, ears: list[str], snrs: list) -> dict[str, Any]:
    from companion.edge.bench.ear.figures import figures
    from companion.edge.bench.ear.goals import judged, row_of

    conditions = ["clean" if snr is None else f"{snr:g} dB" for snr in snrs]
    found = {"ears": ears, "judged": ears[0], "conditions": conditions, **figures(outcomes), "timing": timing}
    alike = {each.set: row_of(each.set, each.listen) for each in utterances if each.meant and each.listen}
    goals = judged(found, ears[0], alike)
    return {**found, "goals": [{"what": goal.what, "found": goal.found, "must": goal.must, "least": goal.least,
                                "reached": goal.reached} for goal in goals]}


def _written(found: dict[str, Any], outcomes: list, folder: Path | None) -> tuple[dict[str, Any], list[str], bool]:
    """Writes the files where they are wanted; the raw outcomes go only there."""
    from companion.edge.bench.ear.outcomes import COLUMNS
    from companion.edge.bench.ear.plots import draw
    from companion.edge.bench.ear.table import table

    if folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            raw = {**found, "columns": COLUMNS, "outcomes": [outcome.as_json() for outcome in outcomes]}
            (folder / "ear.json").write_text(json.dumps(raw, ensure_ascii=False), encoding="utf-8")
        except OSError as fault:
            raise BadInput("--out", f"must be a folder that can be written, {folder}", str(fault)) from fault
        try:
            draw(found, folder)
        except BrokenMachine as fault:
            notice(str(fault))
    return found, table(found), all(goal["reached"] for goal in found["goals"])


def ratios(text: str) -> list[float | None]:
    """"clean,10,-5" to [None, 10.0, −5.0]. Raises BadInput for anything else."""
    found: list[float | None] = []
    for part in _names(text):
        try:
            found.append(None if part == "clean" else float(part))
        except ValueError:
            raise BadInput("--snr", 'must be decibels or "clean", parted by commas', repr(part)) from None
        if found[-1] is not None and not -60 <= found[-1] <= 100:
            raise BadInput("--snr", "must lie between −60 and 100 dB", part)
    if not found:
        raise BadInput("--snr", "must name at least one ratio", repr(text))
    return list(dict.fromkeys(found))


def material(args: argparse.Namespace) -> tuple[list, list[str]]:
    """What is said, and the noises. Raises BadInput where an option or the manifest is wrong."""
    from companion.edge.bench.ear.noises import NOISES
    from companion.edge.bench.ear.sets import sample, synthetic

    if args.manifest is not None:
        found, files = _recorded(args)
    else:
        if args.live or args.foreign:
            raise BadInput("bench ear", "--live and --foreign go with --manifest", "synthetic voices")
        if shutil.which("espeak-ng") is None:
            notice("espeak-ng's accents are left out: the program is not installed (Linux: apt-get install espeak-ng)")
        found, files = synthetic(args.count or COUNT), []
        wanted = wanted_sets(args, [each.set for each in found])
        found = [each for each in found if each.set in wanted]
    by_set: dict[str, list] = {}
    for utterance in found:
        by_set.setdefault(utterance.set, []).append(utterance)
    noises = [str(path) for path in (noise_folder(args.noise) if args.noise else files)] or list(NOISES)
    return [each for said in by_set.values() for each in sample(said, args.count or len(said))], noises


def _recorded(args: argparse.Namespace) -> tuple[list, list[Path]]:
    """The recordings of the sets that are wanted, and all of the manifest's noises."""
    from companion.edge.bench.ear import manifest

    rows = manifest.read_manifest(args.manifest)
    files = manifest.noise_files(rows)
    wanted = wanted_sets(args, [row.set for row in rows])
    rows = [row for row in rows if row.set in wanted]
    foreign = args.foreign if args.foreign is not None else [row.set for row in rows if row.set == "chatter"][:1]
    return manifest.recordings(rows, manifest.live_phrases(args.live), foreign, notice), files


def wanted_sets(args: argparse.Namespace, there: list[str]) -> list[str]:
    """Those of --sets, or all. Raises BadInput for one that is not there."""
    names = _names(args.sets) if args.sets else list(dict.fromkeys(there))
    for name in names:
        if name not in there and name != "noise":
            raise BadInput("--sets", "must name sets there are: " + ", ".join(dict.fromkeys([*there, "noise"])), name)
    return names


def noise_folder(folder: Path) -> list[Path]:
    """Every sound file in it. Raises BadInput where there is none."""
    found = sorted(path for path in folder.rglob("*") if path.suffix.lower() in _SOUNDS)
    if not found:
        raise BadInput("--noise", "must be a folder with sound files (.wav, .flac)", str(folder))
    return found


def _names(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def notice(text: str) -> None:
    """A line on standard error."""
    print(f"companion: {text}", file=sys.stderr)
