"""`companion job` as its user runs it: typed lines in, a log on the disk out; killed, resumed, held by one program."""
from __future__ import annotations

import io
import json
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from companion.__main__ import main
from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.events import JobResumed
from companion.core.job.inputs import Now
from companion.edge.cards import read_card
from companion.edge.device import device_key
from companion.edge.logfile import LogFile
from companion.edge.loop import replayed

SESSIONS = Path(__file__).parent / "sessions"


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    """A device of its own for each test."""
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))


def job(monkeypatch, lines: str, *options: str) -> int:
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    return main(["job", *options, "--typed", "--clock", "simulated"])


def log_lines(path: Path) -> list[dict]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def session(name: str) -> str:
    return (SESSIONS / f"{name}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("card, name", [("learning", "learning"), ("road-wheels", "road-wheels"),
                                        ("common-rail-injector", "injector-clean"),
                                        ("common-rail-injector", "injector-union-leak")])
def test_the_shipped_cards_run_from_first_word_to_closing_seal(card, name, monkeypatch, tmp_path, capsys):
    log = tmp_path / "job.jsonl"
    assert job(monkeypatch, session(name), card, "--log", str(log)) == 0
    assert "closing seal" in capsys.readouterr().out
    events = [line["event"] for line in log_lines(log)]
    assert events[0] == "job_opened" and events[-2:] == ["job_ended", "sealed"]
    assert main(["verify", str(log)]) == 0


def test_whoever_is_looked_after_hears_that_it_ends_with_the_program(monkeypatch, tmp_path, capsys):
    """Where the inputs end before the job, nobody is to believe that somebody still checks."""
    assert job(monkeypatch, "next\n", "learning", "--log", str(tmp_path / "a.jsonl"), "--check-every", "10 min") == 1
    assert capsys.readouterr().out.endswith("companion: Nobody checks on you now.\n")
    assert job(monkeypatch, "next\n", "learning", "--log", str(tmp_path / "b.jsonl")) == 1
    assert "Nobody checks on you now" not in capsys.readouterr().out


def test_a_program_that_fails_for_good_says_so_and_keeps_the_job(monkeypatch, tmp_path, capsys):
    """No traceback, and no silence: the last words are that nobody checks any more."""
    def failing(state, what, now):
        if state is None:
            return decide(state, what, now)
        raise RuntimeError("invented")
    monkeypatch.setattr("companion.edge.loop.decide", failing)
    monkeypatch.setattr(sys, "stdin", io.StringIO("next\n"))
    log = tmp_path / "job.jsonl"
    assert main(["job", "learning", "--typed", "--voice", "none", "--log", str(log), "--check-every", "10 min"]) == 1
    out, told = capsys.readouterr()
    assert "The program has failed. The job is kept." in out and out.endswith("companion: Nobody checks on you now.\n")
    assert "RuntimeError" in told and "Traceback" not in told
    assert main(["verify", str(log)]) == 0


def test_the_voice_is_set_at_any_step(monkeypatch, tmp_path, capsys):
    """A golden session: each word is one step, and the end of the range is told."""
    log = tmp_path / "job.jsonl"
    assert job(monkeypatch, session("learning-voice-set"), "learning", "--log", str(log)) == 0
    assert "This is the slowest." in capsys.readouterr().out
    voices = [line["data"] for line in log_lines(log) if line["event"] == "voice_set"]
    assert [(voice["word"], voice["speed"], voice["loudness"]) for voice in voices] == [
        ("slower", 85, 0), ("slower", 70, 0), ("louder", 70, 6), ("faster", 85, 6), ("quieter", 85, 0)]
    assert main(["verify", str(log)]) == 0


def test_inputs_that_end_early_leave_an_unfinished_job_that_is_offered_again(monkeypatch, tmp_path, capsys):
    lines = session("learning").splitlines()
    assert job(monkeypatch, "\n".join(lines[:4]), "learning") == 1
    assert job(monkeypatch, "affirm\nsame mechanic\n" + "\n".join(lines[4:]), "learning") == 0
    said = capsys.readouterr().out
    assert "An unfinished job was found" in said and "Job resumed" in said and "The job is done" in said
    logs = list((tmp_path / "home" / "jobs").glob("*.jsonl"))
    assert len(logs) == 1


def test_an_emergency_is_read_while_an_unfinished_job_is_offered(monkeypatch, tmp_path, capsys):
    job(monkeypatch, "next", "learning")
    words = read_card("learning").emergency
    before = capsys.readouterr().out.count(words)
    job(monkeypatch, "emergency\naffirm\n", "learning")
    assert capsys.readouterr().out.count(words) == before + 1


def test_a_new_job_is_begun_where_the_offer_is_declined(monkeypatch, tmp_path):
    job(monkeypatch, "next", "learning")
    job(monkeypatch, "negative\nnext", "learning")
    assert len(list((tmp_path / "home" / "jobs").glob("*.jsonl"))) == 2


WRONG_USE = [
    (("no-such-card",), 2, "no-such-card"),
    (("learning", "--log", "not-a-log.txt"), 2, ".jsonl"),
    (("learning", "--sound-in", "nothing.wav"), 2, "--typed"),
]


