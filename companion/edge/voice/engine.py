"""The helper process of the system's voice: reads requests as lines of JSON, writes sound files, answers in JSON.

Run as a script by `system.SystemVoice`; imports nothing of the companion. A request is {"text", "rate", "path"}, an
answer {} or {"fault"}; the first line it writes is {"voice"} or {"fault"}.
"""
from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable

# espeak-ng, its own silences cut and ours put in, speaks faster than asked (measured over two paragraphs).
ESPEAK_FACTOR = 0.82


def main() -> None:
    """Serves until standard input ends. Whatever an engine prints is kept away from the answers."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the job
    sys.path.pop(0)  # this script's own folder, whose modules would hide others
    serve(lambda **fields: print(json.dumps(fields), file=answers, flush=True))


def serve(answer: Callable[..., None]) -> None:
    """Tells which voice it has, then renders each request that standard input brings."""
    try:
        engine = Espeak() if sys.platform not in ("win32", "darwin") else Engine()
        answer(voice=engine.choose_english())
    except Exception as fault:  # each system's driver raises its own kinds
        answer(fault=f"no engine: {fault!r}")
        return
    for line in sys.stdin:
        try:
            engine.render(**json.loads(line))
            answer()
        except Exception as fault:
            answer(fault=repr(fault))


class Engine:
    """`pyttsx3` as it is meant to be used. It writes only the last of several files asked for in one run: one a run."""

    def __init__(self) -> None:
        import pyttsx3

        self._engine = pyttsx3.init()

    def choose_english(self) -> str:
        """Takes the usual voice if it speaks English, else the first that does; its name. Raises LookupError."""
        usual = self._engine.getProperty("voice")
        english = [voice for voice in self._engine.getProperty("voices") if is_english(voice)]
        if not english:
            raise LookupError("no English voice")
        chosen = next((voice for voice in english if voice.id == usual), english[0])
        self._engine.setProperty("voice", chosen.id)
        return str(chosen.name)

    def render(self, text: str, rate: float, path: str) -> None:
        """Writes `text`, spoken at `rate` words a minute, to `path`."""
        self._engine.setProperty("rate", round(rate))
        self._engine.save_to_file(text, path)
        self._engine.runAndWait()


class Espeak(Engine):
    """`pyttsx3`'s espeak driver without the engine around it.

    The engine ends each run by a cancel that may hit the next: some files came out empty (24 of 900), and a new rate
    took effect many sentences late. The driver by itself got 1,800 of 1,800 right.
    """

    def __init__(self) -> None:
        from pyttsx3.drivers import espeak

        self._engine = espeak.buildDriver(_Nobody())

    def render(self, text: str, rate: float, path: str) -> None:
        """See `Engine`."""
        self._engine.setProperty("rate", round(rate * ESPEAK_FACTOR))
        self._engine.save_to_file(text, path)
        self._engine.startLoop()


class _Nobody:
    """Takes the driver's notifications."""

    def setBusy(self, busy: bool) -> None:  # noqa: N802 (the driver's name for it)
        pass

    def notify(self, topic: str, **more: object) -> None:
        pass


def is_english(voice) -> bool:  # type: ignore[no-untyped-def]
    """Whether a voice speaks English, from what its driver says of its languages or, failing that, its name."""
    languages = [language.decode("ascii", "ignore") if isinstance(language, bytes) else str(language)
                 for language in voice.languages or []]
    if languages:
        return any(language.strip("\x00\x02\x05").lower().startswith("en") for language in languages)
    return "english" in f"{voice.name} {voice.id}".lower()


if __name__ == "__main__":
    main()
