"""A workshop with nobody in it: the real program at two null sinks, and a synthetic mechanic who speaks to it.

    with Workshop(tmp_path) as workshop, workshop.start("job", "learning", "--log", str(log)) as job:
        workshop.hear_out(job, "Unroll the tools")
        workshop.say("next")

All moments are seconds of the air's own clock (`Air.now`). Between a word's end there and the sight of the answer's
first sound lie some 0.1 s of the sound server's and the air's own buffers, beside what the program takes. Every wait is
for a condition, and fails with what was printed.
"""
from __future__ import annotations

import functools
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

import numpy as np
import soxr

from air import RATE, Air
from companion.edge.bench.ear.noises import diesel
from companion.edge.voice import mechanic_voice
from dictation import RATE as EAR_RATE
from dictation import written
from sound_server import SoundServer

ROOT = Path(__file__).parents[1]
SPEECH_OVER = 0.9
"""Seconds of silence after which the companion has said what it had to say. Within a speech it pauses for up to 0.4 s,
and for nearly a second where it took a noise for somebody who speaks."""
_SINKS = ("loudspeaker", "microphone")
_SHAPE = {"format": "float32le", "rate": RATE, "channels": 1, "channel_map": "mono", "norewinds": "true"}
"""Without rewinding a sink hands on what it is given within 50 ms, not 2 s."""


@dataclass(frozen=True)
class Line:
    """A line that the program printed."""

    second: float
    text: str


@dataclass(frozen=True)
class Saying:
    """When the mechanic spoke."""

    begin: float
    end: float


