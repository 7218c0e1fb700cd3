"""Logs that earlier versions wrote, frozen as they wrote them: they verify, replay, resume and tell the same for ever."""
from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

from companion.__main__ import main
from companion.core.job.inputs import CameBack
from companion.core.log.codec import decode, vocabulary
from companion.core.log.journal import FORMAT
from companion.edge.clock import SimulatedClock
from companion.edge.device import device_key
from companion.edge.logfile import LogFile
from companion.edge.loop import Companion, replayed
from companion.edge.mouth import PrintedMouth
from companion.edge.simulation import Simulation
from companion.office.record import write_record

FORMATS = Path(__file__).parent / "formats"
sys.path.insert(0, str(FORMATS))
import state  # noqa: E402

VERSIONS = sorted(path.parent.name for path in FORMATS.glob("*/logs.json"))
LOGS = [(path.parent.name, path.name) for path in sorted(FORMATS.glob("*/*.jsonl"))]
FINDINGS = {"injector": ["caution-rushed"], "learning": ["caution-rushed"], "wheels": ["caution-rushed"],
            "resumed": ["caution-rushed"], "unfinished": ["caution-rushed", "job-unfinished"],
            "torn": ["caution-rushed", "log-torn"], "spoken": ["job-unfinished"]}
"""What `review` finds in each: printed cautions take no time, which is what "rushed" says."""
SAMPLES = {"str": ["x"], "int": [1], "bool": [True], "Decimal": ["1.5"], "Optional[Decimal]": ["1.5"], "Optional[int]": [1],
           "tuple[str, ...]": [["x"]], "Union[str, Personal]": ["x", {"sha256": "ab" * 32}],
           "Optional[Personal]": [{"sha256": "ab" * 32}]}
"""What may stand in a log's line for each type of field."""
GOES_ON = ["affirm", "same mechanic", "affirm", "light turned away", "wait 15 s", "bright"]


def frozen(version: str, what: str) -> dict[str, Any]:
    """What that version's own program wrote down."""
    return json.loads((FORMATS / version / f"{what}.json").read_text("utf-8"))


@pytest.fixture
def copies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for copies, on the device that wrote the frozen logs."""
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    shutil.copyfile(FORMATS / "device.key", home / "device.key")
    monkeypatch.setenv("COMPANION_HOME", str(home))
    return tmp_path


def copied(version: str, folder: Path) -> Path:
    """That version's logs and what lies beside them, to be worked on."""
    return Path(shutil.copytree(FORMATS / version, folder / version))


@pytest.mark.parametrize("version, log", LOGS)
def test_a_frozen_log_verifies(version: str, log: str) -> None:
    """Every line holds, and the closing seal is the one that was spoken then; a torn one says so and no more."""
    told = frozen(version, "logs")[log]
    found = state.verified(FORMATS / version / log, *(["--seal", told["closing_seal"]] if told["closing_seal"] else []))
    assert (found["entries"], found["finished"], found["closing_seal"]) == (
        told["entries"], told["finished"], told["closing_seal"])
    assert found["holds"] is not (log == "torn.jsonl") and (log != "torn.jsonl" or "unfinished: 123 bytes" in found["wrong"][0])
    assert not any("erased" in text for text in found["not_checked"])  # each sidecar and memo is there and fits


@pytest.mark.parametrize("version, log", LOGS)
def test_a_frozen_log_replays_to_the_state_that_its_own_program_had(version: str, log: str) -> None:
    """Mode, step, answers, values, clocks: as that version worked them out when it was frozen."""
    assert state.facts(FORMATS / version / log) == frozen(version, "logs")[log]


@pytest.mark.parametrize("version", VERSIONS)
def test_no_word_of_an_old_vocabulary_is_lost(version: str) -> None:
    """Every event with every field that this version could write is read, and with only those that it had to write."""
    known = vocabulary()
    for name, fields in frozen(version, "vocabulary").items():
        needed = {field: SAMPLES[told["type"]][0] for field, told in fields.items() if not told["may_lack"]}
        assert decode(known[name], "step", needed, {})
        for field, told in fields.items():
            for sample in SAMPLES[told["type"]]:
                assert decode(known[name], "step", {**needed, field: sample}, {}), (name, field)


def test_the_format_written_today_is_frozen() -> None:
    """Whoever changes the format's number freezes logs of it, and keeps reading those before."""
    formats = {json.loads((FORMATS / version / log).open(encoding="utf-8").readline())["data"]["format"] for version, log in LOGS}
    assert FORMAT in formats and len(VERSIONS) >= 5


@pytest.mark.parametrize("name", ["unfinished", "torn"])
@pytest.mark.parametrize("version", VERSIONS)
def test_an_old_unfinished_job_goes_on(version: str, name: str, copies: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    """It is resumed at its wait, worked to its end, and then holds as one log."""
    log = copied(version, copies) / f"{name}.jsonl"
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(GOES_ON) + "\n"))
    assert main(["job", "learning", "--typed", "--clock", "simulated", "--voice", "none", "--log", str(log)]) == 0
    found = state.verified(log)
    assert found["holds"] and found["finished"]
    resumed = next(entry["data"] for entry in map(json.loads, log.open(encoding="utf-8")) if entry["event"] == "job_resumed")
    assert resumed["torn_bytes"] == (123 if name == "torn" else 0)


@pytest.mark.parametrize("version", [version for version, log in LOGS if log == "injector.jsonl"])
def test_an_old_long_job_goes_on_from_anywhere(version: str, copies: Path, capsys) -> None:
    """Cut at three places, as power cuts would, it is taken up in the state it had, and asks for its proofs."""
    lines = (FORMATS / version / "injector.jsonl").read_bytes().splitlines(keepends=True)
    for place in range(len(lines) // 4, len(lines) - 1, len(lines) // 4):
        log = copies / f"at-{place}.jsonl"
        log.write_bytes(b"".join(lines[:place]))
        shutil.copyfile(FORMATS / version / "injector.personal", log.with_suffix(".personal"))
        file, entries, _ = LogFile.resume(log, device_key())
        with file:
            job, clock = replayed(entries), SimulatedClock()
            simulation = Simulation(clock)
            simulation.companion = Companion(file, clock, PrintedMouth(simulation.report), job)
            simulation.take(CameBack(boot="another start", same_boot=False))
            assert simulation.companion.job.mode == "proving" and simulation.companion.job.answers == job.answers
        assert state.verified(log)["holds"]


@pytest.mark.parametrize("version", VERSIONS)
def test_the_office_reads_old_logs(version: str, copies: Path, capsys) -> None:
    """`review` finds in each what was found when it was frozen, and a record is drawn of each."""
    folder = copied(version, copies)
    assert main(["review", str(folder), "--json", "--workers", "1"]) == 0
    told = {found["log"]: found["findings"] for found in map(json.loads, capsys.readouterr().out.splitlines())}
    assert told == {log: FINDINGS[log.removesuffix(".jsonl")] for log in frozen(version, "logs")}
    for log in told:
        assert write_record(folder / log).stat().st_size > 5_000
