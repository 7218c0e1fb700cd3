"""The system's own voice through `pyttsx3`, rendered to samples by a helper process.

A system engine may print, hang or crash. In a process of its own it can do none of that to a job: what it prints goes
nowhere, and after a time limit it is ended and the built-in voice takes over, which is said aloud (`steady`).
"""
from __future__ import annotations

import json
import queue
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import numpy as np
import soundfile
import soxr

from companion.edge.voice.base import RATE, spoken
from companion.edge.voice.wording import for_voice, sentences
from companion.errors import BrokenMachine

_WORDS_A_MINUTE = {"prose": 160, "number": 130}
_START_LIMIT = 10.0
_LIMIT_PER_CHARACTER = 0.05


class SystemVoice:
    """The system's English voice. Raises BrokenMachine where there is none; so does `render` when it fails or hangs."""

    rate = RATE

    def __init__(self, speed: float = 1.0, command: list[str] | None = None, patience: float = 3.0) -> None:
        """`command` starts the helper (the engine module beside this one); a sentence may take `patience` seconds."""
        self._factor, self._patience = speed, patience
        self._folder = tempfile.TemporaryDirectory(prefix="companion-voice-")
        self._command = command or [sys.executable, str(Path(__file__).with_name("engine.py"))]
        self.name = f"system ({self._start()})"

    def render(self, text: str, pace: str = "prose", speed: float = 1.0) -> np.ndarray:
        """See `Voice.render`."""
        rate = _WORDS_A_MINUTE[pace] * self._factor * speed
        return spoken(sentences(for_voice(text)), pace, lambda part: self._sound(part, rate))

    def close(self) -> None:
        """Ends the helper."""
        self._engine.end()
        self._folder.cleanup()

    def _start(self) -> str:
        self._engine = _Helper(self._command)
        try:
            return self._engine.ask(None, _START_LIMIT)["voice"]
        except BrokenMachine:
            self._engine.end()
            raise

    def _sound(self, sentence: str, rate: float) -> np.ndarray:
        """Raw samples. An engine that gives too little may hold the rest back for next time: it starts afresh."""
        sound = self._ask(sentence, rate)
        if _plausible(sound, sentence):
            return sound
        self._engine.end()
        self._start()
        sound = self._ask(sentence, rate)
        if not _plausible(sound, sentence):
            raise _broken(f"must speak {len(sentence)} characters", f"{len(sound) / RATE:.1f} s of sound")
        return sound

    def _ask(self, sentence: str, words_a_minute: float) -> np.ndarray:
        path = Path(self._folder.name) / "speech.wav"
        request = {"text": sentence, "rate": words_a_minute, "path": str(path)}
        self._engine.ask(request, self._patience + _LIMIT_PER_CHARACTER * len(sentence))
        try:
            samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
            path.unlink()
        except (OSError, soundfile.LibsndfileError) as fault:
            raise _broken("must write the sound it was asked for", str(fault)) from fault
        mono = samples.mean(1)
        return mono if rate == RATE else soxr.resample(mono, rate, RATE)


class _Helper:
    """A child that answers each line of JSON with a line of JSON."""

    def __init__(self, command: list[str]) -> None:
        try:
            self._child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                           stderr=subprocess.DEVNULL, text=True, encoding="utf-8")
        except OSError as fault:
            raise _broken("must start", str(fault)) from fault
        self._answers: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._listen, name="system voice", daemon=True).start()

    def ask(self, request: dict[str, object] | None, limit: float) -> dict[str, str]:
        """The answer to `request` (None: only wait for the next answer) within `limit` seconds, or BrokenMachine."""
        try:
            if request is not None and self._child.stdin:
                self._child.stdin.write(json.dumps(request) + "\n")
                self._child.stdin.flush()
            answer = json.loads(self._answers.get(timeout=limit))
        except (OSError, ValueError, queue.Empty) as fault:
            self.end()
            found = f"no answer in {limit:.0f} s" if isinstance(fault, queue.Empty) else "gone"
            raise _broken("must answer", found) from fault
        if "fault" in answer:
            raise _broken("must speak English", answer["fault"])
        return answer

    def end(self) -> None:
        """Ends the child, whatever it is doing."""
        self._child.kill()
        self._child.wait()
        if self._child.stdin:
            try:
                self._child.stdin.close()
            except OSError:  # the line it never read
                pass

    def _listen(self) -> None:
        assert self._child.stdout
        with self._child.stdout as lines:
            for line in lines:
                self._answers.put(line)
        self._answers.put("")


def _plausible(sound: np.ndarray, sentence: str) -> bool:
    """Whether the sound can be the sentence: from a third to three times the house rate, 0.025 to 0.25 s a letter."""
    letters = sum(c.isalnum() for c in sentence)
    return bool(np.any(sound)) and 0.025 * letters < len(sound) / RATE < 3 + 0.25 * letters


def _broken(must: str, found: str) -> BrokenMachine:
    return BrokenMachine("system voice", must, found, "Use the built-in voice, or install one (on Linux: espeak-ng)")