class Program:
    """`companion …` in a process of its own, without a terminal."""

    def __init__(self, arguments: tuple[str, ...], extra: dict[str, str], now: Callable[[], float],
                 module: str = "companion") -> None:
        self._now = now
        self.lines: list[Line] = []
        self._open = 2
        self._change = threading.Condition()
        self._process = subprocess.Popen(
            [sys.executable, "-m", module, *arguments], cwd=ROOT, env=os.environ | extra, text=True, bufsize=1,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self._readers = [threading.Thread(target=self._read, args=(pipe,), daemon=True)
                         for pipe in (self._process.stdout, self._process.stderr)]
        for reader in self._readers:
            reader.start()

    def __enter__(self) -> "Program":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._process.pid

    def wait_for(self, words: str, after: float = 0.0, seconds: float = 20.0) -> Line:
        """The first line with `words` printed since `after`; waits for it."""
        if not self.printed_within(words, after, seconds):
            raise AssertionError(f"{words!r} was not printed after {after:.1f} s within {seconds} s:\n{self.printed}")
        return self._found(words, after)

    def printed_within(self, words: str, after: float, seconds: float) -> bool:
        """Whether a line with `words` has been printed since `after`, or is within so many seconds."""
        with self._change:
            self._change.wait_for(lambda: self._found(words, after) or not self._open, seconds)
        return self._found(words, after) is not None

    def ended(self, seconds: float = 30.0) -> int:
        """Waits for its end; the exit code."""
        code = self._process.wait(seconds)
        for reader in self._readers:
            reader.join(5)
        return code

    @property
    def printed(self) -> str:
        """All lines so far, with their seconds; without those of the sound library, of which there are hundreds."""
        return "\n".join(f"{line.second:7.2f}  {line.text}" for line in list(self.lines) if "ALSA" not in line.text)

    def close(self) -> None:
        """Ends it, if it has not ended."""
        if self._process.poll() is None:
            self._process.kill()
        self.ended()
        self._process.stdout.close()
        self._process.stderr.close()

    def _found(self, words: str, after: float) -> Line | None:
        return next((line for line in list(self.lines) if line.second >= after and words in line.text), None)

    def _read(self, pipe: TextIO) -> None:
        for text in pipe:
            with self._change:
                self.lines.append(Line(self._now(), text.rstrip("\n")))
                self._change.notify_all()
        with self._change:
            self._open -= 1
            self._change.notify_all()


def engine() -> np.ndarray:
    """An idling diesel at 48 kHz."""
    return soxr.resample(diesel(), EAR_RATE, RATE).astype(np.float32)


class Workshop:
    """Two null sinks of a sound server of its own, the air between them, and the programs started there.

    `home` is the device's folder (key, jobs). The rest is as for `Air`.
    """

    def __init__(self, home: Path, echo_db: float = -10.0, noise: np.ndarray | None = None,
                 snr_db: float = 20.0, keep_s: float = 600.0) -> None:
        self._server, self._modules = SoundServer(), []
        self.air = Air(*_SINKS, self._server.env, echo_db, noise, snr_db, keep_s)
        self._env = self._server.env | {"COMPANION_HOME": str(home), "PULSE_SINK": _SINKS[0],
                                        "PULSE_SOURCE": f"{_SINKS[1]}.monitor", "PYTHONUNBUFFERED": "1"}
        self._programs: list[Program] = []
        self.module = "companion"
        """What is started: the program, or a module of the tests that starts it."""

    def __enter__(self) -> "Workshop":
        try:
            self.plug_in()
        except BaseException:
            self._server.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        for program in self._programs:
            program.close()
        if self._modules:
            self.unplug()
        self._server.close()

    def plug_in(self) -> None:
        """Loudspeaker and microphone are there."""
        self._modules = [self._server.load("module-null-sink", sink_name=name, **_SHAPE) for name in _SINKS]
        self.air.open()

    def unplug(self) -> None:
        """Loudspeaker and microphone are gone."""
        self.air.close()
        for module in self._modules:
            self._server.unload(module)
        self._modules = []

    def restart_server(self) -> None:
        """The sound server crashes and comes back, and with it the devices."""
        self.air.close()
        self._server.restart()
        self.plug_in()

    def start(self, *arguments: str, **extra: str) -> Program:
        """Runs `companion` with these arguments and environment; ended with the workshop at the latest."""
        self._programs.append(Program(arguments, self._env | extra, lambda: self.air.now, self.module))
        return self._programs[-1]

    def say(self, text: str) -> Saying:
        """The mechanic says `text` now; returns when it has sounded."""
        sound = voiced(text)
        begin = self.air.talk(sound)
        end = begin + len(sound) / RATE
        self._must(lambda: self.air.now >= end, len(sound) / RATE + 10, f"end of saying {text!r}")
        return Saying(begin, end)

    def interrupt(self, text: str, after: float, into: float = 1.0) -> Saying:
        """Says `text` once the companion has been speaking for `into` seconds since `after`."""
        voiced(text)  # rendered before it is needed
        self.wait_for_speech(after, into)
        return self.say(text)

    def wait_for_speech(self, after: float, into: float) -> None:
        """Waits until the companion's first sound since `after` is `into` seconds old."""
        self._must(lambda: (begun := self.air.first_sound(after)) is not None and self.air.now >= begun + into,
                   20, "word from the companion")

    def hear_out(self, program: Program, words: str, after: float = 0.0, seconds: float = 20.0) -> Line:
        """Waits until the program has printed `words`, has spoken since, and has been silent for a while."""
        line = program.wait_for(words, after, seconds)
        self._must(lambda: self._silent_since(line.second), 60, f"end of {line.text!r}\n{program.printed}")
        return line

    def said(self, begin: float, end: float | None = None) -> str:
        """What the companion was heard to say between two seconds, as the recogniser writes it."""
        sound = self.air.played(begin, self.air.now if end is None else end)
        return written(soxr.resample(sound, RATE, EAR_RATE).astype(np.float32))

    def _silent_since(self, second: float) -> bool:
        """Whether the companion has spoken since `second` and has nothing more to say."""
        last = self.air.last_sound(second)
        return last is not None and self.air.now >= last + SPEECH_OVER

    def _must(self, until: Callable[[], bool], seconds: float, what: str) -> None:
        if not self.air.wait(until, seconds):
            raise AssertionError(f"at {self.air.now:.1f} s, after {seconds:.0f} s, still no {what}")


@functools.lru_cache(maxsize=64)
def voiced(text: str) -> np.ndarray:
    """The mechanic's voice at 48 kHz."""
    voice = mechanic_voice()
    return soxr.resample(voice.render(text), voice.rate, RATE).astype(np.float32)
