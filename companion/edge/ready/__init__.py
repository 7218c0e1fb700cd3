"""`companion ready`: is everything there for a spoken job on this machine, and exactly what to do about what is not?"""
from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict
from typing import Any, Optional

from companion.edge.ready import machine, sound, speech
from companion.edge.ready.duplex import Duplex, both, microphone_alone
from companion.edge.ready.finding import Finding, attempt, skipped

EXAMPLES = """examples:
  companion ready                    look at everything, then say one word
  companion ready --no-rehearsal     ask nobody anything
  companion ready --json             the same for a program; what is read meanwhile goes to standard error
each line: what, fine or weak or missing or skipped, and what was found; below it what to do
exit codes: 0 nothing is missing, 1 something is"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `companion ready`."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description, parser.epilog = "Look whether this machine is ready for a spoken job.", EXAMPLES
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument("--no-rehearsal", action="store_true", help="leave out the question at the end")


def run(args: argparse.Namespace) -> int:
    """0: nothing is missing; 1: something is."""
    progress = sys.stderr if args.json else sys.stdout
    checks = Checks(lambda text: print(text.replace("\n", _BELOW), end=_BELOW, file=progress, flush=True))
    found = {}
    for name, check in checks.all(rehearsal=not args.no_rehearsal):
        print(f"{name:12} ", end="", file=progress, flush=True)
        found[name] = attempt(check)
        print(line(found[name]), file=progress, flush=True)
    checks.close()
    ready = all(finding.state != "missing" for finding in found.values())
    print("Ready for a spoken job." if ready else f"Not ready. {_TYPED}", file=progress)
    if args.json:
        told = {name: asdict(finding) for name, finding in found.items()}
        print(json.dumps({"ready": ready, "checks": told}, indent=2, ensure_ascii=False))
    return int(not ready)


def line(finding: Finding) -> str:
    """A finding as text; what to do stands on a line of its own."""
    text = f"{finding.state:8} {finding.found}"
    return f"{text}{_BELOW}do: {finding.do}" if finding.do else text


_BELOW = "\n" + 13 * " "


_TYPED = "Without sound, companion job CARD --typed works as well."


class Checks:
    """The checks in their order. What one finds is there for those after it."""

    def __init__(self, show: Callable[[str], None], microphone: Callable[[], Any] = microphone_alone,
                 loudspeaker: Optional[Callable[[], Any]] = None, both: Callable[[Any], Duplex] = both) -> None:
        """The last three open the devices; `show` takes what is to be read during the rehearsal."""
        self._show, self._microphone, self._both = show, microphone, both
        self._loudspeaker = loudspeaker or _loudspeaker
        self._voice = self._ear = None
        self._duplex: Optional[Duplex] = None
        self._there: dict[str, bool] = {}

    def all(self, rehearsal: bool = True) -> Iterator[tuple[str, Callable[[], Finding]]]:
        """Each check's name and how to make it."""
        yield "Python", machine.python
        yield "packages", machine.packages
        yield "disk", machine.disk
        yield "clock", machine.clock
        yield "device key", machine.key
        yield "contacts", machine.contacts
        yield "voice", self._speaks
        yield "ear", self._hears
        yield "Vosk model", self._hears_by_vosk
        yield "PortAudio", self._noting("PortAudio", sound.portaudio)
        yield "microphone", self._noting("microphone", lambda: sound.microphone(self._microphone), "PortAudio")
        yield "loudspeaker", self._noting("loudspeaker", lambda: sound.loudspeaker(self._loudspeaker), "PortAudio")
        yield "echo", self._echo
        if rehearsal:
            yield "rehearsal", self._rehearse

    def close(self) -> None:
        """Lets go of the devices."""
        if self._duplex is not None:
            self._duplex.close()

    def _noting(self, name: str, check: Callable[[], Finding], needs: str = "") -> Callable[[], Finding]:
        """The same check, whose outcome is kept; skipped where what it needs is missing."""
        def noting() -> Finding:
            if needs and not self._there.get(needs):
                return skipped(f"It needs {needs}.")
            finding = check()
            self._there[name] = finding.state != "missing"
            return finding
        return noting

    def _speaks(self) -> Finding:
        from companion.edge.voice import load_voice

        self._voice = load_voice()
        return speech.voice(self._voice)

    def _hears(self) -> Finding:
        from companion.edge.ear import load_ear
        from companion.edge.voice import mechanic_voice

        def loaded():  # type: ignore[no-untyped-def]
            self._ear = load_ear("embedded")
            return self._ear
        return speech.ear(loaded, mechanic_voice())

    def _hears_by_vosk(self) -> Finding:
        from companion.edge.ear.folders import find_model
        from companion.edge.ear.vosk import VoskEar
        from companion.edge.voice import mechanic_voice

        finding, hearer = speech.vosk_model(find_model, VoskEar, mechanic_voice())
        self._ear = hearer or self._ear
        return finding

    def _echo(self) -> Finding:
        if self._voice is None or not (self._there.get("microphone") and self._there.get("loudspeaker")):
            return skipped("It needs microphone, loudspeaker and voice.")
        self._duplex = self._both(self._voice)
        return sound.echo(self._duplex)

    def _rehearse(self) -> Finding:
        if self._duplex is None or self._ear is None:
            return skipped("It needs microphone, loudspeaker, voice and ear: nothing was asked.")
        return speech.rehearse(self._duplex, self._ear, self._show)


def _loudspeaker():  # type: ignore[no-untyped-def]
    from companion.edge.sound import SpeakerSink

    return SpeakerSink()
