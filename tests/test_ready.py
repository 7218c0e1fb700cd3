"""`companion ready`: each check on what is there and what is not, and the whole on a machine made of noise."""
from __future__ import annotations

import functools
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soxr

from companion.__main__ import main
from companion.core.grammar import Listen
from companion.core.understand import understand
from companion.edge import ready
from companion.edge.ear import RATE, Guess, load_ear
from companion.edge.ready import Checks, finding, line, machine, sound, speech
from companion.edge.ready.duplex import Duplex, Hearing, both, microphone_alone
from companion.edge.ready.finding import TO_DO, Finding, attempt, fine, missing, to_do
from companion.edge.sound import FRAME, Frame, NullSink, SpeakerSink
from companion.edge.voice import load_voice, mechanic_voice
from companion.errors import BadInput, BrokenMachine
from parts_needed import SOUND, needs

SYSTEMS = ("linux", "win32", "darwin")


def hiss(seconds: float, size: float = 3e-4, seed: int = 1) -> np.ndarray:
    """A microphone's own noise."""
    return np.random.default_rng(seed).normal(0, size, int(seconds * RATE)).astype(np.float32)


def hearing(*sounds: np.ndarray, played: np.ndarray | None = None) -> Hearing:
    """A microphone that gives the sounds one after the other, then silence for ever."""
    whole = np.concatenate([*sounds, np.zeros(60 * RATE, np.float32)])
    other = np.zeros(len(whole), np.float32) if played is None else np.pad(played, (0, len(whole) - len(played)))

    def frames() -> Iterator[Frame]:
        for at in range(0, len(whole) - FRAME + 1, FRAME):
            yield Frame(whole[at:at + FRAME], other[at:at + FRAME])
    return Hearing(frames(), lambda: False, lambda: None)


class Scripted(Duplex):
    """Speaks without taking time: a duplex whose microphone is given."""

    def __init__(self, heard: Hearing) -> None:
        Hearing.__init__(self, heard._sound, heard._waiting, lambda: None)
        self.said: list[str] = []

    def say(self, text: str) -> list[Frame]:
        self.said.append(text)
        return [self.take() for _ in range(5 * RATE // FRAME)] if text == sound.PHRASE else []


@functools.lru_cache
def spoken(text: str) -> np.ndarray:
    """The synthetic mechanic's words at the microphone."""
    voice = mechanic_voice()
    return soxr.resample(voice.render(text), voice.rate, RATE).astype(np.float32)


# -- findings ----------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("what", TO_DO)
def test_every_instruction_is_for_its_system(what: str, system: str) -> None:
    """Each system gets a text without gaps, and none but Linux is sent to apt-get or pactl."""
    text = to_do(what, system, packages='"numpy>=1.26"', path="contacts")
    assert text and "{" not in text
    assert system == "linux" or not ({"apt-get", "pactl", "timedatectl"} & set(text.replace(":", " ").split()))


@pytest.mark.parametrize("fault, words, do", [
    (BrokenMachine("disk", "must be whole", "torn", "Mend it"), "disk: must be whole, not torn.", "Mend it"),
    (BadInput("ear", "must be known"), "ear: must be known.", ""),
    (ZeroDivisionError("none"), "The check itself failed: ZeroDivisionError('none').",
     "Tell whoever looks after the program, with this line")])
def test_a_check_that_fails_is_a_finding(fault: Exception, words: str, do: str) -> None:
    """Nothing that goes wrong in one check stops the others; what it says is kept."""
    def check() -> Finding:
        raise fault
    assert attempt(check) == missing(words, do)


def test_what_to_do_stands_below_what_was_found() -> None:
    """One line where nothing is to be done, two where something is."""
    assert line(fine("There.")) == "fine     There."
    assert line(missing("Gone.", "Fetch it")) == "missing  Gone.\n             do: Fetch it"


# -- the machine -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("found, wanted, good", [
    ("1.26.0", "numpy>=1.26", True), ("1.25.9", "numpy>=1.26", False), ("2.0", "a>=1,<3", True),
    ("3.0", "a>=1,<3", False), ("0.0.73", "m==0.0.73", True),
    ("0.0.74", "m==0.0.73", False), ("1.10", "a>=1.9", True), ("2.0rc1", "a>=2", True),
    ("", "a", False), ("1", "a", True)])
