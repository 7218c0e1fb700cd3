"""The helper process of the system's voice: reads requests as lines of JSON, writes sound files, answers in JSON.

Run as a script by `system.SystemVoice`; imports nothing of the companion. A request is {"text", "rate", "path"}, an
answer {} or {"fault"}; the first line it writes is {"voice"} or {"fault"}. `pyttsx3` writes only the last of several
files asked for in one run, so each request is one run.
"""
from __future__ import annotations

import json
import os
import sys


# espeak-ng, its own silences cut, speaks faster than asked: 120 comes out at 153 words a minute over two paragraphs.
ESPEAK_FACTOR = 0.77


def main() -> None:
    """Serves until standard input ends. Whatever an engine prints is kept away from the answers."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    sys.path.pop(0)  # this script's own folder, whose modules would hide others

    def answer(**fields: str) -> None:
        answers.write(json.dumps(fields) + "\n")
        answers.flush()

    try:
        engine, voice = start()
    except Exception as fault:  # each system's driver raises its own kinds
        answer(fault=f"no engine: {fault!r}")
        return
    answer(voice=voice)
    for line in sys.stdin:
        try:
            render(engine, **json.loads(line))
            answer()
        except Exception as fault:
            answer(fault=repr(fault))


def start():  # type: ignore[no-untyped-def]
    """The engine with an English voice chosen, and that voice's name. Raises LookupError if it has none."""
    import pyttsx3

    engine = pyttsx3.init()
    now = engine.getProperty("voice")
    english = [voice for voice in engine.getProperty("voices") if is_english(voice)]
    if not english:
        raise LookupError("no English voice")
    chosen = next((voice for voice in english if voice.id == now), english[0])
    engine.setProperty("voice", chosen.id)
    return engine, chosen.name


def is_english(voice) -> bool:  # type: ignore[no-untyped-def]
    """Whether a voice speaks English, from what its driver says of its languages or, where it says nothing, its name."""
    languages = [language.decode("ascii", "ignore") if isinstance(language, bytes) else str(language)
                 for language in voice.languages or []]
    if languages:
        return any(language.strip("\x00\x02\x05").lower().startswith("en") for language in languages)
    return "english" in f"{voice.name} {voice.id}".lower()


def render(engine, text: str, rate: int, path: str) -> None:  # type: ignore[no-untyped-def]
    """Writes `text`, spoken at `rate` words a minute, to `path`."""
    factor = ESPEAK_FACTOR if str(engine) == "espeak" else 1
    engine.setProperty("rate", round(rate * factor))
    engine.save_to_file(text, path)
    engine.runAndWait()


if __name__ == "__main__":
    main()
