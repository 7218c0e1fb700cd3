"""`companion demo`: a whole job by voice. A synthetic mechanic works the injector card; the real ear hears the samples.

With `--jobs` it makes many jobs without sound instead: see `fleet`."""
from __future__ import annotations

import argparse
import sys
import time
from contextlib import closing
from datetime import datetime
from importlib.resources import files
from pathlib import Path

from companion.core.job.inputs import LoneTerms, Opened
from companion.core.log.journal import public_hex
from companion.edge.cards import read_card
from companion.edge.clock import SimulatedClock
from companion.edge.device import device_key
from companion.edge.ear import LivePath, load_ear
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion
from companion.edge.simulation import Simulation
from companion.edge.mechanic import Exchange, Mechanic
from companion.edge.mouth import PrintedMouth, SimulatedMouth
from companion.edge.opening import opened, tools_for
from companion.edge.player import Player
from companion.edge.sound import NullSink, Sink, SpeakerSink
from companion.edge.voice import load_voice, mechanic_voice
from companion.errors import BadInput, BrokenMachine
from companion.office.fleet.command import make
from companion.office.record import write_record
from companion.terminal import clean

CARD = "common-rail-injector"
MOST_JOBS = 99_999
"""A job's number has five places in its name."""
#: Seconds of the job that are played aloud; the rest goes on in silence, so that the demo ends within three minutes.
ALOUD = 60.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `companion demo`."""
    parser.epilog = "examples: companion demo --out demo-job --quiet; companion demo --jobs 200 --out year"
    parser.add_argument("--out", type=Path, metavar="FOLDER", help="where the log and its record go (default: a new folder)")
    parser.add_argument("--quiet", action="store_true", help="play nothing")
    parser.add_argument("--jobs", type=int, metavar="N",
                        help="make so many invented jobs without sound, some with something for a supervisor to find")
    parser.add_argument("--seed", type=int, metavar="S",
                        help="with --jobs: the same number makes the same jobs (default: 1)")


def run(args: argparse.Namespace) -> int:
    """0: the job ran to its closing seal and every line was accepted from sound, or the jobs were made; 1: not so."""
    if args.jobs is not None and not 1 <= args.jobs <= MOST_JOBS:
        raise BadInput("--jobs", f"must be 1 to {MOST_JOBS}", str(args.jobs))
    if args.jobs is None and args.seed is not None:
        raise BadInput("--seed", "goes with --jobs")
    folder = _folder(args.out)
    if args.jobs is None:
        return _by_voice(folder, args.quiet)
    return make(folder, args.jobs, 1 if args.seed is None else args.seed)


def _by_voice(folder: Path, quiet: bool) -> int:
    began = time.monotonic()
    clock = SimulatedClock()
    simulation = Simulation(clock)
    voice, sink = load_voice("builtin"), _sink(quiet)
    with closing(Player(voice, sink)) as player, LogFile.create(folder / f"{CARD}.jsonl", device_key()) as log:
        mouth = SimulatedMouth(player, clock, simulation.report, PrintedMouth(lambda tag: None))
        simulation.companion = Companion(log, clock, mouth)
        mechanic = Mechanic(mechanic_voice(), LivePath(load_ear("embedded")), simulation, clock, sink,
                            about_to=lambda line: print(f"mechanic:  {line}", flush=True))
        simulation.take(_opened(mechanic.path.ear.name, voice.name))
        exchanges = []
        for exchange in mechanic.work(_script()):
            exchanges.append(exchange)
            if not exchange.accepted or exchange.asked_back:
                print(f"           ({_made_of(exchange)})", flush=True)
        finished = simulation.companion.job.done
    page = write_record(folder / f"{CARD}.jsonl")
    return _judge(exchanges, finished, folder, page, time.monotonic() - began)


def _folder(wanted: Path | None) -> Path:
    folder = wanted or Path(f"companion-demo-{datetime.now():%Y%m%d-%H%M%S}")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(ascii(str(folder))[1:-1], f"must be a folder that can be written: {error.strerror}",
                       do="Name another one with --out") from None
    if list(folder.glob("*.jsonl")):
        raise BadInput(str(folder), "must hold no log yet", do="Name another folder with --out")
    return folder


def _opened(ear: str, voice: str) -> Opened:
    card = read_card(CARD)
    return opened(card, tools_for(card, CARD), boot="simulated demo", key=public_hex(device_key()), ear=ear, voice=voice,
                  lone=LoneTerms())


def _script() -> list[str]:
    return files("companion.office").joinpath("demo.txt").read_text(encoding="utf-8").splitlines()


def _made_of(exchange: Exchange) -> str:
    """What the ear made of a line, for the printed conversation."""
    if not exchange.accepted:
        return f"not accepted: heard {exchange.heard or 'nothing'}, score {exchange.score:.2f}"
    return f"asked back, score {exchange.score:.2f}"


def _judge(exchanges: list[Exchange], finished: bool, folder: Path, page: Path, seconds: float) -> int:
    """A line said again and then accepted was accepted; the last one of a job that stopped was not."""
    again = sum(not exchange.accepted for exchange in exchanges)
    asked = sum(exchange.asked_back for exchange in exchanges)
    print(f"\n{len(exchanges)} sayings, {len(exchanges) - again} accepted from sound, {asked} of them after asking back, "
          f"in {seconds:.0f} seconds.\nlog:    {clean(str(folder / CARD))}.jsonl\nrecord: {clean(str(page))}")
    if not finished:
        line = exchanges[-1].line if exchanges else ""
        print(f"companion: the job did not reach its end; last said: {line!r}", file=sys.stderr)
    return 0 if finished else 1


class Aloud:
    """A sink that plays the first `seconds` on the loudspeaker and then nothing; both voices share it."""

    def __init__(self, seconds: float) -> None:
        self._sink: Sink = SpeakerSink()
        self.rate = self._sink.rate
        self._left = int(seconds * self.rate)

    def write(self, samples) -> None:
        """See `Sink`."""
        if self._left > 0:
            self._sink.write(samples)
            self._left -= len(samples)
            if self._left <= 0:
                print("(the rest goes on without sound)", flush=True)

    def drain(self, stopped) -> None:
        """See `Sink`."""
        if self._left > 0:
            self._sink.drain(stopped)

    def drop(self) -> int:
        """See `Sink`."""
        return self._sink.drop()

    def close(self) -> None:
        """See `Sink`."""
        self._sink.close()


def _sink(quiet: bool) -> Sink:
    if quiet:
        return NullSink()
    try:
        return Aloud(ALOUD)
    except BrokenMachine as error:
        print(f"companion: {clean(str(error))}\ncompanion: playing nothing", file=sys.stderr)
        return NullSink()
