"""Memos: what ends them, what is kept of them, and one spoken, heard, kept and verified as a user's would be."""
from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from companion.__main__ import main
from companion.core.job.effects import Record
from companion.edge.live.memo import MOST_S, NOTHING_S, SILENCE_S, Recorder
from companion.edge.ear.endpoint import FULL_S
from companion.edge.sound import EAR_RATE, FRAME
from companion.edge.voice import mechanic_voice
from dictation import word_errors

NOTE = "The return line is cracked near the third injector. I will order a new one tomorrow."


@pytest.fixture
def recorder(tmp_path: Path) -> Recorder:
    """One that writes down how much it was given."""
    made = Recorder(lambda sound: f"{len(sound) / EAR_RATE:.0f} seconds")
    made.log = tmp_path / "van.jsonl"
    made.begin(Record(1))
    return made


def feed(recorder: Recorder, seconds: float, speaking: bool, level: float = 0.1):
    """So much sound; the memo if it ended in it, and after how many seconds."""
    for count in range(round(seconds * EAR_RATE / FRAME)):
        taken = recorder.feed(np.full(FRAME, level, np.float32), speaking)
        if taken is not None:
            return taken, (count + 1) * FRAME / EAR_RATE
    return None, seconds


def test_two_seconds_of_silence_end_it_and_its_sound_is_kept(recorder: Recorder, tmp_path: Path) -> None:
    """The file holds what was heard, 16 bits, and the hash is that of the file."""
    assert feed(recorder, 3, True)[0] is None
    taken, after = feed(recorder, 5, False)
    assert after == pytest.approx(SILENCE_S - FULL_S, abs=0.05)  # the pause detector has already waited
    sound, rate = soundfile.read(tmp_path / taken.file, dtype="float32")
    assert (taken.file, rate, taken.memo) == ("van.memo-1.flac", EAR_RATE, 1)
    assert taken.ms == pytest.approx(1000 * len(sound) / rate, abs=1) and taken.ms == 3000
    assert np.abs(sound - 0.1).max() < 1e-4
    assert taken.sha256 == hashlib.sha256((tmp_path / taken.file).read_bytes()).hexdigest()
    assert taken.draft == f"{taken.ms / 1000:.0f} seconds" and not recorder.busy
    assert [path.name for path in tmp_path.iterdir()] == [taken.file]


def test_silence_alone_keeps_nothing(recorder: Recorder, tmp_path: Path) -> None:
    """After eight seconds nobody is waited for."""
    taken, after = feed(recorder, 20, False)
    assert taken.file == "" and after == pytest.approx(NOTHING_S, abs=0.05) and not list(tmp_path.iterdir())


def test_it_is_cut_after_a_minute(recorder: Recorder) -> None:
    """A radio that talks on does not fill the disk."""
    taken, after = feed(recorder, 2 * MOST_S, True)
    assert after == pytest.approx(MOST_S, abs=0.05) and taken.ms <= 1000 * MOST_S


def test_what_was_said_before_it_was_stopped_is_kept(recorder: Recorder) -> None:
    """"stop" and an emergency lose no words; with nothing to stop, nothing happens."""
    feed(recorder, 2, True)
    recorder.stop()
    taken, after = feed(recorder, 5, True)
    assert taken.file and after == pytest.approx(FRAME / EAR_RATE)
    recorder.stop()
    assert feed(recorder, 1, True)[0] is None


def test_a_memo_nobody_waits_for_is_not_kept(recorder: Recorder, tmp_path: Path) -> None:
    """Its file goes; one that was never written is no fault."""
    feed(recorder, 2, True)
    taken, _ = feed(recorder, 5, False)
    recorder.forget(taken)
    recorder.forget(taken)
    assert not list(tmp_path.iterdir())


def test_a_disk_that_cannot_take_it_is_told(recorder: Recorder) -> None:
    """In words that can be spoken; the job goes on."""
    recorder.log = Path("/nowhere/at/all/van.jsonl")
    feed(recorder, 2, True)
    taken, _ = feed(recorder, 5, False)
    assert taken.file == "" and "written" in taken.fault


def test_a_memo_spoken_in_a_job_is_kept_beside_the_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    """By sound: "memo", two sentences, silence; its sound, hash and draft are kept, the log holds, a changed file is found.
    The sound of the answers is kept beside it as evidence.

    Then the job is left, with "affirm" said twice, lest the first be doubted.
    """
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    log, voice = tmp_path / "van.jsonl", mechanic_voice()
    said = [np.zeros(EAR_RATE, np.float32)]
    for text, pause in (("memo", 1.5), (NOTE, 4.0), ("stop job", 1.5), ("affirm", 1.5), ("affirm", 1.5)):
        said += [soxr.resample(voice.render(text), voice.rate, EAR_RATE), np.zeros(int(pause * EAR_RATE), np.float32)]
    soundfile.write(tmp_path / "said.wav", np.concatenate(said), EAR_RATE)
    assert main(["job", "learning", "--clock", "simulated", "--sound-in", str(tmp_path / "said.wav"), "--ear", "embedded",
                 "--log", str(log), "--keep-clips"]) == 0
    events = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
    kept = next(event["data"] for event in events if event["event"] == "memo_kept")
    assert kept["file"] == "van.memo-1.flac" and 4000 <= kept["ms"] <= 9000
    draft = json.loads((tmp_path / "van.personal").read_text("utf-8").splitlines()[0])["text"]
    assert word_errors(NOTE, draft.replace("to-morrow", "tomorrow")) <= 0.2
    assert NOTE.split()[1] not in log.read_text("utf-8")
    assert main(["verify", str(log)]) == 0
    clips = [event for event in events if event["event"] == "clip_kept"]  # of "stop job" and "affirm", not of the memo
    assert [event["data"]["clip"] for event in clips] == [1, 2] and 800 < clips[0]["data"]["ms"] < 3_000
    assert np.abs(soundfile.read(tmp_path / clips[0]["data"]["file"])[0]).max() > 0.05
    assert (tmp_path / kept["file"]).stat().st_mode & 0o777 == 0o600 or os.name == "nt"
    sound = (tmp_path / kept["file"]).read_bytes()
    (tmp_path / kept["file"]).write_bytes(sound[:-1] + bytes([sound[-1] ^ 1]))
    assert main(["verify", str(log)]) == 1
    assert "memo" in capsys.readouterr().out