def test_versions_are_compared_by_number(found: str, wanted: str, good: bool) -> None:
    """1.10 is later than 1.9; a package that is not there never will do."""
    assert machine.satisfies(found, wanted) == good


def test_a_wanted_version_that_cannot_be_read_is_not_taken_for_good() -> None:
    """An operator that the check does not know is an error, not a pass."""
    with pytest.raises(KeyError):
        machine.satisfies("1.0", "a~=1.0")


def test_a_package_that_is_missing_is_named_with_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is to be installed is the requirement itself; test packages are not asked for."""
    wanted = ["numpy>=1", "no-such-thing>=2,<3", "pytest>=8; extra == 'test'"]
    monkeypatch.setattr(machine, "requires", lambda name: wanted)
    found = machine.packages()
    assert found.state == "missing" and "no-such-thing is not there" in found.found
    assert found.do == f'"{sys.executable}" -m pip install --upgrade "no-such-thing>=2,<3"'


@pytest.mark.parametrize("version, state", [
    ((3, 9), "missing"), ((3, 10), "fine"), ((3, 13), "fine"), ((3, 14), "missing")])
def test_only_the_pythons_it_was_made_for(version: tuple[int, int], state: str, monkeypatch) -> None:
    """3.10 to 3.13."""
    monkeypatch.setattr(machine.sys, "version_info", (*version, 1))
    assert machine.python().state == state


@pytest.mark.parametrize("free, sync, state", [
    (80_000, 2, "fine"), (300, 2, "weak"), (19, 2, "missing"), (80_000, 140, "weak")])
def test_a_disk_is_judged_by_space_and_by_time(free: int, sync: float, state: str) -> None:
    """Little space and slow writes are weak, none is missing."""
    assert machine.judge_disk(Path("jobs"), free, sync).state == state


def test_a_jobs_folder_that_cannot_be_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file in its place: the folder is named, and so is COMPANION_HOME. A proper one is left as it was."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    assert machine.disk().state in ("fine", "weak") and not list((tmp_path / "jobs").iterdir())
    (tmp_path / "jobs").rmdir()
    (tmp_path / "jobs").write_text("")
    found = machine.disk()
    assert found.state == "missing" and str(tmp_path / "jobs") in found.found and "COMPANION_HOME" in found.do


NOW = machine.BORN_MS + 1_000_000


@pytest.mark.parametrize("now, latest, system, boottime, state", [
    (NOW, 0, "linux", True, "fine"), (NOW, NOW - 1, "linux", True, "fine"),
    (NOW, NOW + 60_000, "linux", True, "missing"), (0, 0, "linux", True, "missing"),
    (NOW, 0, "linux", False, "weak"), (NOW, 0, "win32", False, "fine")])
def test_a_clock_is_right_if_it_is_later_than_all_that_was_written(now: int, latest: int, system: str, boottime: bool,
                                                                   state: str) -> None:
    """Neither before the program nor before its last log; and it must count the machine's sleep."""
    assert machine.judge_clock(now, latest, system, boottime).state == state


def test_the_key_is_there_afterwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Made the first time, found the second, the same; the private part is never shown."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    first, second = machine.key(), machine.key()
    assert first.found.startswith("Made now") and second.found.startswith("There") and first.figures == second.figures
    assert len(first.figures["public"]) == 64


# -- sound -------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("heard, state, words", [
    (hiss(2), "fine", "gives sound; noise -"), (np.zeros(2 * RATE, np.float32), "missing", "plain silence"),
    (hiss(2, 0.05), "weak", "noise -2"), (np.clip(hiss(2, 3.0), -1, 1), "weak", "overdriven")])
