"""Real SIGKILLs of a running `companion job`, on a real file system; nothing that it had acknowledged may be lost.

    python tests/kills.py [--kills N] [--seed S] [--folder DIR]

Each time the real program is started on a typed job, new or unfinished, is given lines as fast as it takes them, and is killed
at a random moment, in the middle of whatever it does. Then its log is read: every word that it had said must follow from an
entry that is there, and the next start must go on at the same step, with the clocks as they stood. A third of the starts run
on the real clock, with waits of seconds. Exit code 1 where anything is lost.
"""
from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent))

from companion.core import events as ev  # noqa: E402
from companion.core.log.chain import BadLine  # noqa: E402
from disk_job import Wrong, answer, must  # noqa: E402
from running_job import ASIDES, PATIENCE_S, Log, Program, plan, read, state, told  # noqa: E402
from simulator import EVERY_KIND  # noqa: E402

QUICK = (("lasts: 4 min", "lasts: 3 s"), ("lasts: 2 min", "lasts: 2 s"), ("lasts: 3 min", "lasts: 8 s"),
         ("every: 1 min, within: 20 s", "every: 4 s, within: 3 s"))
"""The card's clocks for the real clock."""


@dataclass
class Tally:
    """What came of the kills."""

    kills: int = 0
    resumed: int = 0
    acknowledged: int = 0
    """Entries whose words had been said before a kill, each once."""
    lost: int = 0
    torn: int = 0
    """Kills that left an unfinished last line."""
    more: int = 0
    """Entries in the log of which nothing had been said yet."""
    ended: int = 0
    """Jobs that came to their end, some killed just after it."""


class Life:
    """One job on one log, through all its kills."""

    def __init__(self, folder: Path, number: int, rng: Random, tally: Tally) -> None:
        self.rng, self.tally, self.simulated = rng, tally, number % 3 > 0
        self.path = folder / f"{number}.jsonl"
        self.card = folder / ("card.yaml" if self.simulated else "quick.yaml")
        self.log = Log()
        self.over = False

    def kill(self) -> None:
        """Start the program, kill it at some moment, and look what is on the disk."""
        before, program = self.log, Program(self.card, self.path, self.simulated)
        killed = self._work(program)
        if not killed:
            must(program.ended() == 0, f"a job that is not killed ends well: {program.errors[-300:]}")
        self.log = read(self.path)
        if before.entries and len(self.log.entries) > len(before.entries):
            self._must_have_gone_on(before)
        else:
            must(self.log.entries[:len(before.entries)] == before.entries, "nothing that was there is gone")
        self._must_hold_what_was_said(program.said, len(before.entries))
        self.over = any(isinstance(entry.event, ev.JobEnded) for entry in self.log.entries)
        must(self.over or killed, "a job that is not killed comes to its end")
        self.tally.kills += killed
        self.tally.ended += self.over
        self.tally.torn += bool(killed and self.log.torn)

    def _work(self, program: Program) -> bool:
        """Kill it after so many lines of its answers; False where it ended before."""
        last = self._talk(program) if self.simulated else self._converse(program)
        while len(program.printed) < last and program.hear(PATIENCE_S):
            pass
        if len(program.printed) < last and program.has_ended():
            return False
        moment = time.perf_counter() + self.rng.uniform(0, 0.004)
        while time.perf_counter() < moment:
            pass
        program.kill()
        return True

    def _talk(self, program: Program) -> int:
        """The whole plan at once, as fast as it takes it."""
        lines = plan(state(self.log.entries), self.rng)
        for line in lines:
            program.give(line if isinstance(line, str) else f"wait {line} s")
        return self.rng.randint(0, 2 * len(lines))

    def _converse(self, program: Program) -> int:
        """On the real clock each answer waits for its question; where the job stands is looked up in its log."""
        last = self.rng.randint(0, 40)
        if self.log.entries:
            program.give("affirm")
        program.hear(PATIENCE_S)
        while len(program.printed) < last and not program.has_ended(0):
            job = state(read(self.path).entries)
            line = answer(job) if job is not None and job.mode not in ("ended", "cautioning", "between") else 1
            if isinstance(line, str):
                program.give(self.rng.choice((line, line, *ASIDES)))
            program.hear(1.0)
        program.give(self.rng.choice(ASIDES))  # so that it is at work when it is killed
        return last

    def _must_hold_what_was_said(self, said: list[str], since: int) -> None:
        """Every word that was spoken follows from an entry that is in the log."""
        expected = list(told(self.log.entries, since))
        for (_, words), heard in zip(expected, said):
            must(words == heard, f"the log tells what was said: {heard!r} was, {words!r} stands there")
        known = expected[len(said) - 1][0] + 1 if 0 < len(said) <= len(expected) else since
        self.tally.acknowledged += known - since
        self.tally.more += len(self.log.entries) - known
        if len(said) > len(expected):
            self.tally.lost += len(said) - len(expected)
            raise Wrong(f"said, and not in the log: {said[len(expected):]}")

    def _must_have_gone_on(self, before: Log) -> None:
        """The real program took it up where it stood, and logged what was cut off."""
        count = len(before.entries)
        must(self.log.entries[:count] == before.entries, "every entry that was there before is there")
        back = self.log.entries[count].event
        must(isinstance(back, ev.JobResumed) and back.torn_bytes == before.torn, "what was cut off is logged")
        old, new = state(before.entries), state(self.log.entries[:count + 1])
        must(old.at == new.at, "it goes on at the same step")
        for name, clock in old.clocks.items():
            away = back.away_ms if clock.kind == "timer" else 0
            left = max(0, clock.left(old.last_up_ms) - away)
            must(new.clocks[name].left(new.last_up_ms) == left, f"clock {name} stands as it stood")
        begun = next((entry.event for entry in self.log.entries[count:] if isinstance(entry.event, ev.StepBegun)), None)
        must(begun is None or begun.step == old.at or not old.at, "the first step is the one it stood at")
        self.tally.resumed += 1


def run(kills: int, seed: int, folder: Path) -> Tally:
    """So many kills, one job after the other."""
    (folder / "card.yaml").write_text(EVERY_KIND, encoding="utf-8")
    quick = EVERY_KIND
    for slow, fast in QUICK:
        must(slow in quick, f"the card has {slow}")
        quick = quick.replace(slow, fast)
    (folder / "quick.yaml").write_text(quick, encoding="utf-8")
    rng, tally, life, lives = Random(seed), Tally(), None, 0
    os.environ["COMPANION_HOME"] = str(folder / "home")
    while tally.kills < kills:
        if life is None or life.over:
            lives += 1
            life = Life(folder, lives, rng, tally)
        try:
            life.kill()
        except (Wrong, BadLine) as wrong:
            raise Wrong(f"kill {tally.kills + 1}, log {life.path.name}: {wrong}") from wrong
    return tally


def main() -> int:
    """Print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where the logs lie: the file system under test (default: a temporary one)")
    args = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory(dir=args.folder) as folder:
        try:
            tally = run(args.kills, args.seed, Path(folder))
        except Wrong as wrong:
            print(wrong, file=sys.stderr)
            return 1
    for name, count in vars(tally).items():
        print(f"{name:14}{count:8}")
    print(f"{time.monotonic() - began:.0f} s, seed {args.seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
