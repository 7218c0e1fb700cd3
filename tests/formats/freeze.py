"""Freeze logs as this version of the program writes them: `python tests/formats/freeze.py NAME`. See README.md here.

Works the golden sessions with the program's own command, and lets that program write down what its logs say. Needs no
microphone. Exit code 0: frozen; 1: the program did not do what it should; 2: wrong use.
"""
from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Iterator, Optional, Sequence

HERE = Path(__file__).resolve().parent
KEY = HERE / "device.key"
MECHANIC = "Ann Example"
WHOLE = {"learning": "learning", "wheels": "road-wheels", "injector": "injector-clean"}
CARDS = {"learning": "learning", "wheels": "road-wheels", "injector": "common-rail-injector"}
TORN_BYTES = 100
"""Cut off the end of a log, in the middle of a line, as a power cut may."""
NOTE = "The return line is cracked."
SPEAK = f"""
import sys, numpy as np, soundfile, soxr
from companion.edge.voice import mechanic_voice
voice, said = mechanic_voice(), [np.zeros(16000, np.float32)]
for text, pause in (("memo", 1.5), ({NOTE!r}, 4.0), ("next", 1.5), ("four", 1.5), ("stop job", 1.5), ("affirm", 1.5),
                    ("affirm", 1.5)):
    said += [soxr.resample(voice.render(text), voice.rate, 16000), np.zeros(int(pause * 16000), np.float32)]
soundfile.write(sys.argv[1], np.concatenate(said), 16000)
"""


class Program:
    """The version of the program that lies in a tree, with a home of its own that holds the key for tests."""

    def __init__(self, tree: Path, home: Path) -> None:
        self.tree, self._home = tree, home
        home.mkdir(mode=0o700)
        shutil.copyfile(KEY, home / KEY.name)
        (home / KEY.name).chmod(0o600)

    def python(self, *args: str, lines: Sequence[str] = (), codes: Sequence[int] = (0,)) -> str:
        """Run Python on that tree; what it printed."""
        environment = {**os.environ, "PYTHONPATH": str(self.tree), "COMPANION_HOME": str(self._home), "PYTHONUTF8": "1"}
        done = subprocess.run([sys.executable, *args], input="".join(line + "\n" for line in lines), text=True,
                              capture_output=True, env=environment, cwd=self._home, timeout=300)
        if done.returncode not in codes:
            raise SystemExit(f"freeze: {' '.join(args[:3])} ended with {done.returncode}: {done.stderr[-500:]}")
        return done.stdout

    def job(self, card: str, log: Path, lines: Sequence[str], *more: str, codes: Sequence[int] = (0,)) -> None:
        """Work a card by typed lines on the simulated clock."""
        self.python("-m", "companion", "job", str(self.tree / "checklists" / f"{card}.yaml"), "--typed", "--clock",
                    "simulated", "--voice", "none", "--log", str(log), *more, lines=lines, codes=codes)

    def session(self, name: str) -> list[str]:
        """The lines of that version's own golden session."""
        return (self.tree / "tests" / "sessions" / f"{name}.txt").read_text("utf-8").splitlines()


def freeze(program: Program, folder: Path, whole: Sequence[str]) -> None:
    """Write the logs of one version into `folder`, and what they say."""
    folder.mkdir()
    for name in whole:
        program.job(CARDS[name], folder / f"{name}.jsonl", program.session(WHOLE[name]), "--mechanic", MECHANIC)
    first = program.session("learning")[:6] + ["wait 5 s"]  # the wait has ten seconds left
    program.job("learning", folder / "unfinished.jsonl", first, "--mechanic", MECHANIC, codes=(1,))
    program.job("learning", folder / "resumed.jsonl", first, codes=(1,))
    again = ["affirm", "taking over", "alfa bravo", "affirm", "affirm", "light turned away", "wait 15 s", "bright"]
    program.job("learning", folder / "resumed.jsonl", again)
    program.job("learning", folder / "torn.jsonl", first, codes=(1,))
    log = folder / "torn.jsonl"
    log.write_bytes(log.read_bytes()[:-TORN_BYTES])
    if (program.tree / "companion" / "edge" / "live" / "memo.py").exists():
        _spoken(program, folder / "spoken.jsonl")
    _written_down(program, folder)


def _spoken(program: Program, log: Path) -> None:
    """A job by sound, with a memo; of a version that keeps evidence clips, with these."""
    said = log.with_suffix(".wav")
    program.python("-c", SPEAK, str(said))
    clips = ["--keep-clips"] if "--keep-clips" in program.python("-m", "companion", "job", "--help") else []
    program.python("-m", "companion", "job", str(program.tree / "checklists" / "learning.yaml"), "--clock", "simulated",
                   "--sound-in", str(said), "--ear", "embedded", "--voice", "builtin", "--log", str(log), *clips)
    said.unlink()


def _written_down(program: Program, folder: Path) -> None:
    told = json.loads(program.python(str(HERE / "state.py"), str(folder)))
    for name in ("logs", "vocabulary"):
        text = json.dumps(told[name], indent=1, ensure_ascii=False, sort_keys=True)
        (folder / f"{name}.json").write_text(text + "\n", "utf-8")


def main(argv: Optional[Sequence[str]] = None) -> int:
    """Freeze; see the module."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("name", metavar="NAME", help="a new folder's name, such as 0.2.0")
    parser.add_argument("--tree", type=Path, default=HERE.parent.parent, help="the program's source (default: this one)")
    parser.add_argument("--whole", nargs="*", default=list(WHOLE), choices=list(WHOLE), help="whole jobs to freeze")
    args = parser.parse_args(argv)
    folder = HERE / args.name
    if folder.exists() or folder.parent != HERE:
        parser.error(f"{args.name}: must be a new folder's name; what is frozen is never written anew")
    with tempfile.TemporaryDirectory(prefix="companion-freeze-") as scratch:
        made = Path(scratch) / "logs"
        freeze(Program(args.tree.resolve(), Path(scratch) / "home"), made, args.whole)
        shutil.copytree(made, folder)
    size = sum(path.stat().st_size for path in folder.iterdir())
    print(f"frozen: {folder.name}, {size // 1024} kB. For README.md:\n")
    print("\n".join(_rows(folder)))
    return 0


def _rows(folder: Path) -> Iterator[str]:
    """Of README's two tables."""
    yield f"| `{folder.name}` | COMMIT, DAY | what is new in the log |\n"
    for log, told in json.loads((folder / "logs.json").read_text("utf-8")).items():
        state = told["state"]
        yield (f"| {folder.name}/{log.removesuffix('.jsonl')} | {told['entries']} | {told['closing_seal'] or '—'} | "
               f"{state['mode']}, {state['step']} | {len(state['answers'])}, {len(told['values'])}, {len(state['clocks'])} |")


if __name__ == "__main__":
    sys.exit(main())
