"""`companion hear`: files in, one JSON line each, through the live path."""
from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from companion.__main__ import main
from companion.edge.hear import phrases
from companion.edge.voice.builtin import BuiltinVoice
from companion.errors import BadInput

KEYS = {"file", "text", "score", "accepted", "ms", "utterances"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sound files of several kinds: rates, channels, empty, silent, broken."""
    folder, voice = tmp_path_factory.mktemp("sound"), BuiltinVoice()
    for name, text in (("value", "seven point five newton metres"), ("code", "papa zero two zero four"),
                       ("next", "next"),
                       ("yes", "yes"), ("x-ray", "x-ray"), ("timer", "timer five minutes"),
                       ("log", "log value twelve bar")):
        soundfile.write(folder / f"{name}.wav", voice.render(text), voice.rate)
    sound = voice.render("next")
    soundfile.write(folder / "phone.wav", soxr.resample(sound, voice.rate, 8000), 8000)
    soundfile.write(folder / "stereo.flac", np.stack([soxr.resample(sound, voice.rate, 44100)] * 2, axis=1), 44100)
    pause = np.zeros(voice.rate)
    three = np.concatenate([sound, pause, voice.render("football"), pause, sound])
    soundfile.write(folder / "three.wav", three, voice.rate)
    soundfile.write(folder / "empty.wav", np.zeros(0), 16000)
    soundfile.write(folder / "click.wav", np.ones(3) * 0.5, 16000)
    soundfile.write(folder / "silence.wav", np.zeros(16000), 16000)
    (folder / "text.wav").write_text("this is no sound\n")
    (folder / "cut.flac").write_bytes((folder / "stereo.flac").read_bytes()[:200])
    return folder


def hear(capsys: pytest.CaptureFixture, *arguments: str) -> tuple[int, list[dict]]:
    """The exit code and the parsed lines."""
    code = main(["hear", *arguments])
    return code, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


@pytest.mark.parametrize("name, options, text", [
    ("value", ["--answer", "number"], "7.5 N·m"), ("code", ["--answer", "spelling"], "P0204"),
    ("next", ["--answer", "commands"], "next"),
    ("timer", ["--answer", "commands"], "timer 5 min"), ("log", ["--answer", "commands"], "log value 12 bar"),
    ("yes", ["--answer", "yes-no"], "yes"), ("x-ray", ["--phrases", "Tango|X-Ray|next"], "x-ray"),
    ("phone", ["--phrases", "repeat|next"], "next"), ("stereo", ["--phrases", "repeat|next"], "next"),
])
def test_a_file_is_heard(capsys: pytest.CaptureFixture, folder: Path, name: str, options: list[str], text: str) -> None:
    """The text in its plainest form, the phrase as it was given, whatever the rate and the channels."""
    file = next(str(path) for path in folder.iterdir() if path.stem == name)
    code, (line,) = hear(capsys, *options, file)
    assert (code, line["text"], line["accepted"], line["file"]) == (0, text, True, file)
    assert KEYS <= set(line) and len(line["utterances"]) == 1
    if name == "value":
        assert (line["value"], line["unit"]) == ("7.5", "N·m")


def test_what_a_step_of_a_card_expects_is_listened_for(capsys: pytest.CaptureFixture, folder: Path) -> None:
    """`--card` and `--step` take the step's own words and the commands live there."""
    code, (line,) = hear(capsys, "--card", "learning", "--step", first_step("learning"), str(folder / "next.wav"))
    assert (code, line["accepted"], line["text"]) == (0, True, "next")


def first_step(card: str) -> str:
    """A step that is answered with "next"."""
    from companion.edge.cards import read_card

    return next(step.id for step in read_card(card).steps if type(step.answer).__name__ == "Done")


def test_several_utterances_in_one_file(capsys: pytest.CaptureFixture, folder: Path) -> None:
    """All are listed in order; the text is that of the first accepted one."""
    _, (line,) = hear(capsys, "--phrases", "next|repeat", str(folder / "three.wav"))
    assert [utterance["accepted"] for utterance in line["utterances"]] == [True, False, True]
    assert line["accepted"] and line["text"] == "next"


def test_bad_files_get_an_error_and_the_others_are_heard(capsys: pytest.CaptureFixture, folder: Path) -> None:
    """One line a file, in the order given; exit code 1 because some could not be read."""
    names = ["text.wav", "empty.wav", "missing.wav", "next.wav", "cut.flac", "click.wav", "silence.wav"]
    code, lines = hear(capsys, "--answer", "commands", *(str(folder / name) for name in names))
    assert code == 1 and [Path(line["file"]).name for line in lines] == names
    assert all(KEYS <= set(line) for line in lines)
    assert ["error" in line for line in lines] == [True, False, True, False, True, False, False]
    assert [line["accepted"] for line in lines] == [name == "next.wav" for name in names]


@pytest.mark.parametrize("options", [
    ["--phrases", " | "], ["--card", "learning"], ["--answer", "yes-no", "--step", "x"],
    ["--card", "learning", "--step", "no such step"],
    ["--card", "no such card", "--step", "x"],
])
def test_wrong_use_is_said(capsys: pytest.CaptureFixture, folder: Path, options: list[str]) -> None:
    """Exit code 2 and nothing on standard output."""
    assert main(["hear", *options, str(folder / "next.wav")]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and captured.err.startswith("companion: ")


def test_phrases_are_lowered_and_otherwise_kept() -> None:
    """Spaces are squeezed, doubles dropped, hyphens kept; none at all is refused."""
    assert [rule.name for rule in phrases("X-Ray| say  again |x-ray|").rules] == ["x-ray", "say again"]
    with pytest.raises(BadInput):
        phrases("")
