"""A whole small job by sound: a synthetic mechanic's samples, the live path, the real ear, the log on the disk."""
from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.__main__ import main
from companion.core.job.inputs import Opened
from companion.core.log.journal import public_hex
from companion.edge.cards import read_card
from companion.edge.clock import SimulatedClock
from companion.edge.device import device_key
from companion.edge.ear import LivePath, load_ear
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion
from companion.edge.simulation import Simulation
from companion.edge.mechanic import Mechanic
from companion.edge.mouth import SimulatedMouth, PrintedMouth
from companion.edge.player import Player
from companion.edge.sound import NullSink
from companion.edge.voice import load_voice, mechanic_voice

LINES = ["log value four" if line == "four" else line for line in
         (Path(__file__).parent / "sessions" / "learning.txt").read_text(encoding="utf-8").splitlines()]


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))


def test_a_synthetic_mechanic_works_the_learning_card_by_voice(tmp_path, capsys):
    """Every scripted line is accepted from sound, and what was heard stands in the log with its score and ear."""
    log_path, clock, card = tmp_path / "job.jsonl", SimulatedClock(), read_card("learning")
    simulation, sink = Simulation(clock), NullSink()
    player = Player(load_voice("builtin"), sink)
    with LogFile.create(log_path, device_key()) as log:
        mouth = SimulatedMouth(player, clock, simulation.report, PrintedMouth(lambda tag: None))
        simulation.companion = Companion(log, clock, mouth)
        path = LivePath(load_ear("embedded"))
        mechanic = Mechanic(mechanic_voice(), path, simulation, clock, sink)
        simulation.take(Opened(card.id, card.text, sha256(card.text.encode()).hexdigest(), "test", "simulated test",
                               public_hex(device_key()), path.ear.name, "builtin"))
        exchanges = list(mechanic.work(LINES))
    player.close()
    assert simulation.companion.job.done, exchanges[-1]
    assert main(["verify", str(log_path)]) == 0
    logged = [json.loads(line) for line in log_path.read_text(encoding="utf-8").splitlines()]
    values = [line["data"] for line in logged if line["event"] == "value_logged"]
    assert values and all(value["ear"] == path.ear.name and 0 < float(value["score"]) <= 1 for value in values)


def test_sound_files_stand_in_for_microphone_and_loudspeaker(tmp_path, capsys):
    """The spoken file holds the companion's words; the input file's end leaves an unfinished job (exit 1)."""
    voice = mechanic_voice()
    pause = np.zeros(voice.rate, np.float32)
    said = np.concatenate([pause, voice.render("repeat"), pause, voice.render("next"), pause])
    hiss = np.random.default_rng(3).normal(0, 5e-4, len(said)).astype(np.float32)
    soundfile.write(tmp_path / "in.wav", said + hiss, voice.rate)
    code = main(["job", "learning", "--sound-in", str(tmp_path / "in.wav"), "--sound-out", str(tmp_path / "out.wav"),
                 "--clock", "simulated", "--log", str(tmp_path / "job.jsonl")])
    events = [json.loads(line)["event"] for line in (tmp_path / "job.jsonl").read_text(encoding="utf-8").splitlines()]
    assert code == 1 and "repeated" in events and "count-tools" in (tmp_path / "job.jsonl").read_text(encoding="utf-8")
    spoken, rate = soundfile.read(tmp_path / "out.wav")
    assert len(spoken) / rate > 10 and np.abs(spoken).max() > 0.1
