"""Evidence clips: the sound of what changes the log, kept where the operator wants it, and of nothing else."""
from __future__ import annotations

import hashlib
import io
import os
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.__main__ import main
from companion.core import events as ev
from companion.core.card import load_card
from companion.core.job.inputs import CameBack, Clip, Heard
from companion.core.job.speech import CLIPS
from companion.core.log.journal import public_hex
from companion.edge import clips
from companion.edge.clock import SimulatedClock
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion
from companion.edge.mouth import PrintedMouth
from companion.edge.opening import opened
from companion.edge.sound import EAR_RATE
from companion.office.account import read_account
from companion.office.record.gather import record_of
from companion.office.verify import verify
from golden import card
from logmaker import KEY
from simulator import Simulator, at

SOUND = np.linspace(-1.2, 1.2, 8_000, dtype=np.float32)
CLIP = Clip(clips.as_flac(SOUND), 500, "van.clip-1.flac")


def hear(job: Simulator, line: str, sure: bool = True, clip: Clip = CLIP) -> list[ev.Event]:
    """What comes of a line that was heard, with its sound."""
    return job.take(Heard(ev.Hearing(line, Decimal("0.97"), "test ear"), sure, clip))


@pytest.mark.parametrize("step, line, sure, kept", [
    ("torque", "7.5", True, True),
    ("torque", "7.5", False, True),             # asked back: its sound is what is doubted
    ("torque", "nine newton metres", True, True),
    ("begin", "next", True, True),
    ("suspect", "cylinder two", True, True),
    ("key-out", "next", True, True),
    ("torque", "repeat", True, False),          # changes nothing
    ("torque", "how long", True, False),
    ("torque", "7.5 bar", True, False),         # refused
    ("torque", "affirm", False, False),         # not understood
    ("torque", "the weather", True, False),
    ("who", "alfa bravo", True, False)])        # personal
def test_what_changes_the_log_leaves_a_clip_and_nothing_else(step: str, line: str, sure: bool, kept: bool) -> None:
    """Right after the first fact that carries the words."""
    made = hear(at(step, ear="test ear"), line, sure)
    assert [type(event) for event in made].count(ev.ClipKept) == kept
    if kept:
        place = next(place for place, event in enumerate(made) if event.heard is not None)
        assert made[place + 1] == ev.ClipKept(step=step, clip=1, file=CLIP.file, ms=500,
                                              sha256=hashlib.sha256(CLIP.sound).hexdigest())


def test_a_caution_and_the_end_of_a_job_have_their_clips_within_it() -> None:
    """A caution's own words are evidence; nothing follows the job's end but its seal; the state is the same on replay."""
    job = at("rail-pressure", ear="test ear").say("zero bar")
    made = hear(job, "pressure gone")
    assert [type(event) for event in made[:2]] == [ev.CautionAcknowledged, ev.ClipKept]
    text = card("learning")
    done = Simulator(text, ear="test ear").say("next", "four", "21", "light turned away").wait(15)
    made = hear(done, "bright")
    assert isinstance(made[1], ev.ClipKept) and isinstance(made[-1], ev.JobEnded)
    assert done.cut(len(done.events)).job == done.job and done.job.clips == 1


def test_clips_are_numbered_on() -> None:
    """Each has a number of its own, also after a restart."""
    job = at("torque", ear="test ear")
    for line in ("nine newton metres", "because worn", "affirm"):
        hear(job, line)
    assert [event.clip for event in job.kinds(ev.ClipKept)] == [1, 2, 3]
    job.come_back(60).say("same mechanic")
    assert job.job.clips == 3


def test_one_that_cannot_be_kept_is_a_fact_and_is_said_once() -> None:
    """Until one is kept again."""
    job, lost = at("torque", ear="test ear"), Clip(CLIP.sound, CLIP.ms)
    before = len(job.spoken)
    for clip in (lost, lost, CLIP, lost):
        hear(job, "log value nine newton metres", clip=clip)
    assert [type(event) for event in job.events if isinstance(event, (ev.ClipKept, ev.ClipLost))] == [
        ev.ClipLost, ev.ClipLost, ev.ClipKept, ev.ClipLost]
    assert job.since(before).count("The sound of that answer is not kept.") == 2