@pytest.mark.parametrize("options, code, words", WRONG_USE)
def test_wrong_use_says_what_must_hold(options, code, words, monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(tmp_path)
    assert job(monkeypatch, "", *options) == code
    assert words in capsys.readouterr().err


def test_a_log_torn_in_its_first_line_begins_anew(monkeypatch, tmp_path):
    """Killed before anything was acknowledged: nothing is lost, and nothing has to be asked."""
    log = tmp_path / "job.jsonl"
    log.write_bytes(b'{"at":"2026-11-25T11:27:40.461Z","da')
    assert job(monkeypatch, session("learning"), "learning", "--log", str(log)) == 0
    assert main(["verify", str(log)]) == 0


def test_a_log_with_blocks_missing_at_its_end_is_taken_up_again(monkeypatch, tmp_path, capsys):
    """The power was cut while the last decision was written: its first block never came, its second did."""
    log, lines = tmp_path / "job.jsonl", session("learning").splitlines()
    job(monkeypatch, "\n".join(lines[:4]), "learning", "--log", str(log))
    text = log.read_bytes()
    last = text[:-1].rfind(b"\n") + 1
    log.write_bytes(text[:last] + bytes(60) + text[last + 60:])
    again = "affirm\nsame mechanic\n" + "\n".join(lines[3:])
    assert job(monkeypatch, again, "learning", "--log", str(log)) == 0
    assert "The last entry was cut off and was never logged." in capsys.readouterr().out
    assert [line["data"]["torn_bytes"] for line in log_lines(log) if line["event"] == "job_resumed"] == [len(text) - last]
    assert main(["verify", str(log)]) == 0


def test_a_finished_log_is_closed(monkeypatch, tmp_path, capsys):
    log = str(tmp_path / "job.jsonl")
    job(monkeypatch, session("learning"), "learning", "--log", log)
    assert job(monkeypatch, "affirm", "learning", "--log", log) == 2
    assert "finished" in capsys.readouterr().err


def test_words_from_outside_cannot_steer_the_terminal(monkeypatch, tmp_path, capsys):
    job(monkeypatch, "\x1b[2Jnext\x07\n\x1b]0;title\x07\n", "learning", "--log", str(tmp_path / "job.jsonl"))
    assert "\x1b" not in capsys.readouterr().out


# -- real processes ----------------------------------------------------------------------------------------------------

def start(log: Path) -> subprocess.Popen:
    command = [sys.executable, "-m", "companion", "job", "road-wheels", "--typed", "--clock", "simulated", "--log", str(log)]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                            bufsize=1, env=dict(os.environ))


def say_until(process: subprocess.Popen, lines: list[str]) -> list[str]:
    """Say lines one by one, each after the answer to the one before; what was said aloud until the kill."""
    said = []
    for line in lines:
        process.stdin.write(line + "\nhow long\n")  # its answer marks that the line before was dealt with
        while True:
            word = process.stdout.readline()
            said.append(word)
            if not word or "clock is running" in word or "left on" in word:
                break
    return said


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_a_killed_job_loses_nothing_it_acknowledged_and_goes_on_at_the_same_step(tmp_path, monkeypatch, capsys):
    """Real SIGKILLs at random lines; every value read back aloud is in the log, and the job ends sealed after resuming."""
    log, pick = tmp_path / "job.jsonl", random.Random(7)
    lines = [line for line in session("road-wheels").splitlines() if line.strip() and not line.startswith("#")]
    done, read_back, again = 0, 0, []
    for _ in range(4):
        process = start(log)
        upto = min(len(lines) - 2, done + pick.randint(7, 9))
        process.stdin.write("".join(line + "\n" for line in again))
        said = say_until(process, lines[done:upto])
        process.kill()
        process.wait()
        done, read_back = upto, read_back + sum("ewton metres. Inside" in word for word in said)
        state = standing(log)
        assert sum(line["event"] == "value_logged" for line in log_lines(log)) >= read_back
        again = taking_up(state)
        done -= state.asked is not None  # what was asked back is asked again
    assert read_back
    assert job(monkeypatch, "\n".join(again + lines[done:]), "road-wheels", "--log", str(log)) == 0
    assert main(["verify", str(log)]) == 0
    assert sum(line["event"] == "job_resumed" for line in log_lines(log)) == 4


def standing(log: Path):
    """The state that a killed job's log holds."""
    file, entries, _ = LogFile.resume(log, device_key())
    file.close()
    return replayed(entries)


def taking_up(state) -> list[str]:
    """What a mechanic answers on resuming: who, each proof, and the cautions that were already answered once."""
    back = apply(state, JobResumed(boot="b", away_ms=0, same_boot=True), Now(0, state.last_up_ms))
    answered = state.step.cautions[:len(state.step.cautions) - len(state.cautions)]
    return (["affirm", "same mechanic"] + ["affirm"] * (len(back.proofs) - 1)
            + [state.card.cautions[name].answer for name in answered])


def test_two_programs_cannot_hold_one_log(tmp_path, monkeypatch, capsys):
    log = tmp_path / "job.jsonl"
    process = start(log)
    say_until(process, ["next"])
    assert job(monkeypatch, "affirm\n", "road-wheels", "--log", str(log)) == 2
    assert "another" in capsys.readouterr().err
    process.kill()
    process.wait()