def test_a_microphone_is_judged_by_what_it_gives(heard: np.ndarray, state: str, words: str) -> None:
    """Its own noise is fine, plain zeros are not, nor is noise as strong as a voice or at full scale."""
    found = sound.microphone(lambda: hearing(heard), lambda kind: f'the {kind} "mic"')
    assert found.state == state and words in found.found and found.figures["device"] == 'the input "mic"'


def _gone(*args: object) -> None:
    raise BrokenMachine("sound", "a device must be there", "Error querying device -1")


def test_devices_that_are_not_there_are_missing() -> None:
    """The finding says what the system said, and how to choose a device."""
    for found in (sound.microphone(_gone, lambda kind: "mic"), sound.microphone(lambda: hearing(), _gone),
                  sound.loudspeaker(_gone, lambda kind: "box"), sound.loudspeaker(NullSink, _gone)):
        assert found.state == "missing" and "Error querying device -1" in found.found and found.do


def test_a_loudspeaker_takes_a_tone() -> None:
    """What is written is a tone; whether it was audible only a person knows, and is told what to do."""
    sink = NullSink()
    found = sound.loudspeaker(lambda: sink, lambda kind: "box")
    assert found.state == "fine" and sink.written > 0 and found.do.startswith("If you heard nothing")


def test_portaudio_that_is_missing_is_told_with_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the library the finding names what to install."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    found = sound.portaudio()
    assert found.state == "missing" and found.do == to_do("portaudio")


@pytest.mark.parametrize("echo, taken_out, state, words", [
    (0.0, 0.0, "fine", "does not hear the loudspeaker"), (0.5, 1.0, "fine", "are taken out."),
    (0.5, 0.0, "weak", "taken for somebody speaking")])
def test_an_echo_is_judged_by_what_the_canceller_leaves(echo: float, taken_out: float, state: str, words: str) -> None:
    """No echo, one taken out, and one that stays: only the last would make the companion interrupt itself."""
    played = np.resize(spoken("Tighten the clamp bolt to eight newton metres."), 5 * RATE)
    noise = hiss(5, seed=2)
    frames = [Frame(echo * played[at:at + FRAME] + noise[at:at + FRAME], played[at:at + FRAME])
              for at in range(0, len(played), FRAME)]
    found = sound.judge_echo(hiss(0.5), frames, lambda heard, reference: heard - taken_out * echo * reference)
    assert found.state == state and words in found.found


def test_an_echo_on_a_busy_machine_is_put_down_to_it() -> None:
    """Where sound was lost the canceller cannot follow: other programs are to be ended, not the headset bought."""
    played = np.resize(spoken("Tighten the clamp bolt to eight newton metres."), 5 * RATE)
    frames = [Frame(played[at:at + FRAME], played[at:at + FRAME], shifted=at == 100 * FRAME)
              for at in range(0, len(played), FRAME)]
    found = sound.judge_echo(hiss(0.5), frames, lambda heard, reference: heard)
    assert found.state == "weak" and "Lost sound: 1 times" in found.found and found.do == to_do("slow")