def test_it_is_off_by_default_and_said_where_it_is_on() -> None:
    """At the opening, and again on coming back."""
    job = Simulator(card("learning"))
    assert "Sound is kept" not in " ".join(job.spoken) and job.events[0].clips == ""
    job.take(CameBack("boot two", False, clips="kept"))
    assert CLIPS.strip() in job.last + job.since(0) and job.kinds(ev.JobResumed)[0].clips == "kept"


# -- on the disk -------------------------------------------------------------------------------------------------------

def begun(log: LogFile, out: io.StringIO) -> Companion:
    """A job on the learning card with clips, its first step waiting."""
    companion = Companion(log, SimulatedClock(), PrintedMouth(lambda tag: None, out))
    companion.take(opened(load_card(card("learning"), "learning"), boot="boot", key=public_hex(KEY), ear="test ear",
                          voice="none", clips="kept"))
    return companion


def said(line: str) -> Heard:
    """A line with its sound, as an ear hands it over."""
    return Heard(ev.Hearing(line, Decimal("0.97"), "test ear"), True, clips.clip_of(SOUND))


def test_a_clip_is_on_the_disk_before_the_log_names_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole, for its owner alone, and as it was heard, to 16 bits; one that a power cut left there goes."""
    log, logs = tmp_path / "van.jsonl", []
    (tmp_path / "van.clip-1.flac").write_bytes(b"half a clip that no log names" * 10_000)
    write = clips.write_private
    monkeypatch.setattr(clips, "write_private", lambda *args: (write(*args), logs.append(log.read_text("utf-8"))))
    with LogFile.create(log, KEY) as file:
        begun(file, io.StringIO()).take(said("next"))
    assert len(logs) == 1 and "clip_kept" not in logs[0] and "clip_kept" in log.read_text("utf-8")
    found, rate = soundfile.read(tmp_path / "van.clip-1.flac", dtype="float32")
    assert rate == EAR_RATE and np.abs(found - np.clip(SOUND, -1, 1)).max() < 1e-4
    assert os.name == "nt" or (tmp_path / "van.clip-1.flac").stat().st_mode & 0o777 == 0o600
    assert verify(log)["holds"]


def test_a_disk_that_takes_no_clip_takes_the_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The log matters more: the answer is logged and acknowledged, and that its sound is lost is logged with it."""
    out, log = io.StringIO(), tmp_path / "van.jsonl"

    def full(*args: object) -> None:
        raise OSError(28, "No space left on device")

    with LogFile.create(log, KEY) as file:
        companion = begun(file, out)
        monkeypatch.setattr(clips, "write_private", full)
        made = companion.take(said("next"))
        assert [type(event) for event in made[:2]] == [ev.AnswerGiven, ev.ClipLost] and companion.job.at == "count-tools"
    assert CLIPS.split(".")[0] in out.getvalue() and "is not kept" in out.getvalue()
    assert verify(log)["holds"] and not list(tmp_path.glob("*.flac"))


def test_the_office_sees_clips(tmp_path: Path) -> None:
    """The record tells of each whose it is and whether it is as it was; a changed one is a finding, a missing one is said."""
    log = tmp_path / "van.jsonl"
    with LogFile.create(log, KEY) as file:
        companion = begun(file, io.StringIO())
        companion.take(said("next"))
        companion.take(said("four"))
    rows = record_of(read_account(log))["clips"]
    assert [(one["answer"], one["state"]) for one in rows] == [("next", "as recorded"), ("four", "as recorded")]
    assert log.read_bytes().splitlines()[rows[0]["of_line"] - 1].find(b'"words":"next"') > 0
    clip = tmp_path / "van.clip-1.flac"
    clip.write_bytes(clip.read_bytes()[:-1] + b"?")
    assert "the clip van.clip-1.flac must be as it was recorded" in verify(log)["wrong"][0]
    clip.unlink()
    assert verify(log)["holds"] and "clips that are erased or kept elsewhere: 1" in verify(log)["not_checked"]


def test_typed_lines_have_no_sound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    """So there is nothing to keep."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    assert main(["job", "learning", "--typed", "--keep-clips", "--log", str(tmp_path / "van.jsonl")]) == 2
    assert "needs an ear" in capsys.readouterr().err and not (tmp_path / "van.jsonl").exists()
