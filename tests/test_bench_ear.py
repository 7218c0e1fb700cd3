"""`companion bench ear`: manifests, ears, and a whole small run."""
from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.__main__ import main
from companion.core.understand import understand
from companion.edge.bench.ear import ratios
from companion.edge.bench.ear.ears import FreeEar, available, bare
from companion.edge.bench.ear.manifest import live_phrases, read_manifest, recordings
from companion.edge.bench.ear.pocketsphinx import PocketSphinxEar
from companion.edge.bench.ear.sets import SETS, Utterance, phrases_listen, step_listens, synthetic
from companion.edge.bench.ear.timing import live
from companion.edge.bench.ear.trials import noise_name, planned, run, samples
from companion.edge.bench.ear.voices import BenchVoice, Spoken
from companion.edge.ear import RATE, Guess
from companion.errors import BadInput

VOICE = BenchVoice("built-in", "plain", 0.95)


@pytest.fixture(scope="module")
def manifest(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two commands, a word that is none, chatter, and a noise."""
    folder = tmp_path_factory.mktemp("recordings")
    rows = ["file\tset\tspeaker\tsaid"]
    for text in ("next", "repeat", "football"):
        soundfile.write(folder / f"{text}.wav", Spoken(VOICE, text).sound(), RATE)
        rows.append(f"{text}.wav\twords\ta\t{text.title()}")
    soundfile.write(folder / "talk.wav", Spoken(VOICE, "They say it will rain").sound(), RATE)
    soundfile.write(folder / "hum-1.wav", 0.1 * np.random.default_rng(1).standard_normal(2 * RATE), RATE)
    path = folder / "manifest.tsv"
    path.write_text("\n".join([*rows, "talk.wav\tchatter\tb\tThey say it will rain", "hum-1.wav\tnoise\t\t"]) + "\n")
    return path


@pytest.mark.parametrize("text, where, what", [
    ("", ":1: ", "columns"), ("file\tset\n", ":1: ", "said"), ("file\tset\tsaid\n", "", "at least one"),
    ("file\tset\tsaid\nx.wav\ta\tb\n", ":2: ", "must be there"),
    ("file\tset\tsaid\n\n\ta\tb\n", ":3: ", "file must not be empty"),
    ("file\tset\tsaid\ny.wav\t\tb\n", ":2: ", "set must not be empty")])
def test_a_faulty_manifest_is_named_with_its_line(tmp_path: Path, text: str, where: str, what: str) -> None:
    """Which line, what must hold."""
    path = tmp_path / "m.tsv"
    path.write_text(text)
    with pytest.raises(BadInput) as fault:
        read_manifest(path)
    assert str(path) + where in str(fault.value) and what in str(fault.value)


def test_what_is_live_comes_from_the_manifest_or_from_live(manifest: Path) -> None:
    """Without --live all of a set's sayings; with it, others must not be accepted. Noise and chatter stand apart."""
    rows = read_manifest(manifest)
    plain = recordings(rows, {}, ["chatter"])
    assert [(each.set, each.text, each.meant) for each in plain] == [
        ("words", "next", True), ("words", "repeat", True), ("words", "football", True),
        ("chatter", "they say it will rain", False)]
    assert len(plain[0].listen.rules) == 3 and plain[-1].listen is None
    told = recordings(rows, live_phrases(["words=next|repeat|stop"]), [])
    assert [(each.set, each.meant) for each in told[:3]] == [("words", True)] * 2 + [("words (others)", False)]
    assert len(told[2].listen.rules) == 3
    for wrong in (["words"], ["=next"], ["words="], ["words= | "]):
        with pytest.raises(BadInput):
            live_phrases(wrong)
    with pytest.raises(BadInput, match="nowhere"):
        recordings(rows, {}, ["nowhere"])


def test_a_set_of_very_many_sayings_keeps_its_commonest(tmp_path: Path) -> None:
    """Sixty are live; it is said how many recordings are left out."""
    (tmp_path / "a.wav").touch()
    path, told = tmp_path / "m.tsv", []
    lines = [f"a.wav\tlong\tword {number}" for number in [*range(70), 69]]
    path.write_text("\n".join(["file\tset\tsaid", *lines]))
    found = recordings(read_manifest(path), {}, [], told.append)
    assert len(found) == 61 and found[-1].text == "word 69" and "10 recordings" in told[0]


def test_every_synthetic_line_means_something_where_it_is_said() -> None:
    """So that a miss is the ear's; chatter is not meant for the program."""
    found = synthetic(60)
    assert {each.set for each in found} == set(SETS) and len(found) == 60 * len(SETS)
    assert not [each.text for each in found if each.meant and understand(each.listen, each.text) is None]
    assert all(each.meant == (each.set != "chatter") for each in found) and synthetic(3) == synthetic(3)


def test_trials_hold_every_ratio_and_turn_the_noises() -> None:
    """An utterance is heard once at each ratio; noise alone at the noisy ones; the samples are the same every time."""
    said = [Utterance("a", "next", Spoken(VOICE, "next"), phrases_listen(("next",)))] * 2
    plan = planned(said, ["wind", "grinder"], [None, 10.0, 0.0], 3)
    assert [trial.conditions for trial in plan[:2]] == [((None, ""), (10.0, "grinder"), (0.0, "wind")),
                                                        ((None, ""), (10.0, "wind"), (0.0, "grinder"))]
    assert [trial.conditions for trial in plan[2:]] == [((10.0, "wind"),), ((10.0, "grinder"),), ((0.0, "wind"),)]
    assert np.array_equal(samples(plan[0], 1)[0], samples(plan[0], 1)[0]) and samples(plan[3], 0)[1] == 10
    assert [noise_name(name) for name in ("wind", "x/rain-12.flac", "7.wav")] == ["wind", "rain", "7"]


@pytest.mark.parametrize("text, found", [("clean,10,-5", [None, 10.0, -5.0]), (" 0 ", [0.0])])
def test_ratios_are_read(text: str, found: list[float | None]) -> None:
    """Decibels, or clean."""
    assert ratios(text) == found
    for wrong in ("", "loud", "nan", "1000"):
        with pytest.raises(BadInput):
            ratios(wrong)


def test_the_free_ear_reads_what_was_written() -> None:
    """Marks at the ends of words go, points inside figures stay; what does not read is not accepted."""
    class Writing:
        text = "Log value 7.5 bar."

        def draft(self, samples: np.ndarray) -> str:
            return self.text

    ear, listen = FreeEar(Writing()), step_listens()[0]
    guess = ear.hear(np.zeros(9), listen)
    assert guess.accepted and guess.sure and guess.reading.get("number") == "7.5"
    Writing.text = "Yes, it is!"
    assert not ear.hear(np.zeros(9), listen).accepted and bare(Writing.text) == "yes it is"


def test_pocketsphinx_hears_by_the_same_phrases() -> None:
    """A word that its dictionary lacks is told; the rest is heard."""
    ear = PocketSphinxEar()
    listen = phrases_listen(("next", "repeat", "kilonewton", "x-ray"))
    guess = ear.hear(np.pad(Spoken(VOICE, "repeat").sound(), RATE // 2), listen)
    assert guess.text == "repeat" and guess.accepted and ear.lacking == {"kilonewton"}
    assert ear.hear(np.zeros(RATE, np.float32), listen).reading is None
    assert all(ear._take(each) for each in step_listens()[:8])


def test_the_number_of_processes_changes_nothing(manifest: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same outcomes in the same order from this process and from two others."""
    monkeypatch.setattr("companion.edge.bench.ear.trials._MANY", 4)
    said = recordings(read_manifest(manifest), {}, [])
    plan = planned(said, ["wind"], [5.0], 0)
    alone, shared = (run(plan, ["pocketsphinx"], processes, lambda text: None) for processes in (1, 2))
    assert alone == shared and [outcome.said for outcome in alone] == [each.text for each in said]


def test_ears_that_are_not_there_are_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Skipped with how to get them; an unknown name is refused."""
    told: list[str] = []
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("companion.edge.bench.ear.ears.vosk_model", lambda: None)
    assert available(["embedded", "vosk", "free"], told.append) == ["embedded", "free"]
    assert len(told) == 1 and "models/README.md" in told[0]
    for wrong in (["owl"], []):
        with pytest.raises(BadInput):
            available(wrong, told.append)


def test_waiting_work_counts_as_lateness() -> None:
    """A guess is late by its own work and by that which was still waiting; silence is counted in the sound."""
    class Slow:
        """A path that works for ten chunks' time at once, and guesses two chunks later."""

        fed = 0

        def feed(self, samples: np.ndarray) -> list[Guess]:
            self.fed += 1
            clock.now += {3: 0.32, 5: 0.01}.get(self.fed, 0.0)
            return [Guess("x", 1, True, True, None, end_s=100.064)] if self.fed == 5 else []

    class Clock:
        now = 0.0

        def perf_counter(self) -> float:
            return self.now

    clock = Clock()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("companion.edge.bench.ear.timing.time", clock)
        ((late, silence),), work = live(Slow(), np.zeros(512 * 8, np.float32), begun_s=100.0)
    assert (late, silence, work) == (pytest.approx(320 - 64 + 10), pytest.approx(160 - 64), pytest.approx(0.33))


def test_a_small_run(manifest: Path, tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Two commands, heard clean, and the rest refused: figures in the JSON, raw scores and pictures in the folder."""
    code = main(["bench", "ear", "--manifest", str(manifest), "--live", "words=next|repeat", "--ears", "embedded",
                 "--snr", "clean,20", "--processes", "1", "--count", "2", "--json", "--out", str(tmp_path)])
    found = json.loads(capsys.readouterr().out)["ear"]
    assert code == int(not found["good"]) and found["conditions"] == ["clean", "20 dB"]
    assert {(cell["set"], cell["condition"]): cell["right"] for cell in found["accuracy"]["set"]}["words", "clean"] == 2
    assert {cell["on"] for cell in found["false_accepts"]} == {"words (others)", "chatter", "noise"}
    assert found["wrong"][0]["first"] == 0 and found["timing"]["embedded"]["count"] == 2
    raw = json.loads((tmp_path / "ear.json").read_text())
    assert len(raw["outcomes"]) == 4 * 2 + 2 and len(raw["outcomes"][0]) == len(raw["columns"])
    assert all((tmp_path / name).stat().st_size > 5000 for name in ("accuracy.png", "errors.png"))


@pytest.mark.parametrize("options", [
    ["--ears", "owl"], ["--snr", "loud"], ["--count", "-1"], ["--processes", "0"], ["--manifest", "nowhere.tsv"],
    ["--live", "a=b"], ["--sets", "nothing"], ["--noise", "nowhere"]])
def test_wrong_use_is_said(capsys: pytest.CaptureFixture, options: list[str]) -> None:
    """Exit code 2, nothing on standard output but the machine."""
    assert main(["bench", "ear", "--ears", "embedded", *options]) == 2
    assert "companion: " in capsys.readouterr().err