def test_the_real_canceller_takes_the_loudspeaker_out() -> None:
    """Its own speech 20 ms late and at half its strength is taken out by more than 15 dB after a second."""
    words = np.resize(spoken("Tighten the clamp bolt, first stage."), 5 * RATE)
    played = np.pad(words, (RATE // 2, 0))
    silence = np.zeros(RATE // 2, np.float32)
    played = np.concatenate([silence, played])
    heard = 0.5 * np.pad(played, (320, 0))[:len(played)] + hiss(len(played) / RATE)
    found = sound.echo(Scripted(hearing(heard, played=played)))
    assert found.state == "fine" and found.figures["taken_out_db"] > 15


@pytest.fixture
def null_sink(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A loudspeaker whose sound is the microphone's."""
    needs(*SOUND)
    name = "companion_ready"
    loaded = subprocess.run(["pactl", "load-module", "module-null-sink", f"sink_name={name}"], capture_output=True,
                            text=True, check=True)
    monkeypatch.setenv("PULSE_SINK", name)
    monkeypatch.setenv("PULSE_SOURCE", f"{name}.monitor")
    yield
    subprocess.run(["pactl", "unload-module", loaded.stdout.strip()], check=True)


def test_real_devices_are_opened_spoken_on_and_heard(null_sink: None) -> None:
    """The microphone alone, the loudspeaker alone, and both at once: what is said is what is heard."""
    assert sound.portaudio().state == "fine"
    assert len(sound.microphone(microphone_alone).figures["device"]) > 10
    assert sound.loudspeaker(SpeakerSink).state == "fine"
    duplex = both(load_voice("builtin"))
    try:
        frames = duplex.say("One.")
        assert len(duplex.hear(0.2)) == 0.2 * RATE
    finally:
        duplex.close()
    assert max(np.abs(frame.played).max() for frame in frames) > 0.1
    assert max(np.abs(frame.heard).max() for frame in frames) > 0.1


# -- speech ------------------------------------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def ear():
    """The real one, loaded once."""
    return load_ear()


class Silent:
    """A voice that renders nothing."""

    name, rate = "silent", RATE

    def render(self, text: str, pace: str = "prose") -> np.ndarray:
        return np.zeros(0, np.float32)


def test_a_voice_must_sound() -> None:
    """The built-in one does; one that renders nothing is missing."""
    assert speech.voice(load_voice("builtin")).figures["speech_s"] > 2
    assert speech.voice(Silent()).state == "missing"


def test_an_ear_must_hear_a_rendered_value_right(ear) -> None:
    """The real ear does; one that hears nothing, or another value, is missing, and it is told what it heard."""
    found = speech.ear(lambda: ear, mechanic_voice())
    assert found.state == "fine" and found.figures["score"] > 0.5
    assert speech.judge_ear("deaf", [], 1.0).state == "missing"
    other = speech.ear(lambda: Parrot("log value 9.5 bar"), mechanic_voice())
    assert other.state == "missing" and 'for "log value 9.5 bar"' in other.found


class Parrot:
    """An ear that takes everything for the same words."""

    name = "parrot"

    def __init__(self, text: str) -> None:
        self._text = text

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        return Guess(self._text, 0.9, True, True, understand(listen, self._text))


def test_without_a_vosk_model_the_embedded_ear_will_do() -> None:
    """Nothing is missing; a folder that is no fit model is named all the same."""
    def find(notice: Callable[[str], None]) -> None:
        notice("models/big is passed over")
    found, hearer = speech.vosk_model(find, _gone, mechanic_voice())
    assert found.state == "fine" and "models/big is passed over." in found.found and hearer is None


@pytest.mark.parametrize("lacking, heard, state, words", [
    ([], "log value 7.5 N·m", "fine", '"log value 7.5'),
    (["the model does not know affirm"], "log value 7.5 N·m", "weak", "know affirm."),
    ([], "log value 9.5 N·m", "weak", '"log value 9.5')])
def test_a_vosk_model_is_loaded_and_tried(lacking: list[str], heard: str, state: str, words: str) -> None:
    """It must hear right, and lack no word; which words it lacks is said."""
    ear = Parrot(heard)

    def loaded(folder: Path, notice: Callable[[str], None]) -> Parrot:
        for text in lacking:
            notice(text)
        return ear
    found, hearer = speech.vosk_model(lambda notice: Path("models/small"), loaded, mechanic_voice())
    assert found.state == state and words in found.found and hearer is ear
    assert found.figures["folder"] == str(Path("models/small"))


@pytest.mark.parametrize("said, state, words", [
    ("next", "fine", 'Heard "Next"'), ("repeat", "weak", "Asked was next."), ("", "missing", "I heard no words.")])
def test_a_rehearsal_shows_what_was_heard(ear, said: str, state: str, words: str) -> None:
    """The word asked for, another, and silence: each ends within ten seconds of sound with its score or with advice."""
    shown: list[str] = []
    parts = [hiss(1.6), *([spoken(said)] if said else []), hiss(12, seed=3)]
    duplex = Scripted(hearing(*parts))
    found = speech.rehearse(duplex, ear, shown.append)
    assert found.state == state and words in found.found and duplex.said[0] == speech.ASK
    assert ("score" in shown[1]) == bool(said) and shown[0].startswith("The companion says")


# -- the whole ---------------------------------------------------------------------------------------------------------

def _checks(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, ear, **opened: Callable) -> None:
    """The command with devices of our own, a home of its own and the ear that is loaded already."""
    monkeypatch.setattr("companion.edge.ear.load_ear", lambda name: ear)
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    monkeypatch.setattr(ready, "Checks", lambda show: Checks(show, **opened))


def test_a_machine_without_sound_is_told_so_and_checked_all_the_same(ear, monkeypatch, tmp_path, capsys) -> None:
    """Exit code 1; the rest is looked at; rehearsal and echo are skipped in plain words; the JSON says the same."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    _checks(monkeypatch, tmp_path, ear, microphone=_gone, loudspeaker=_gone, both=_gone)
    assert main(["ready", "--json"]) == 1
    out, err = capsys.readouterr()
    assert "Not ready. Without sound, companion job CARD --typed works as well." in err
    assert "nothing was asked" in err and "device key   fine" in err
    found = json.loads(out)
    states = {name: check["state"] for name, check in found["checks"].items()}
    assert not found["ready"] and states["PortAudio"] == "missing"
    assert {states[name] for name in ("microphone", "loudspeaker", "echo", "rehearsal")} == {"skipped"}
    assert {states[name] for name in ("Python", "voice", "ear", "device key")} == {"fine"}


def test_a_whole_machine_is_ready(ear, monkeypatch, tmp_path, capsys) -> None:
    """With everything there each check is made in its order, the rehearsal last, and the exit code is 0."""
    monkeypatch.setattr(sound, "portaudio", lambda: fine("There."))
    monkeypatch.setattr(sound, "microphone", lambda opened: sound.judge_microphone(opened().hear(1.5), "mic"))
    monkeypatch.setattr(sound, "loudspeaker", lambda opened: fine("Took a tone."))
    heard = [hiss(0.5), hiss(5, seed=4), hiss(1.6, seed=5), spoken("next"), hiss(9, seed=6)]
    opened = {"microphone": lambda: hearing(hiss(2)), "both": lambda voice: Scripted(hearing(*heard))}
    _checks(monkeypatch, tmp_path, ear, **opened)
    assert main(["ready"]) == 0
    lines = capsys.readouterr().out.splitlines()
    names = [text.split("  ")[0] for text in lines if text[:1].strip()]
    assert names == ["Python", "packages", "disk", "clock", "device key", "contacts", "voice", "ear", "Vosk model", "PortAudio",
                     "microphone", "loudspeaker", "echo", "rehearsal", "Ready for a spoken job."]


def test_guesses_have_what_the_checks_read() -> None:
    """The fields the findings copy from an ear's guess."""
    assert {"text", "score", "ms", "accepted", "reading"} <= set(Guess.__dataclass_fields__)
    assert set(finding.STATES) == {"fine", "weak", "missing", "skipped"}


@pytest.mark.parametrize("text, state, words", [
    (None, "weak", "No one is called"), ("# nobody yet\n", "weak", "holds no address"),
    ("json://127.0.0.1\n", "fine", "1 in "), ("nonsense\n", "missing", "must be an address that apprise knows")])
def test_who_is_called_is_told(tmp_path, monkeypatch, text, state, words):
    """None is a choice, and said; an address that is none is a fault."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    if text is not None:
        (tmp_path / "contacts").write_text(text, encoding="utf-8")
    found = attempt(machine.contacts)
    assert (found.state, words in found.found) == (state, True), found
